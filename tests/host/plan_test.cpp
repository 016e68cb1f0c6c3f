// Bed plans against worked examples (formulas of practice; the numbers follow from them by hand), the limits
// of EN 1992-1-1 5.10.2.1 and ACI 318 (0.80 Fpu), strand data of ASTM A416 and EN 10138-3, and bad plan
// files.
#include "host-tool/bed/plan.hpp"

#include <gtest/gtest.h>

#include <string>

#include "firmware/control/bites.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/bed/plan_file.hpp"
#include "host-tool/bed/quantity.hpp"

namespace strandproof::host::bed {
namespace {

constexpr double lbf = 4.4482216152605;
constexpr double inch = 0.0254;
constexpr Position first{1, 1, {}, {}};

void expect_within(double got, double expected, double fraction) {
  EXPECT_NEAR(got, expected, expected * fraction);
}

// 1/2 in grade 270 (ASTM A416: 0.153 in2, 41,300 lbf) on 400 ft, all corrections.
Plan half_inch_bed() {
  Plan p{};
  p.bed = 1;
  p.code = Code::aci;
  p.strand = {"1/2 in Gr 270", 0.153 * inch * inch, 28.5e6 * 6894.757293168, 41300 * lbf, 0.0};
  p.length_m = 4800 * inch;
  p.tail_m = 30 * inch;
  p.abutment_movement_m = 0.0625 * inch;
  p.initial_n = 3000 * lbf;
  p.design_n = 0.75 * 41300 * lbf;
  p.warming_k = 35.0 * 5.0 / 9.0;
  p.expansion_per_k = 6.5e-6 * 9.0 / 5.0;
  p.draw_in_m = 0.375 * inch;
  p.dead_end_m = 0.125 * inch;
  p.elongation_window = 0.05;
  p.stroke_m = 1.0;
  return p;
}

TEST(Plan, HalfInchStrandOn400FeetWithAllCorrections) {
  const Pull p = work_out(half_inch_bed(), first, 0.0);
  expect_within(p.thermal_n, 992.0 * lbf, 1e-4);
  expect_within(p.seated_n, 31967.0 * lbf, 1e-4);
  expect_within(p.strand_n_per_m, 908.44 * lbf / inch, 1e-4);
  expect_within(p.net_m, 31.887 * inch, 1e-4);
  expect_within(p.overpull_n, 340.7 * lbf, 2e-4);
  expect_within(p.jack_n, 32307.7 * lbf, 1e-4);
  expect_within(p.tail_stretch_m, 0.2016 * inch, 1e-3);
  expect_within(p.gross_m, 0.82933, 1e-4);  // 32.651 in
  expect_within(p.mark_before_m, 32.449 * inch, 1e-4);
  expect_within(p.mark_after_m, 32.074 * inch, 1e-4);
  expect_within(p.window_m, 1.594 * inch, 1e-3);
  EXPECT_NEAR(p.code_limit_n, 33040 * lbf, 1e-6);
  EXPECT_NO_THROW(check(half_inch_bed(), first, p));
}

// 12.9 mm Y1860S7 (EN 10138-3: 100 mm2, Fm 186 kN, Fp0.1 160 kN) on 120 m.
TEST(Plan, TwelveNineStrandOn120Metres) {
  Plan plan{};
  plan.code = Code::en;
  plan.strand = {"12.9 mm Y1860S7", 100e-6, 195e9, 186e3, 160e3};
  plan.length_m = 120;
  plan.tail_m = 0.8;
  plan.abutment_movement_m = 0.002;
  plan.initial_n = 15e3;
  plan.design_n = 130e3;
  plan.draw_in_m = 0.006;
  plan.dead_end_m = 0.003;
  plan.stroke_m = 0.5;
  const Pull p = work_out(plan, first, 0.0);
  expect_within(p.code_limit_n, 144.0e3, 1e-12);
  expect_within(p.strand_n_per_m, 162.5e3, 1e-12);
  expect_within(p.net_m, 0.70769, 1e-4);
  expect_within(p.jack_n, 130.975e3, 1e-9);
  expect_within(p.tail_stretch_m, 4.758e-3, 1e-4);
  expect_within(p.gross_m, 0.72345, 1e-4);
  EXPECT_EQ(strokes(plan, p), 2U);  // trade.md 2.4: one stroke of 500 mm does not do
  EXPECT_NO_THROW(check(plan, first, p));
  plan.stroke_m = 0.195;  // 0.170 m of the first and 0.150 of each further one
  EXPECT_EQ(strokes(plan, p), 5U);
  plan.stroke_m = 0.160;
  EXPECT_EQ(strokes(plan, p), 0U);
  EXPECT_THROW(check(plan, first, p), Problem);
}

// One stroke is one stroke, for the plan and for the jack whose ram is in.
TEST(Plan, TheJackCountsOneStrokeWhereThePlanDoes) {
  Plan plan = half_inch_bed();
  const Pull p = work_out(plan, first, 0.0);
  control::PullInstruction i;
  i.slack_max = units::Length::from_si(static_cast<float>(plan.slack_max_m));
  i.elongation = units::Length::from_si(static_cast<float>(p.gross_m));
  int in_one = 0;
  for (int mm = -100; mm <= 100; ++mm) {
    if (mm == 0) continue;  // where single precision may round to either side
    plan.stroke_m = plan.slack_max_m + p.gross_m + mm * 1e-3;
    const bool one = strokes(plan, p) == 1;
    EXPECT_EQ(one, control::in_one_stroke(i, units::Length::from_si(static_cast<float>(plan.stroke_m)), {}))
        << mm;
    in_one += one ? 1 : 0;
  }
  EXPECT_EQ(in_one, 100);
}

// 15.2 mm, 140 mm2, E 196.5 GPa, Fpu 260.7 kN (ASTM A416 0.6 in), 0.75 Fpu, 6 mm draw-in: a bed of 10 m
// breaks the limit of 0.80 Fpu, one of 15 m keeps it; the shortest is 12.66 m.
struct Bed {
  double length_m, loss_kn, jack_ratio;
  bool allowed;
};
class ShortBed : public testing::TestWithParam<Bed> {};
TEST_P(ShortBed, OverpullAgainstTheLimit) {
  Plan plan{};
  plan.code = Code::aci;
  plan.strand = {"0.6 in Gr 270", 140e-6, 196.5e9, 260.7e3, 0.0};
  plan.length_m = GetParam().length_m;
  plan.initial_n = 20e3;
  plan.design_n = 0.75 * 260.7e3;
  plan.draw_in_m = 0.006;
  plan.stroke_m = 2.0;
  const Pull p = work_out(plan, first, 0.0);
  EXPECT_NEAR(p.overpull_n / 1e3, GetParam().loss_kn, 5e-4);
  EXPECT_NEAR(p.jack_n / 260.7e3, GetParam().jack_ratio, 5e-5);
  if (GetParam().allowed) {
    EXPECT_NO_THROW(check(plan, first, p));
  } else {
    EXPECT_THROW(check(plan, first, p), Problem);
  }
}
INSTANTIATE_TEST_SUITE_P(Plan, ShortBed,
                         testing::Values(Bed{10, 16.506, 0.8133, false}, Bed{15, 11.004, 0.7922, true},
                                         Bed{30, 5.502, 0.7711, true}, Bed{50, 3.301, 0.7627, true},
                                         Bed{100, 1.651, 0.7563, true},
                                         // 6 AE / (0.05 Fpu) = 12.66 m, one centimetre below and above
                                         Bed{12.65, 13.048, 0.80005, false},
                                         Bed{12.67, 13.028, 0.79997, true}));

TEST(Plan, TheMarginTakesItsPartOfTheCodesLimit) {
  auto plan = half_inch_bed();
  EXPECT_NEAR(work_out(plan, first, 0.02).limit_n, 0.98 * 33040 * lbf, 1e-6);
  EXPECT_NO_THROW(check(plan, first, work_out(plan, first, 0.02)));
  EXPECT_THROW(check(plan, first, work_out(plan, first, 0.0225)), Problem);
  plan.margin = 0.0;  // interface.md: the plan's limit is the code's less control and table uncertainty
  EXPECT_DOUBLE_EQ(work_out(plan, first, 0.02).limit_n, 0.98 * work_out(plan, first, 0.0).code_limit_n);
  plan.margin = 0.05;
  EXPECT_DOUBLE_EQ(work_out(plan, first, 0.02).limit_n, 0.95 * work_out(plan, first, 0.0).code_limit_n);
}

TEST(Plan, AReelOfItsOwnChangesItsStrandOnly) {
  const auto plan = half_inch_bed();
  const Pull reel = work_out(plan, {2, 9, {}, plan.strand.modulus_pa * 1.02}, 0.0);
  EXPECT_NEAR(reel.strand_n_per_m / work_out(plan, first, 0.0).strand_n_per_m, 1.02, 1e-12);
}

std::string example() {
  return read_file(STRANDPROOF_TESTS_DIR "/../host-tool/bed/example-plan.toml");
}

std::string problem_of(const std::string& from, const std::string& to) {
  std::string text = example();
  const auto found = text.find(from);
  EXPECT_NE(found, std::string::npos) << from;
  text.replace(found, from.size(), to);
  try {
    (void)read_plan(text, "plan.toml");
  } catch (const Problem& p) {
    return p.what();
  }
  return "accepted";
}

TEST(PlanFile, TheExampleIsReadAndAllowed) {
  const Plan plan = read_plan(example(), "plan.toml");
  ASSERT_EQ(plan.positions.size(), 3U);
  EXPECT_EQ(plan.positions[2].reel, 119U);
  EXPECT_EQ(plan.abutments_n_per_m, 1e8);
  for (const auto& position : plan.positions) {
    EXPECT_NO_THROW(check(plan, position, work_out(plan, position, 0.01)));
  }
}

TEST(PlanFile, RemarksMayBeInAnyScript) {
  EXPECT_EQ(problem_of("# usable", "# nutzbar, \u00a7 3 \ufefd"), "accepted");
}

TEST(PlanFile, EachMistakeGetsItsPlaceAndItsRemedy) {
  struct Mistake {
    const char *from, *to, *where, *what;
  };
  const Mistake mistakes[] = {
      {"slack_max =", "slak_max =", "plan.toml:", "[elongation] has no 'slack_max'"},
      {"draw_in_max", "draw_in_maxx", "plan.toml:29:", "did you mean 'draw_in_max'"},
      {"\"60 m\"", "60", "plan.toml:6:", "number and unit"},
      {"\"60 m\"", "\"60\"", "plan.toml:6:", "has no unit; use one of mm, m, in, ft"},
      {"\"60 m\"", "\"60 kN\"", "plan.toml:6:", "has the unit 'kN'; use one of mm, m, in, ft"},
      {"\"128 kN\"", "\"12,8 kN\"", "plan.toml:24:", "has a comma in its number; write a point"},
      {"\"128 kN\"", "\"13 ton\"", "plan.toml:24:", "has the unit 'ton'; use one of N, kN, lbf, kip"},
      {"\"128 kN\"", "\"nan kN\"", "plan.toml:24:", "does not start with a number"},
      {"\"128 kN\"", "\"128 MN\"", "plan.toml:24:", "has the unit 'MN'"},
      {"\"EN\"", "\"BS\"", "plan.toml:20:", "is \"EN\""},
      {"serial = 4711", "serial = -1", "plan.toml:10:", "whole number from 1"},
      {"[forces]", "[force]", "plan.toml:22:", "did you mean 'forces'"},
      {"number = 2", "number = 1", "plan.toml:39:", "position 1 twice"},
      {"length = \"60 m\"", "last_day = \"4 May\"\nlength = \"60 m\"", "plan.toml:6:", "needs a day"},
      {"length = \"60 m\"", "last_day = 2026-05-04\nlength = \"60 m\"", "plan.toml:6:", "needs a day"},
      {"reel = 119", "reel = \"119\"", "plan.toml:44:", "whole number"},
      {"name = \"Line 1\"", "name = \"Line 1 with far too long a name\"", "plan.toml:5:", "1 to 23"},
      {"[bed]", "[bed", "plan.toml:3:", "not TOML"},
      {"[bed]", "\u00a7[bed]", "plan.toml:3:1:", "not TOML"},
      {"\"Line 1\"", "\"Bahn f\u00fcr 1\"", "plan.toml:5:", "plain ASCII"},
      {"[strand]", "[&strand]", "plan.toml:14:", "not TOML"},
      {"[[position]]\nnumber = 2", "[[}]]\nnumber = 2", "plan.toml:38:", "not TOML"},
      {"slack_max = \"110 mm\"", "slack_max = [{}\"]", "plan.toml:30:", "not TOML"},
  };
  for (const auto& m : mistakes) {
    const auto message = problem_of(m.from, m.to);
    EXPECT_TRUE(message.starts_with(m.where)) << m.to << ": " << message;
    EXPECT_NE(message.find(m.what), std::string::npos) << m.to << ": " << message;
    EXPECT_EQ(message.find('\n'), std::string::npos) << message;
  }
}

// 2026-05-05T00:00:00Z is 1777939200 (GNU date).
TEST(PlanFile, ALastDayIsItsEnd) {
  std::string text = example();
  EXPECT_FALSE(read_plan(text, "plan.toml").until_s);
  const std::string where = "length = \"60 m\"";
  text.replace(text.find(where), where.size(), "last_day = \"2026-05-04\"\n" + where);
  EXPECT_EQ(read_plan(text, "plan.toml").until_s, 1777939199);
}

// Exact definitions of the units.
TEST(Quantity, FactorsAreTheDefinitions) {
  EXPECT_DOUBLE_EQ(read_quantity("1 lbf", Kind::force).si, 4.4482216152605);
  EXPECT_DOUBLE_EQ(read_quantity("1 psi", Kind::modulus).si, 6894.757293168);
  EXPECT_DOUBLE_EQ(read_quantity("1in", Kind::length).si, 0.0254);
  EXPECT_DOUBLE_EQ(read_quantity("1 ft", Kind::length).si, 0.3048);
  EXPECT_DOUBLE_EQ(read_quantity("9 degF", Kind::temperature_difference).si, 5.0);
  EXPECT_DOUBLE_EQ(read_quantity("5 %", Kind::ratio).si, 0.05);
}

}  // namespace
}  // namespace strandproof::host::bed
