// Gauge tables against an ideal jack in closed form, a worked set of ISO 7500-1 errors, and their refusals.
#include "host-tool/gauge/table.hpp"

#include <gtest/gtest.h>

#include <algorithm>
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
  EXPECT_EQ(t.increasing[0].points.size(), 5U);  // a straight line needs no more
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

// F = 0.45 p + 3e-8 p^2 with p in mbar, three series.
std::string curved_jack() {
  std::string text{rig_header};
  for (int run = 1; run <= 3; ++run) {
    text += rig_row(run, "zero", 0, 0, 0, 0);
    for (int i = 1; i <= 10; ++i) {
      const double p = 32000.0 * i;
      text += rig_row(run, "up", i * 15000, p, p, 0.45 * p + 3e-8 * p * p + (run - 2) * 20.0);
    }
    text += rig_row(run, "zero", 0, 0, 0, 0);
  }
  return text;
}

TEST(Table, ALineWithScatterIsKeptAndACurveIsSeen) {
  EXPECT_EQ(table_of(ideal_jack(3, 40.0)).increasing[0].chosen().degree, 1);
  const Table t = table_of(curved_jack());
  const Column& column = t.increasing[0];
  EXPECT_TRUE(column.candidates[0].lack_of_fit.rejected);
  EXPECT_EQ(column.chosen().degree, 2);
  EXPECT_FALSE(column.forced);
  EXPECT_NEAR(column.chosen().coefficient[2], 3e-8, 1e-15);
  EXPECT_EQ(table_of(curved_jack(), {.degree = 1}).increasing[0].chosen().degree, 1);
  EXPECT_TRUE(table_of(curved_jack(), {.degree = 3}).increasing[0].forced);
}

// A chord of width h leaves a parabola c x^2 by c (h / 2)^2; the points are whole N.
TEST(Table, TheInterpolationErrorIsThatOfChordsOfAParabola) {
  for (const int n : {12, 24}) {
    const Table t = table_of(curved_jack(), {.points = n});
    const auto& column = t.increasing[0];
    ASSERT_EQ(column.points.size(), static_cast<std::size_t>(n));
    double widest = 0.0;
    for (std::size_t i = 1; i < column.points.size(); ++i) {
      widest = std::max(widest, 1.0 * column.points[i].pressure_mbar - column.points[i - 1].pressure_mbar);
    }
    EXPECT_NEAR(column.interpolation_n, 3e-8 * std::pow(widest / 2, 2), 0.5) << n;
  }
}

// The fewest points: one fewer leaves the curve by more than a tenth of the uncertainty.
TEST(Table, PointsAreTheFewestThatKeepATenthOfTheUncertainty) {
  const Table t = table_of(curved_jack());
  const auto& column = t.increasing[0];
  const auto n = static_cast<int>(column.points.size());
  EXPECT_GT(n, 5);
  EXPECT_LT(n, 24);
  EXPECT_LT(column.interpolation_share, 1.0);
  for (std::size_t i = 0; i + 1 < column.points.size(); ++i) {
    const double middle = 0.5 * (column.points[i].pressure_mbar + column.points[i + 1].pressure_mbar);
    const double error = std::abs(*interpolate(column.points, middle) - column.chosen().at(middle));
    EXPECT_LT(error, 0.1 * budget_at(t, 0, middle).expanded_n) << middle;
  }
  EXPECT_GE(table_of(curved_jack(), {.points = n - 1}).increasing[0].interpolation_share, 1.0);
}

TEST(Table, ThroughTheOriginThereIsNoForceAtNoPressure) {
  std::string text{rig_header};
  for (int run = 1; run <= 3; ++run) {
    text += rig_row(run, "zero", 0, 0, 0, 0);
    for (int i = 1; i <= 6; ++i)
      text += rig_row(run, "up", 24000 * i, 5e4 * i, 5e4 * i, 0.48 * 5e4 * i + (run - 2) * 9.0);
    text += rig_row(run, "zero", 0, 0, 0, 0);
  }
  const Table t = table_of(text, {.through_origin = true});
  const Fit& fit = t.increasing[0].chosen();
  EXPECT_EQ(fit.coefficient[0], 0.0);
  EXPECT_NEAR(fit.coefficient[1], 0.48, 1e-12);
  EXPECT_EQ(fit.residual_dof, 17);
}

TEST(Table, AnOutlierIsNamedByItsLineAndStaysInTheFit) {
  auto text = ideal_jack(3, 5.0);
  const auto good = rig_row(2, "up", 90000, up_mbar(90000), up_mbar(90000), 90000);
  text.replace(text.find(good), good.size(), rig_row(2, "up", 90000, up_mbar(90000), up_mbar(90000), 90300));
  const Table t = table_of(text);
  const auto& column = t.increasing[0];
  ASSERT_EQ(column.flagged.size(), 1U);
  EXPECT_EQ(column.flagged[0].line, 20);  // header, series 1 of 12 lines, zero, sixth point
  EXPECT_TRUE(column.flagged[0].outlier);
  EXPECT_EQ(column.chosen().reading.size(), 30U);
  EXPECT_NEAR(column.flagged[0].residual_n, 290.0, 10.0);
}

// The controller refuses an initial force outside either increasing column (firmware/control/arming.cpp).
TEST(Table, TheLowestInitialForceLiesInsideBothColumns) {
  const Table t = table_of(ideal_jack(3, 40.0));
  for (std::size_t c = 0; c < 2; ++c) {
    EXPECT_GT(t.lowest_initial_n, t.increasing[c].points.front().force_n);
    EXPECT_GE(t.lowest_initial_n - t.budget[c].front().expanded_n, t.budget[c].front().force_n);
  }
}

TEST(Table, WithoutRunsDownTheDecreasingColumnIsEmpty) {
  const auto text = ideal_jack(3);
  const auto down = text.find("3,down");
  const Table t = table_of(text.substr(0, down) + rig_row(3, "zero", 0, 0, 0, 0));
  EXPECT_TRUE(t.decreasing[0].points.empty());
  EXPECT_FALSE(t.increasing[0].points.empty());
}

TEST(Table, ABreakWithinASeriesIsNoted) {
  std::string text;
  const std::string whole = ideal_jack(3);
  int line = 0;
  for (std::size_t at = 0; at < whole.size();) {
    const auto end = whole.find('\n', at);
    text += whole.substr(at, end - at) + (++line == 1 ? ",resumed\n" : line == 17 ? ",1\n" : ",0\n");
    at = end + 1;
  }
  const auto notes = table_of(text).notes;
  EXPECT_EQ(std::count(notes.begin(), notes.end(),
                       "the capture was interrupted within series 2 and gone on with at line 17 of the runs, "
                       "after another exercise"),
            1);
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
  EXPECT_NE(refusal_of(ideal_jack(3), {.degree = 4}).find("degree 1, 2 or 3"), std::string::npos);
}

// Readings that level off: a parabola through them turns down at the top.
TEST(Table, ACurveThatTurnsDownIsRefused) {
  std::string text{rig_header};
  for (int run = 1; run <= 3; ++run) {
    text += rig_row(run, "zero", 0, 0, 0, 0);
    for (int i = 1; i <= 8; ++i) {
      const double f = 1e5 * (1.0 - std::pow(0.5, i));
      text += rig_row(run, "up", static_cast<int>(f), 10000.0 * i, 10000.0 * i, f);
    }
    text += rig_row(run, "zero", 0, 0, 0, 0);
  }
  const auto refusal = refusal_of(text, {.degree = 2});
  EXPECT_NE(refusal.find("does not rise at"), std::string::npos) << refusal;
}

}  // namespace
}  // namespace strandproof::host::gauge
