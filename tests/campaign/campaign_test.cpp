// A pull is a function of (campaign, number) alone.
#include "sim/campaign/campaign.hpp"

#include <gtest/gtest.h>

#include <set>

#include "sim/bench/names.hpp"
#include "sim/campaign/shrink.hpp"
#include "tests/campaign/support.hpp"

namespace strandproof::sim {
namespace {

Campaign small() {
  return parse_campaign(test::small, "small.toml");
}

TEST(Campaign, DrawsWhatTheFileSays) {
  const Campaign c = small();
  int faulty = 0;
  int breaks = 0;
  int ways = 0;
  std::set<std::uint64_t> seeds;
  for (std::uint32_t i = 0; i < 4000; ++i) {
    const Scenario s = drawn(c, i);
    EXPECT_GE(s.valves.delay, 0.005);
    EXPECT_LE(s.valves.delay, 0.040);
    EXPECT_TRUE(s.strand.length == 20.0 || s.strand.length == 40.0);
    faulty += s.faults.empty() ? 0 : 1;
    breaks += !s.faults.empty() && s.faults[0].row->name == "strand-break" ? 1 : 0;
    ways += s.operator_lines.size() == 2 ? 1 : 0;
    seeds.insert(s.seed);
  }
  // Four standard deviations of a binomial of 4,000.
  EXPECT_NEAR(faulty, 2000, 127);
  EXPECT_NEAR(breaks, 1000, 110);
  EXPECT_NEAR(ways, 1000, 110);
  EXPECT_EQ(seeds.size(), 4000U);
}

TEST(Campaign, AFaultHasItsSizeAndItsState) {
  const Campaign c = parse_campaign(R"([[fault]]
size = "uniform 10 mm to 30 mm"
kind = ["grip-slip", "dead-end-slip"]
at = "one of state main-pull, state settle"
)",
                                    "c.toml");
  std::set<double> states;
  for (std::uint32_t i = 0; i < 100; ++i) {
    const Scenario s = drawn(c, i);
    ASSERT_EQ(s.faults.size(), 1U);
    EXPECT_EQ(s.faults[0].trigger.by, fault::By::state);
    states.insert(s.faults[0].trigger.at);
    EXPECT_GE(s.faults[0].size, 0.010);
    EXPECT_LE(s.faults[0].size, 0.030);
  }
  EXPECT_EQ(states, (std::set<double>{state::main_pull, state::settle}));
}

TEST(Campaign, AFaultHasItsPlaceAlongTheStrand) {
  const Campaign c = parse_campaign(R"([[fault]]
kind = ["strand-break", "wire-break"]
at = "50 kN"
from_live_end = "uniform 0 m to 60 m"
)",
                                    "c.toml");
  double least = 60.0, most = 0.0;
  for (std::uint32_t i = 0; i < 200; ++i) {
    const double place = drawn(c, i).faults.at(0).from_live_end;
    least = std::min(least, place);
    most = std::max(most, place);
  }
  EXPECT_LT(least, 3.0);
  EXPECT_GT(most, 57.0);
  EXPECT_GE(least, 0.0);
  EXPECT_LE(most, 60.0);
}

// A value named by its key: a line more in the file changes no other draw.
TEST(Campaign, ALineMoreChangesNoOtherValue) {
  const Campaign one = small();
  std::string text = test::small;
  text.insert(text.find("[vary]") + 7, "pump.scale = \"uniform 80 % to 120 %\"\n");
  const Campaign more = parse_campaign(text, "more.toml");
  for (std::uint32_t i = 0; i < 50; ++i) {
    const Scenario a = drawn(one, i);
    Scenario b = drawn(more, i);
    EXPECT_NE(b.pump.scale, 1.0);
    b.pump.scale = 1.0;
    EXPECT_EQ(drawn_parts(one, a), drawn_parts(one, b));
    EXPECT_EQ(a.valves.delay, b.valves.delay);
    EXPECT_EQ(a.oil.air, b.oil.air);
    EXPECT_EQ(a.seed, b.seed);
  }
}

TEST(Campaign, ANormalsTailIsHeldAtTheKeysBounds) {
  const Campaign c = parse_campaign("[vary]\noil.air = \"normal 0.1 % sd 5 %\"\n", "c.toml");
  for (std::uint32_t i = 0; i < 200; ++i) {
    EXPECT_GE(drawn(c, i).oil.air, 0.0);
    EXPECT_LE(drawn(c, i).oil.air, 0.2);
  }
}

TEST(Campaign, ASweepGivesEachCellItsPulls) {
  Campaign c = small();
  add_sweep(c, "instruction.jack_force=100 kN to 130 kN in 4");
  add_sweep(c, "valves.lag=1 ms to 3 ms in 2");
  EXPECT_EQ(c.cells(), 8U);
  for (std::uint32_t i = 0; i < 16; ++i) {
    EXPECT_DOUBLE_EQ(drawn(c, i).plan.jack_force, 100e3 + 10e3 * (i % 4));
    EXPECT_DOUBLE_EQ(drawn(c, i).valves.lag, (i / 4) % 2 == 0 ? 0.001 : 0.003);
    EXPECT_EQ(drawn(c, i).valves.delay, drawn(small(), i).valves.delay);
  }
}

TEST(Campaign, WhatIsReadIsInTheDigest) {
  const Campaign c = small();
  Campaign other = small();
  EXPECT_EQ(c.digest, other.digest);
  add_sweep(other, "valves.lag=1 ms to 3 ms in 2");
  EXPECT_NE(c.digest, other.digest);
  other = small();
  set_size(other, 200, 8);
  EXPECT_NE(c.digest, other.digest);
  EXPECT_NE(c.digest, parse_campaign(std::string(test::small) + "\n", "small.toml").digest);
}

struct Bad {
  const char* name;
  const char* text;
  const char* where;
  const char* what;
};
void PrintTo(const Bad& b, std::ostream* out) {
  *out << b.name;
}
class BadCampaign : public testing::TestWithParam<Bad> {};

TEST_P(BadCampaign, IsOneLineWithItsPlaceAndARemedy) {
  const std::string said = test::problem_of([] { (void)parse_campaign(GetParam().text, "c.toml"); });
  EXPECT_TRUE(said.starts_with(std::string("c.toml:") + GetParam().where)) << said;
  test::expect_part(said, GetParam().what);
}

INSTANTIATE_TEST_SUITE_P(
    Campaign, BadCampaign,
    testing::Values(
        Bad{"top_key", "pull = 3\n", "1:1: ", "did you mean \"pulls\"?"},
        Bad{"pulls", "pulls = 0\n", "1:9: ", "a whole number from 1"},
        Bad{"seed", "seed = \"x\"\n", "1:8: ", "a whole number"},
        Bad{"calibrate", "calibrate = \"twice\"\n", "1:13: ", "\"each\""},
        Bad{"vary_key", "[vary]\nvalves.delai = \"uniform 1 ms to 2 ms\"\n",
            "2:8: ", "did you mean \"valves.delay\"?"},
        Bad{"vary_unit", "[vary]\nvalves.delay = \"uniform 1 mm to 2 mm\"\n", "2:16: ", "ms"},
        Bad{"vary_bounds", "[vary]\nvalves.delay = \"uniform 1 ms to 2 s\"\n", "2:16: ", "allowed is"},
        Bad{"vary_text", "[vary]\nstrand.name = \"uniform 1 m to 2 m\"\n",
            "2:8: ", "is no key with a number"},
        Bad{"sweep", "[sweep]\nvalves.delay = \"1 ms to 2 ms\"\n", "2:16: ", "is no sweep"},
        Bad{"fault", "[[fault]]\nkind = \"strand-brake\"\nat = \"3 s\"\n",
            "2:8: ", "did you mean \"strand-break\"?"},
        Bad{"fault_when", "[[fault]]\nkind = \"any\"\n", "1:1: ", "needs kind and at"},
        Bad{"fault_onsets", "[[fault]]\nkind = \"any\"\nat = \"one of 3 s, 5 kN\"\n",
            "3:6: ", "write two faults"},
        Bad{"fault_states", "[[fault]]\nkind = \"any\"\nat = \"uniform state slack to state settle\"\n",
            "3:6: ", "one of state"},
        Bad{"fault_state", "[[fault]]\nkind = \"any\"\nat = \"state setle\"\n",
            "3:6: ", "did you mean \"settle\"?"},
        Bad{"fault_size", "[[fault]]\nkind = \"any\"\nat = \"3 s\"\nsize = \"3 mm\"\n",
            "4:8: ", "has no size"},
        Bad{"fault_place",
            "[[fault]]\nkind = [\"snag\", \"barrier\"]\nat = \"3 s\"\nfrom_live_end = \"3 m\"\n",
            "4:17: ", "barrier is not along the strand"},
        Bad{"share", "[[fault]]\nkind = \"any\"\nat = \"3 s\"\nshare = \"0 %\"\n", "4:9: ", "above 0 %"},
        Bad{"operator", "[[operator]]\nlines = [\"pul\"]\n", "2:9: ", "pul"},
        Bad{"braces", "vary = {}\n", "1:8: ", "a table in braces"}),
    [](const auto& bad) { return std::string(bad.param.name); });

TEST(Campaign, AMissingFileIsNamed) {
  test::expect_part(test::problem_of([] { (void)read_campaign("/nowhere/c.toml"); }),
                    "/nowhere/c.toml: can not be read");
  test::expect_part(test::problem_of([] { (void)parse_campaign("scenario = \"nowhere.toml\"\n", "c.toml"); }),
                    "nowhere.toml");
}

}  // namespace
}  // namespace strandproof::sim
