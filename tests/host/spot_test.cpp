// Spot checks: the limits to one step on either side, and what is no spot run at all.
#include "host-tool/check/spot.hpp"

#include <gmock/gmock.h>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::check {
namespace {

using gauge::Direction;
using testing::HasSubstr;

constexpr std::uint32_t table_ppm = 9'000;
constexpr std::int64_t now = 1'778'000'000;

// Force 1000 N a bar on both channels, 20 to 200 bar.
gauge::HeldTable table() {
  gauge::HeldTable t{};
  t.jack_serial = 1001;
  t.sensor_serial = {11, 12};
  t.origin = gauge::Origin::simulated;
  t.calibrated_s = 1'777'000'000;
  t.due_s = 1'790'000'000;
  t.uncertainty_ppm = table_ppm;
  std::vector<gauge::Point> points;
  for (std::uint32_t bar = 20; bar <= 200; bar += 20) points.push_back({bar * 1000, bar * 1000});
  t.increasing = {points, points};
  return t;
}

gauge::RunRow row(Direction direction, int set_point_n, double a_mbar, double b_mbar) {
  gauge::RunRow r{};
  r.run = 1;
  r.direction = direction;
  r.set_point_n = set_point_n;
  r.pressure_mbar = {a_mbar, b_mbar};
  r.reference_n = direction == Direction::zero ? 0.0 : set_point_n;
  r.line = set_point_n / 1000;
  return r;
}

// Three points at which channel B errs by `error`, and a zero.
gauge::Runs spots(double error, double zero_mbar = 0.0) {
  gauge::Runs r{};
  r.name = "spot.csv";
  r.jack_serial = 1001;
  r.sensor_serial = {11, 12};
  r.origin = gauge::Origin::simulated;
  r.last_taken_s = now;
  r.cell = gauge::ReferenceCell{"RC7", 5, 40'000, 250'000, now + 1, {}};  // due after the last reading
  r.rows.push_back(row(Direction::zero, 0, 0.0, zero_mbar));
  for (const int n : {40'000, 100'000, 180'000}) {
    r.rows.push_back(row(Direction::up, n, n, n * (n == 100'000 ? 1.0 + error : 1.0)));
  }
  return r;
}

std::string problem_of(const gauge::Runs& runs, const gauge::HeldTable& t = table()) {
  try {
    (void)judge(runs, t, now);
  } catch (const Problem& p) {
    EXPECT_EQ(p.exit(), Exit::refused);
    return p.what();
  }
  return "no problem";
}

TEST(Spot, EachLimitHoldsOnBothSidesOfIt) {
  for (const double sign : {1.0, -1.0}) {
    EXPECT_EQ(judge(spots(sign * 0.0089), table(), now).verdict, Verdict::pass);
    EXPECT_EQ(judge(spots(sign * 0.0091), table(), now).verdict, Verdict::drift);
    EXPECT_EQ(judge(spots(sign * 0.0199), table(), now).verdict, Verdict::drift);
    EXPECT_EQ(judge(spots(sign * 0.0201), table(), now).verdict, Verdict::withdraw);
  }
}

// Of 200 bar, and the 1 bar that seals may hold: what a calibration's own zeros may read.
TEST(Spot, ZeroIsHeldToHalfAPercentOfTheLargestPressureAndOneBar) {
  EXPECT_EQ(judge(spots(0.0, 1999.0), table(), now).verdict, Verdict::pass);
  EXPECT_EQ(judge(spots(0.0, 2001.0), table(), now).verdict, Verdict::withdraw);
  EXPECT_EQ(judge(spots(0.0, -2001.0), table(), now).verdict, Verdict::withdraw);
}

// 0.9 % of a fifth of 200 kN is 360 N: at 20 kN that is 1.8 %.
TEST(Spot, BelowAFifthTheUncertaintyIsOneInNewton) {
  const auto low = [](double error) {
    auto r = spots(0.0);
    r.cell->from_n = 10'000;
    r.rows.push_back(row(Direction::up, 20'000, 20'000, 20'000 * (1.0 + error)));
    return judge(r, table(), now).verdict;
  };
  EXPECT_EQ(low(0.0179), Verdict::pass);
  EXPECT_EQ(low(0.0181), Verdict::drift);
  EXPECT_EQ(low(0.0201), Verdict::withdraw);
}

// ISO 376 from memory: a cell that states no figure is taken by the largest of its class.
TEST(Spot, ACellWithoutAFigureIsTakenByItsClass) {
  auto t = table();
  t.uncertainty_ppm = 2'400;
  auto r = spots(0.0);
  r.cell->class_tenths = 10;
  EXPECT_EQ(problem_of(r, t), "no problem");
  r.cell->class_tenths = 20;
  EXPECT_THAT(problem_of(r, t), HasSubstr("known to 0.45 %, the table to 0.24 %"));
  r.cell->expanded_ppm = 2'000;
  EXPECT_EQ(problem_of(r, t), "no problem");
}

// A table worse than the rule of practice is not judged more mildly than the rule.
TEST(Spot, ThePassLimitIsNeverWiderThanTheRuleOfPractice) {
  auto t = table();
  t.uncertainty_ppm = 30'000;
  EXPECT_EQ(judge(spots(0.0201), t, now).verdict, Verdict::withdraw);
  EXPECT_EQ(judge(spots(0.0199), t, now).verdict, Verdict::pass);
}

TEST(Spot, TheErrorIsThatOfTheTableAgainstTheCell) {
  const auto j = judge(spots(0.01), table(), now);
  ASSERT_EQ(j.spots.size(), 3U);
  EXPECT_NEAR(j.spots[1].shown_n[1], 101'000.0, 1e-6);
  EXPECT_NEAR(j.spots[1].error[1], 0.01, 1e-12);
  EXPECT_NEAR(j.spots[1].error[0], 0.0, 1e-12);
  EXPECT_NEAR(j.worst_error, 0.01, 1e-12);
  EXPECT_THAT(to_json(j), HasSubstr("\"verdict\":\"DRIFT\""));
}

TEST(Spot, WhatProvesNothingIsRefused) {
  auto r = spots(0.0);
  r.sensor_serial[1] = 13;
  EXPECT_THAT(problem_of(r), HasSubstr("taken on jack 1001 with sensors 11 and 13"));
  r = spots(0.0);
  r.origin = gauge::Origin::hardware;
  EXPECT_THAT(problem_of(r), HasSubstr("is hardware, the table is simulated"));
  r = spots(0.0);
  r.last_taken_s = 1'776'000'000;
  EXPECT_THAT(problem_of(r), HasSubstr("before the table's calibration"));
  r = spots(0.0);
  r.rows.erase(r.rows.begin());
  EXPECT_THAT(problem_of(r), HasSubstr("no reading without load"));
  r = spots(0.0);
  r.rows.pop_back();
  EXPECT_THAT(problem_of(r), HasSubstr("2 set points from 40.0 to 100.0 kN"));
  r = spots(0.0);
  r.rows.back() = row(Direction::up, 210'000, 210'000, 210'000);
  EXPECT_THAT(problem_of(r), HasSubstr("spot.csv:210: 210000 mbar of channel A lies outside the table"));
  auto t = table();
  t.uncertainty_ppm = 0;
  EXPECT_THAT(problem_of(spots(0.0), t), HasSubstr("states no uncertainty"));
}

TEST(Spot, ARunProvesNoMoreThanItsReferenceCell) {
  auto r = spots(0.0);
  EXPECT_EQ(problem_of(r), "no problem");
  r.cell->due_s = r.last_taken_s - 1;
  EXPECT_THAT(problem_of(r), HasSubstr("reference cell RC7 was due"));
  r = spots(0.0);
  r.cell->from_n = 40'001;
  EXPECT_THAT(problem_of(r), HasSubstr("spot.csv:40: 40.0 kN lies outside the range"));
  r = spots(0.0);
  r.cell->to_n = 179'999;
  EXPECT_THAT(problem_of(r), HasSubstr("spot.csv:180: 180.0 kN lies outside the range"));
  r = spots(0.0);
  r.cell->expanded_ppm = table_ppm;
  EXPECT_EQ(problem_of(r), "no problem");
  r.cell->expanded_ppm = table_ppm + 1;
  EXPECT_THAT(problem_of(r), HasSubstr("known to 0.90 %, the table to"));
  r = spots(0.0);
  r.cell.reset();
  EXPECT_THAT(problem_of(r), HasSubstr("declares no reference cell"));
}

TEST(Spot, AReadingOfTheFutureIsRefused) {
  auto r = spots(0.0);
  r.cell->due_s = now + 1000;
  r.last_taken_s = now + 600;  // clocks differ
  EXPECT_EQ(problem_of(r), "no problem");
  r.last_taken_s = now + 601;
  EXPECT_THAT(problem_of(r), HasSubstr("lies in the future"));
}

}  // namespace
}  // namespace strandproof::host::check
