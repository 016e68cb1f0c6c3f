// Gauge tables against an ideal jack in closed form, a worked set of ISO 7500-1 errors, and their refusals.
#include "host-tool/gauge/table.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "host-tool/base/problem.hpp"
#include "tests/host/rig_text.hpp"

namespace strandproof::host::gauge {
namespace {

using test::down_mbar;
using test::ideal_jack;
using test::rig_header;
using test::rig_row;
using test::up_mbar;

Table table_of(const std::string& text, const TableOptions& options = {}) {
  return make_table(read_runs(text, "runs.csv"), options);
}

std::string refusal_of(const std::string& text, const TableOptions& options = {}) {
  try {
    (void)table_of(text, options);
  } catch (const Problem& p) {
    return p.what();
  }
  return "accepted";
}

// Ideal jack in closed form: area 48.00 cm2, friction 3 % and 0.6 kN; in MPa and kN the line is
// (-0.6, 4.656).
TEST(Table, LineOfTheIdealJackComesBackToTwelveDigits) {
  std::vector<Observation> readings;
  for (int p = 5; p <= 35; p += 5) readings.push_back({static_cast<double>(p), 4.656 * p - 0.6, p});
  const Fit fit = fit_polynomial(readings, 1);
  EXPECT_NEAR(fit.coefficient[0], -0.6, 1e-12);
  EXPECT_NEAR(fit.coefficient[1], 4.656, 1e-12);
  EXPECT_NEAR(fit.at(20.0), 92.520, 1e-12);
  EXPECT_NEAR(fit.at(30.0), 139.080, 1e-12);
  EXPECT_NEAR((130.975 - fit.coefficient[0]) / fit.coefficient[1], 28.25924, 5e-6);
}

TEST(Table, PointsOfTheIdealJackLieOnItsLines) {
  const Table t = table_of(ideal_jack(3));
  EXPECT_EQ(t.increasing[0].points.size(), 12U);
  for (const auto& column : t.increasing) {
    for (const auto& p : column.points) EXPECT_NEAR(p.force_n, 0.4656 * p.pressure_mbar - 600.0, 0.5);
    // 200 and 300 bar lie between 92,520 N and 139,080 N; the table is in whole newtons.
    EXPECT_NEAR(*interpolate(column.points, 200000.0), 92520.0, 0.5);
    EXPECT_NEAR(*interpolate(column.points, 300000.0), 139080.0, 0.5);
    EXPECT_LE(column.interpolation_n, 0.5);
  }
  for (const auto& column : t.decreasing) {
    for (const auto& p : column.points) EXPECT_NEAR(p.force_n, 0.4944 * p.pressure_mbar + 600.0, 0.5);
    EXPECT_NEAR(*interpolate(column.points, 200000.0), 99480.0, 0.5);
  }
}

TEST(Table, NothingIsExtrapolated) {
  const auto points = table_of(ideal_jack(3)).increasing[0].points;
  EXPECT_GE(points.front().pressure_mbar, up_mbar(15000));
  EXPECT_LE(points.back().pressure_mbar, up_mbar(150000));
  EXPECT_FALSE(interpolate(points, points.front().pressure_mbar - 0.001));
  EXPECT_FALSE(interpolate(points, points.back().pressure_mbar + 0.001));
  EXPECT_FALSE(interpolate(points, std::nan("")));
  EXPECT_EQ(*interpolate(points, points.back().pressure_mbar), points.back().force_n);
}

TEST(Table, ALineWithScatterIsKeptAndACurveIsSeen) {
  EXPECT_EQ(table_of(ideal_jack(3, 40.0)).increasing[0].degree, 1);
  std::string curved{rig_header};
  for (int run = 1; run <= 3; ++run) {
    for (int i = 1; i <= 10; ++i) {
      const double p = 32000.0 * i;
      curved += rig_row(run, "up", i * 15000, p, p, 0.45 * p + 3e-8 * p * p + (run - 2) * 20.0);
    }
  }
  const Table t = table_of(curved);
  EXPECT_TRUE(t.increasing[0].line.lack_of_fit.rejected);
  EXPECT_EQ(t.increasing[0].degree, 2);
  EXPECT_FALSE(t.increasing[0].forced);
  EXPECT_NEAR(t.increasing[0].chosen().coefficient[2], 3e-8, 1e-15);
  // Between points a straight line leaves the parabola by c (step/2)^2 = 5.1 N for 11 steps over 288 bar.
  EXPECT_NEAR(t.increasing[0].interpolation_n, 3e-8 * std::pow(288000.0 / 11 / 2, 2), 1.0);
  EXPECT_EQ(table_of(curved, {.degree = 1}).increasing[0].degree, 1);
  EXPECT_TRUE(table_of(curved, {.degree = 1}).increasing[0].forced);
}

TEST(Table, WithoutRunsDownTheDecreasingColumnIsEmpty) {
  const auto text = ideal_jack(3);
  const Table t = table_of(text.substr(0, text.find("1,down")));
  EXPECT_TRUE(t.decreasing[0].points.empty());
  EXPECT_FALSE(t.increasing[0].points.empty());
}

// Constructed data (indicated against reference, kN); the errors follow from the definitions of ISO 7500-1
// (q, b; from memory, check the standard).
TEST(Table, ErrorsAndClassOfAWorkedSet) {
  struct Row {
    double indicated, up1, up2, up3, q, b;
  };
  const Row rows[] = {{30, 29.78, 29.85, 29.80, 0.6374, 0.2362},
                      {60, 59.70, 59.82, 59.74, 0.4128, 0.2016},
                      {90, 89.64, 89.80, 89.70, 0.3195, 0.1789},
                      {120, 119.70, 119.84, 119.76, 0.1948, 0.1171},
                      {150, 149.72, 149.90, 149.80, 0.1291, 0.1203}};
  for (const auto& r : rows) {
    const std::array reference{r.up1, r.up2, r.up3};
    const auto e = level_errors({r.indicated, reference});
    EXPECT_NEAR(e.accuracy_percent, r.q, 5e-5);
    EXPECT_NEAR(e.repeatability_percent, r.b, 5e-5);
  }
  EXPECT_EQ(class_tenths({0.6374, 0.2362}), 10);
  EXPECT_EQ(class_tenths({0.5, 0.5}), 5);
  EXPECT_EQ(class_tenths({-1.01, 0.2}), 20);
  EXPECT_EQ(class_tenths({0.2, 3.01}), 0);
}

TEST(Table, ClassNeedsThreeRuns) {
  EXPECT_EQ(table_of(ideal_jack(3)).iso_class.tenths, 5);
  EXPECT_EQ(table_of(ideal_jack(2)).iso_class.tenths, 0);
}

TEST(Table, UncertaintyHoldsReferenceScatterAndWhatElseIsGiven) {
  // An ideal jack leaves the reference cell's 0.1 % alone, but for the rounding of the table.
  EXPECT_NEAR(table_of(ideal_jack(3)).uncertainty_ppm, 1000, 2);
  const auto with_other = table_of(ideal_jack(3), {.reference_ppm = 0, .other_ppm = 4000});
  EXPECT_NEAR(with_other.uncertainty_ppm, 8000, 2);
  EXPECT_GT(table_of(ideal_jack(3, 100.0)).uncertainty_ppm, 5000U);
}

TEST(Table, DueDateFollowsTheLastReading) {
  const Table t = table_of(ideal_jack(3), {.valid_s = 86400});
  EXPECT_EQ(t.calibrated_s, 1777879800);
  EXPECT_EQ(t.due_s, 1777879800 + 86400);
}

TEST(Table, WhatMakesNoTableIsRefused) {
  std::string four{rig_header};
  for (int f = 15000; f <= 60000; f += 15000) four += rig_row(1, "up", f, up_mbar(f), up_mbar(f), f);
  EXPECT_NE(refusal_of(four).find("4 set points going up"), std::string::npos);

  auto zero = ideal_jack(3);
  zero.replace(zero.find("1,zero,0,0,0,0"), 14, "1,zero,0,0,0,751");
  EXPECT_NE(refusal_of(zero).find("reads 751 N at no load"), std::string::npos);

  auto off = ideal_jack(3);
  const auto row = rig_row(2, "up", 90000, up_mbar(90000), up_mbar(90000), 90000);
  off.replace(off.find(row), row.size(), rig_row(2, "up", 90000, up_mbar(90000), up_mbar(90000), 92500));
  EXPECT_NE(refusal_of(off).find("more than 1 %"), std::string::npos);

  EXPECT_NE(refusal_of(ideal_jack(3), {.points = 4}).find("5 to 24"), std::string::npos);
  EXPECT_NE(refusal_of(ideal_jack(3), {.points = 25}).find("5 to 24"), std::string::npos);
  EXPECT_NE(refusal_of(ideal_jack(3), {.degree = 3}).find("degree 1 or 2"), std::string::npos);
}

// Readings that level off: a parabola through them turns down at the top.
TEST(Table, ACurveThatTurnsDownIsRefused) {
  std::string text{rig_header};
  for (int run = 1; run <= 3; ++run) {
    for (int i = 1; i <= 8; ++i) {
      text += rig_row(run, "up", i, 10000.0 * i, 10000.0 * i, 1e5 * (1.0 - std::pow(0.5, i)));
    }
  }
  const auto refusal = refusal_of(text, {.degree = 2});
  EXPECT_NE(refusal.find("does not rise at"), std::string::npos) << refusal;
}

}  // namespace
}  // namespace strandproof::host::gauge
