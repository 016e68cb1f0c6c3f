// What calibration runs must keep before a table is made of them: each refusal is one line with file, line,
// what is wrong and the remedy. Temperatures and the fifth of the range are those of ISO 7500-1 (from
// memory); half a percent at no load and five set points are common practice.
#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <ostream>
#include <string>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/reading_rules.hpp"
#include "host-tool/gauge/table.hpp"
#include "tests/host/rig_text.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::gauge {
namespace {

using test::down_mbar;
using test::ideal_jack;
using test::replaced;
using test::rig_row;
using test::up_mbar;
using test::with_cell;

std::string refusal_of(const std::string& text, const TableOptions& options = {}) {
  try {
    (void)make_table(read_runs(text, "runs.csv"), options);
  } catch (const Problem& p) {
    EXPECT_EQ(p.exit(), Exit::refused);
    return p.what();
  }
  return "accepted";
}

struct Case {
  const char* name;
  std::string text;
  const char* where;
  const char* what;
};

void PrintTo(const Case& c, std::ostream* out) {
  *out << c.name;
}
class BadRuns : public testing::TestWithParam<Case> {};

TEST_P(BadRuns, AreRefusedWithLineAndRemedy) {
  const std::string line = refusal_of(GetParam().text);
  EXPECT_TRUE(line.starts_with(GetParam().where)) << line;
  EXPECT_NE(line.find(GetParam().what), std::string::npos) << line;
  EXPECT_NE(line.find("; "), std::string::npos) << "no remedy: " << line;
  EXPECT_EQ(line.find('\n'), std::string::npos) << line;
}

const std::string zero_1 = rig_row(1, "zero", 0, 0, 0, 0);
const std::string zero_2 = rig_row(2, "zero", 0, 0, 0, 0);
const std::string zero_3 = rig_row(3, "zero", 0, 0, 0, 0);

// The last series' decreasing run at the pressures where the increasing curve gives 2 kN and this part of the
// force less.
std::string split_by(double part) {
  std::string text = ideal_jack(3);
  for (int f = 15000; f <= 150000; f += 15000) {
    const double p = up_mbar(f * (1.0 - part) - 2000.0);
    text =
        replaced(text, rig_row(3, "down", f, down_mbar(f), down_mbar(f), f), rig_row(3, "down", f, p, p, f));
  }
  return text;
}

// One reading of the last decreasing run, or of the second series, with its pressures times a factor.
std::string moved_down_reading(double factor) {
  return replaced(ideal_jack(3), rig_row(3, "down", 90000, down_mbar(90000), down_mbar(90000), 90000),
                  rig_row(3, "down", 90000, factor * down_mbar(90000), factor * down_mbar(90000), 90000));
}
std::string moved_up_reading(double factor) {
  return replaced(ideal_jack(3), rig_row(2, "up", 75000, up_mbar(75000), up_mbar(75000), 75000),
                  rig_row(2, "up", 75000, factor * up_mbar(75000), factor * up_mbar(75000), 75000));
}

// The pressures of ideal_jack written in bar, or by another divisor, under a header that says mbar.
std::string in_bar(const std::string& text, double divisor = 1e3) {
  std::string out{test::rig_header};
  for (std::size_t at = text.find('\n') + 1; at < text.size(); at = text.find('\n', at) + 1) {
    int run = 0;
    std::array<char, 8> direction{};
    int set_point = 0;
    double a = 0.0;
    double b = 0.0;
    double reference = 0.0;
    EXPECT_EQ(std::sscanf(text.c_str() + at, "%d,%7[a-z],%d,%lf,%lf,%lf", &run, direction.data(), &set_point,
                          &a, &b, &reference),
              6);
    out += rig_row(run, direction.data(), set_point, a / divisor, b / divisor, reference);
  }
  return out;
}

// The last series of ideal_jack(3) on another day of the same month.
std::string last_series_in(const std::string& day) {
  std::string text = ideal_jack(3);
  for (std::size_t at = text.find("3,zero"); (at = text.find("2026-05-04", at)) != text.npos; ++at) {
    text.replace(at, day.size(), day);
  }
  return text;
}

// Lines of ideal_jack(3): 1 header; series 1 on lines 2 (zero) to 13 (zero), series 2 on 14 to 25, series 3
// on 26 to 47.
INSTANTIATE_TEST_SUITE_P(
    Runs, BadRuns,
    testing::Values(
        Case{"no_zero_before", replaced(ideal_jack(3), zero_1, ""),
             "runs.csv:2: ", "series 1 has no zero before"},
        Case{"no_zero_after", ideal_jack(3).substr(0, ideal_jack(3).size() - zero_3.size()),
             "runs.csv:46: ", "series 3 has no zero after"},
        Case{"tare_within", replaced(ideal_jack(3), "2,up,75000", zero_2 + "2,up,75000"),
             "runs.csv:19: ", "a zero within series 2"},
        Case{"cell_off_at_no_load", replaced(ideal_jack(3), "2,zero,0,0,0,0", "2,zero,0,0,0,751"),
             "runs.csv:14: ", "751 N at no load"},
        Case{"pressure_a_off_at_no_load", replaced(ideal_jack(3), "2,zero,0,0,0,0", "2,zero,0,5000,0,0"),
             "runs.csv:14: ", "channel A reads 5.00 bar at no load"},
        Case{"pressure_b_below_zero", replaced(ideal_jack(3), "2,zero,0,0,0,0", "2,zero,0,0,-5000,0"),
             "runs.csv:14: ", "channel B reads -5.00 bar at no load"},
        Case{"channel_a_in_another_unit",
             replaced(ideal_jack(3), fmt::format("2,up,75000,{}", up_mbar(75000)),
                      fmt::format("2,up,75000,{}", 1.1 * up_mbar(75000))),
             "runs.csv:19: ", "channel A reads 178.61 bar and channel B 162.37 bar of the same oil"},
        Case{"set_point_of_another_reading", replaced(ideal_jack(3), "2,up,75000", "2,up,67000"),
             "runs.csv:19: ", "the reference reads 75.00 kN at a set point of 67.00 kN"},
        Case{"stroke_in_another_unit", replaced(ideal_jack(3), "120000", "-120000"),
             "runs.csv:2: ", "a stroke of -120.0 mm is outside 0 to 2 m"},
        Case{"stroke_too_long", replaced(ideal_jack(3), "120000", "2000001"),
             "runs.csv:2: ", "a stroke of 2000.0 mm is outside 0 to 2 m"},
        Case{"time_goes_back", replaced(ideal_jack(3), "T09:30:00", "T09:31:01"),
             "runs.csv:3: ", "before line 2 of the same series"},
        Case{"mbar_under_bar", replaced(replaced(ideal_jack(3), "a_mbar", "a_bar"), "b_mbar", "b_bar"),
             "runs.csv:12: ", "channel A: 150 kN at 323454 bar make a piston of 0.0464 cm2, no jack"},
        Case{"bar_under_mbar", in_bar(ideal_jack(3)),
             "runs.csv:12: ", "channel A: 150 kN at 0.323454 bar make a piston of 4.64e+04 cm2, no jack"},
        Case{"newton_under_kn",
             replaced(replaced(ideal_jack(3), "reference_n", "reference_kn"), "point_n", "point_kn"),
             "runs.csv:12: ", "150000 kN at 323.454 bar make a piston of"},
        Case{"newton_under_lbf",
             replaced(replaced(ideal_jack(3), "reference_n", "reference_lbf"), "point_n", "point_lbf"),
             "runs.csv:12: ", "make a piston of 206 cm2, no jack"},
        Case{"kpa_under_mbar", in_bar(ideal_jack(3), 10.0), "runs.csv:12: ", "make a piston of 464 cm2"},
        Case{"down_below_up", split_by(-0.06),
             "runs.csv:37: ", "channel A: a decreasing reading lies 7.00 kN below"},
        Case{"series_of_another_year", last_series_in("2027-05-04"),
             "runs.csv:2: ", "more than 7 days before the last reading (2027-05-04T07:30:00Z)"},
        Case{"one_warm_reading",
             replaced(ideal_jack(3), rig_row(2, "up", 75000, up_mbar(75000), up_mbar(75000), 75000),
                      replaced(rig_row(2, "up", 75000, up_mbar(75000), up_mbar(75000), 75000), "21.5",
                               "34.9")),
             "runs.csv:19: ", "34.9 degC is more than 2 K from the mean"},
        Case{"branches_far_apart", split_by(0.121),
             "runs.csv:37: ", "channel A: decreasing and increasing run lie"},
        Case{"decreasing_run_crooked", moved_down_reading(1.02),
             "runs.csv:41: ", "channel A: the reading lies"},
        Case{"increasing_run_crooked", moved_up_reading(1.012),
             "runs.csv:19: ", "channel A: the reading lies"},
        Case{"cold", replaced(ideal_jack(3), "21.5", "9.9"), "runs.csv:2: ", "outside 10 to 35 degC"},
        Case{"warm", replaced(ideal_jack(3), "21.5", "35.1"), "runs.csv:2: ", "outside 10 to 35 degC"},
        Case{"drifting", replaced(ideal_jack(3), "21.5", "24.2"),
             "runs.csv:2: ", "more than 2 K from the mean"},
        Case{"cell_overdue", with_cell(ideal_jack(3), "0.5", 5000, 200000, "2026-05-04T07:29:59Z"),
             "runs.csv:2: ", "was due on 2026-05-04T07:29:59Z"},
        Case{"above_the_cell", with_cell(ideal_jack(3), "0.5", 5000, 149999, "2027-05-04T00:00:00Z"),
             "runs.csv:12: ", "150000 N lies outside the range of reference cell 9001"},
        Case{"below_the_cell", with_cell(ideal_jack(3), "0.5", 15001, 200000, "2027-05-04T00:00:00Z"),
             "runs.csv:3: ", "15000 N lies outside"}),
    [](const auto& bad) { return std::string{bad.param.name}; });

TEST(RunRules, TheLimitsThemselvesAreKept) {
  EXPECT_EQ(refusal_of(replaced(ideal_jack(3), "21.5", "20.0")), "accepted");
  EXPECT_EQ(refusal_of(replaced(ideal_jack(3), "2,zero,0,0,0,0", "2,zero,0,0,0,750")), "accepted");
  EXPECT_EQ(refusal_of(with_cell(ideal_jack(3), "0.5", 15000, 150000, "2026-05-04T07:30:00Z")), "accepted");
}

// Each limit of reading_rules.hpp just kept.
TEST(RunRules, TheLimitsOfAReadingAreKept) {
  EXPECT_EQ(refusal_of(replaced(ideal_jack(3), fmt::format("2,up,75000,{}", up_mbar(75000)),
                                fmt::format("2,up,75000,{}", 1.009 * up_mbar(75000)))),
            "accepted");
  EXPECT_EQ(refusal_of(replaced(ideal_jack(3), "2,up,75000", "2,up,69000")), "accepted");
  // 0.5 % of 323.5 bar and 1 bar: 2.617 bar.
  EXPECT_EQ(refusal_of(replaced(ideal_jack(3), "2,zero,0,0,0,0", "2,zero,0,2610,2610,0")), "accepted");
  EXPECT_NE(refusal_of(replaced(ideal_jack(3), "2,zero,0,0,0,0", "2,zero,0,2620,0,0")), "accepted");
  EXPECT_EQ(refusal_of(replaced(ideal_jack(3), "120000", "2000000")), "accepted");
  EXPECT_EQ(refusal_of(replaced(ideal_jack(3), "T09:30:00", "T09:31:00")), "accepted");
  EXPECT_EQ(refusal_of(moved_down_reading(1.008)), "accepted");
}

// Branches further apart need a word: 12 % of the reading and 2 kN, or what the person allows.
TEST(RunRules, BranchesMayLieAsFarApartAsIsAllowed) {
  EXPECT_EQ(refusal_of(split_by(0.119)), "accepted");
  EXPECT_EQ(refusal_of(split_by(0.13), {.split_percent = 13.1}), "accepted");
  EXPECT_NE(refusal_of(split_by(0.06), {.split_percent = 5.0}).find("more than 5 % of the reading"),
            std::string::npos);
}

TEST(RunRules, ACalibrationTakesSevenDaysAtMost) {
  EXPECT_EQ(refusal_of(last_series_in("2026-05-11")), "accepted");
  EXPECT_NE(refusal_of(last_series_in("2026-05-12")), "accepted");
}

// Noise-free data of a desk may be so; a rig's never are, and the report says it.
TEST(RunRules, CopiesAreNoted) {
  const auto notes = [](const std::string& text) {
    std::string all;
    for (const auto& n : make_table(read_runs(text, "runs.csv"), {}).notes) all += n + "\n";
    return all;
  };
  test::expect_part(notes(ideal_jack(3)), "channels A and B read the same to the digit everywhere");
  test::expect_part(notes(ideal_jack(3)), "series 2 reads to the digit as one before it");
  EXPECT_EQ(notes(ideal_jack(3, 20.0)).find("reads to the digit as one before"), std::string::npos);
  const auto other_b = replaced(ideal_jack(3), fmt::format("{},75000,", up_mbar(75000)),
                                fmt::format("{},75000,", up_mbar(75000) + 1.0));
  EXPECT_EQ(notes(other_b).find("read the same to the digit everywhere"), std::string::npos);
}

TEST(RunRules, AReadingOfTheFutureIsRefused) {
  const Runs runs = read_runs(ideal_jack(3), "runs.csv");
  const std::int64_t day = 86400;
  EXPECT_NO_THROW(check_clock(runs, runs.last_taken_s - day));
  try {
    check_clock(runs, runs.last_taken_s - day - 1);
    FAIL() << "accepted";
  } catch (const Problem& p) {
    EXPECT_NE(std::string{p.what()}.find("runs.csv:2: taken at 2026-05-04T07:30:00Z, in the future"),
              std::string::npos);
  }
}

TEST(RunRules, ADeclaredAmbientTemperatureIsJudgedInPlaceOfTheOils) {
  auto text = with_cell(ideal_jack(3), "1", 5000, 200000, "2027-05-04T00:00:00Z");
  const auto ambient = [](const std::string& value, std::string t) {
    std::string out;
    for (std::size_t at = 0; at < t.size();) {
      const auto end = t.find('\n', at);
      out += t.substr(at, end - at) + (at == 0 ? ",ambient_c" : "," + value) + "\n";
      at = end + 1;
    }
    return out;
  };
  EXPECT_EQ(refusal_of(ambient("21", replaced(text, "21.5", "45.0"))), "accepted");
  EXPECT_NE(refusal_of(ambient("36", text)).find("ambient temperature 36 degC"), std::string::npos);
}

TEST(RunRules, AClassThatIsWantedNeedsACellAtLeastAsGood) {
  EXPECT_NE(refusal_of(ideal_jack(3), {.class_wanted = 10}).find("declares no reference cell"),
            std::string::npos);
  const auto cell_2 = with_cell(ideal_jack(3), "2", 5000, 200000, "2027-05-04T00:00:00Z");
  EXPECT_NE(refusal_of(cell_2, {.class_wanted = 10}).find("is of class 2, worse than the class 1"),
            std::string::npos);
  const auto cell_1 = with_cell(ideal_jack(3), "1", 5000, 200000, "2027-05-04T00:00:00Z");
  EXPECT_NE(refusal_of(cell_1, {.class_wanted = 10}).find("the class is not stated"), std::string::npos);
}

}  // namespace
}  // namespace strandproof::host::gauge
