#include "sim/bench/scenario.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>

#include "sim/bench/keys.hpp"
#include "sim/bench/names.hpp"
#include "tests/folder_test.hpp"

namespace strandproof::sim {
namespace {

std::string error_of(std::string_view text) {
  try {
    parse_scenario(text, "yard.toml");
  } catch (const ScenarioError& error) {
    return error.what();
  }
  return {};
}

TEST(Scenario, AnEmptyFileIsTheEmbeddedOne) {
  const Scenario read = parse_scenario("", "yard.toml");
  EXPECT_EQ(read.seed, 1U);
  EXPECT_DOUBLE_EQ(read.strand.length, 60.0);
  EXPECT_EQ(read.operator_lines, std::vector<std::string>{"pull"});
}

TEST(Scenario, ReadsValuesInTheirUnits) {
  const Scenario read = parse_scenario(R"(
seed = 42
operator = ["pull", "wait 2 s"]
[strand]
length = "400 ft"
[jack]
pressure_limit = "400 bar"
[bed]
position = 7
[[fault]]
from_live_end = "40 m"
kind = "strand-break"
at = "78 kN"
[[fault]]
kind = "emergency-stop"
at = "12 s"
lasts = "3 s"
[[fault]]
kind = "grip-slip"
at = "state settle"
)",
                                       "yard.toml");
  EXPECT_EQ(read.seed, 42U);
  EXPECT_NEAR(read.strand.length, 121.92, 1e-9);
  EXPECT_DOUBLE_EQ(read.jack.pressure_limit, 40e6);
  EXPECT_DOUBLE_EQ(read.bed.position, 7.0);
  ASSERT_EQ(read.faults.size(), 3U);
  EXPECT_EQ(read.faults[0].row->name, "strand-break");
  EXPECT_EQ(read.faults[0].trigger.by, fault::By::force);
  EXPECT_DOUBLE_EQ(read.faults[0].trigger.at, 78e3);
  EXPECT_DOUBLE_EQ(read.faults[0].distance(60.0), 40.0);
  EXPECT_DOUBLE_EQ(read.faults[0].distance(30.0), 30.0) << "no farther than its dead end";
  EXPECT_EQ(read.faults[1].trigger.by, fault::By::time);
  EXPECT_DOUBLE_EQ(read.faults[1].lasts, 3.0);
  EXPECT_EQ(read.faults[2].trigger.by, fault::By::state);
  EXPECT_DOUBLE_EQ(read.faults[2].trigger.at, state::settle);
}

TEST(Scenario, UnknownKeyHasItsPlaceAndTheNearest) {
  const std::string error = error_of("[strand]\nlenght = \"60 m\"\n");
  EXPECT_NE(error.find("yard.toml:2:1: unknown key \"strand.lenght\""), std::string::npos) << error;
  EXPECT_NE(error.find("did you mean \"strand.length\""), std::string::npos) << error;
  EXPECT_NE(error_of("[strnd]\nlength = \"60 m\"\n").find("yard.toml:1:2"), std::string::npos);
}

TEST(Scenario, BareNumberAndWrongUnitAreErrors) {
  EXPECT_NE(error_of("[strand]\nlength = 60\n")
                .find("yard.toml:2:10: strand.length is a length and needs its unit"),
            std::string::npos);
  EXPECT_NE(error_of("[strand]\nlength = \"60 bar\"\n").find("yard.toml:2:10: \"60 bar\" is a pressure"),
            std::string::npos);
  EXPECT_NE(error_of("[strand]\nlength = \"60,5 m\"\n").find("decimal comma"), std::string::npos);
  EXPECT_NE(error_of("[bed]\nposition = \"7 m\"\n").find("bare number"), std::string::npos);
  EXPECT_NE(error_of("[bed]\nposition = 7.5\n").find("whole number"), std::string::npos);
}

TEST(Scenario, OutOfItsBoundsAndNotFinite) {
  EXPECT_NE(error_of("[jack]\nfriction = \"30 %\"\n").find("allowed is 0 to 0.2"), std::string::npos);
  EXPECT_NE(error_of("[bed]\nposition = nan\n").find("allowed is"), std::string::npos);
  EXPECT_NE(error_of("seed = -1\n").find("whole number from 0"), std::string::npos);
}

TEST(Scenario, FaultsOperatorBomAndBrokenToml) {
  EXPECT_NE(
      error_of("[[fault]]\nkind = \"strand-brake\"\nat = \"1 s\"\n").find("did you mean \"strand-break\""),
      std::string::npos);
  EXPECT_NE(error_of("[[fault]]\nkind = \"barrier\"\n").find("needs kind and at"), std::string::npos);
  EXPECT_NE(error_of("[[fault]]\nkind = \"barrier\"\nat = \"7 L\"\n").find("write a time"),
            std::string::npos);
  EXPECT_NE(
      error_of("[[fault]]\nkind = \"barrier\"\nat = \"state setle\"\n").find("did you mean \"settle\"?"),
      std::string::npos);
  EXPECT_NE(error_of("[[fault]]\nkind = \"barrier\"\nat = \"1 s\"\nfrom_live_end = \"3 m\"\n")
                .find("4:17: barrier is not along the strand"),
            std::string::npos);
  const auto sized = [](const char* kind, const char* rest) {
    return error_of(std::string("[[fault]]\nkind = \"") + kind + "\"\nat = \"1 s\"\n" + rest + "\n");
  };
  EXPECT_NE(sized("ticks-slow", "size = \"300 %\"").find("4:8: \"300 %\" leaves no tick"), std::string::npos);
  EXPECT_NE(sized("snag", "size = \"130 %\"").find("more than the whole strand"), std::string::npos);
  EXPECT_NE(sized("wire-break", "size = \"1.5\"").find("write 1 to 6 wires"), std::string::npos);
  EXPECT_NE(sized("link-flood", "size = \"1e12\"").find("write at most 10000"), std::string::npos);
  EXPECT_NE(sized("barrier", "lasts = \"-3 s\"").find("4:9: \"-3 s\" is over before it begins"),
            std::string::npos);
  EXPECT_NE(error_of("[[fault]]\nkind = \"snag\"\nat = \"1 s\"\nfrom_live_end = \"-3 m\"\n")
                .find("lies behind the live end"),
            std::string::npos);
  EXPECT_NE(error_of("operator = [\"pul\"]\n").find("did you mean \"pull\""), std::string::npos);
  EXPECT_NE(error_of("operator = [\"press confrim\"]\n").find("did you mean \"confirm\""), std::string::npos);
  EXPECT_NE(error_of("\xEF\xBB\xBFseed = 1\n").find("yard.toml:1:1: begins with a byte-order mark"),
            std::string::npos);
  // Found by fuzzing: the TOML parser stopped the program on these.
  EXPECT_NE(error_of("seed = 1\n[&a]\n").find("yard.toml:2:2: a table's name begins with"),
            std::string::npos);
  EXPECT_NE(error_of("[[&fault]]\n").find("yard.toml:1:3: a table's name"), std::string::npos);
  EXPECT_NE(error_of(std::string_view("a = 1\n[\0]\n", 10)).find("yard.toml:2:2: a"), std::string::npos);
  EXPECT_NE(error_of("\xEF\xBB\xBD").find("yard.toml:1:1: a letter outside ASCII"), std::string::npos);
  EXPECT_NE(error_of("name = \"\"\"x\"\"\"\n").find("several lines"), std::string::npos);
  EXPECT_NE(error_of("name = \"B\xC3\xBChne\"\n").find("yard.toml:1:10: a letter outside ASCII"),
            std::string::npos);
  EXPECT_EQ(parse_scenario("name = \"Buehne\" # B\xC3\xBChne\r\n", "yard.toml").name, "Buehne");
  EXPECT_NE(error_of("seed = \n").find("yard.toml:1:"), std::string::npos);
  EXPECT_NE(error_of("seed = 1\nseed = 2\n").find("yard.toml:2:"), std::string::npos);
}

class JackFile : public strandproof::test::FolderTest {
 protected:
  std::string path(const char* name, const std::string& text) {
    const std::string file = folder_ + "/" + name;
    std::ofstream(file, std::ios::binary) << text;
    return file;
  }
  std::string error(const std::string& jack) {
    (void)path("jack.toml", jack);
    try {
      (void)read_scenario(path("yard.toml", "jack_file = \"jack.toml\"\n"));
    } catch (const ScenarioError& e) {
      return e.what();
    }
    return {};
  }
};

TEST_F(JackFile, GivesItsValuesWithTheirMarksAndTheScenarioCountsOverIt) {
  (void)path(
      "jack.toml",
      "[measured]\nvalves.delay = \"27 ms\"\noil.air = \"1.4 %\"\n[assumed]\njack.area = \"50 cm2\"\n");
  const Scenario s = read_scenario(path("yard.toml", "oil.air = \"2 %\"\njack_file = \"jack.toml\"\n"));
  EXPECT_DOUBLE_EQ(s.valves.delay, 0.027);
  EXPECT_DOUBLE_EQ(s.jack.area, 50e-4);
  EXPECT_DOUBLE_EQ(s.oil.air, 0.02);
  EXPECT_EQ(s.measured, std::vector<std::string>{"valves.delay"}) << "what the scenario says is not measured";
  EXPECT_EQ(s.jack_file, folder_ + "/jack.toml");
  EXPECT_FALSE(s.jack_simulated);
  Scenario set = s;
  set_value(set, "valves.delay=30 ms");
  EXPECT_TRUE(set.measured.empty());
}

TEST_F(JackFile, WhatIsNoValueOfAJackIsNamed) {
  EXPECT_NE(error("[measured]\nvalves.delai = \"3 ms\"\n")
                .find("jack.toml:2:8: \"valves.delai\" is no value of a jack; "
                      "did you mean \"valves.delay\"?"),
            std::string::npos)
      << error("[measured]\nvalves.delai = \"3 ms\"\n");
  EXPECT_NE(error("[measured]\nstrand.length = \"3 m\"\n").find("is no value of a jack"), std::string::npos);
  EXPECT_NE(
      error("[measured]\noil.air = \"1 %\"\n[assumed]\noil.air = \"1 %\"\n").find("keep one of the two"),
      std::string::npos);
  EXPECT_NE(error("[guessed]\noil.air = \"1 %\"\n").find("[measured] and [assumed]"), std::string::npos);
  EXPECT_NE(error("[measured]\noil.air = \"90 %\"\n").find("allowed is"), std::string::npos);
  EXPECT_NE(error("origin = \"dreamt\"\n").find("origin is"), std::string::npos);
  EXPECT_EQ(error("origin = \"simulated\"\n"), "");
}

TEST(Keys, AValueThatIsWrittenReadsBack) {
  Scenario s;
  for (const Key& key : scenario_keys()) {
    if (key.kind == KeyKind::quantity) {
      const double value = key.value(s);
      EXPECT_NEAR(parse_quantity(value_text(key, value), key.dimension), value, 1e-5 * std::abs(value))
          << key.name;
    }
  }
}

TEST(Scenario, SetOnTheCommandLine) {
  Scenario scenario;
  set_value(scenario, "strand.length=100 m");
  set_value(scenario, "bed.position=3");
  EXPECT_DOUBLE_EQ(scenario.strand.length, 100.0);
  EXPECT_DOUBLE_EQ(scenario.bed.position, 3.0);
  EXPECT_THROW(set_value(scenario, "strand.length=100"), ScenarioError);
  EXPECT_THROW(set_value(scenario, "strand.lengt=100 m"), ScenarioError);
  EXPECT_THROW(set_value(scenario, "strand.length"), ScenarioError);
}

TEST(Scenario, EveryKeyTakesItsOwnDefaultAndRefusesItsNeighboursOutside) {
  for (const Key& key : scenario_keys()) {
    if (key.kind == KeyKind::text) {
      continue;
    }
    Scenario scenario;
    const double as_it_is = key.value(scenario);
    EXPECT_NO_THROW(put_number(scenario, key, as_it_is)) << key.name;
    const double above = key.high * (1.0 + 1e-9) + 1e-12;
    EXPECT_THROW(put_number(scenario, key, above), UnitError) << key.name;
    EXPECT_EQ(key.value(scenario), as_it_is) << key.name << " changed by a refused value";
  }
}

}  // namespace
}  // namespace strandproof::sim
