// Stress-strain curve against the check points of trade.md 4.4 (Devalapura and Tadros, PCI Journal 37(2),
// 1992; constants of Grade 270 from memory there, points computed from them).
#include "sim/plant/steel.hpp"

#include <gtest/gtest.h>

namespace strandproof::plant {
namespace {

// ksi throughout: the curve does not care.
constexpr SteelCurve grade_270{.A = 887.0, .B = 27'613.0, .C = 112.4, .D = 7.36, .f_pu = 270.0};
constexpr struct {
  double eps, ksi;
} points[] = {{0.002, 57.000},  {0.004, 113.958}, {0.005, 142.232},  {0.006, 169.798},
              {0.007, 195.394}, {0.008, 216.978}, {0.0085, 225.667}, {0.009, 232.836},
              {0.010, 243.040}, {0.012, 252.836}, {0.015, 258.267},  {0.020, 263.321}};

TEST(Steel, CheckPointsOfGrade270) {
  for (const auto& point : points) {
    EXPECT_NEAR(grade_270.stress(point.eps), point.ksi, 0.0006) << point.eps;
  }
}

TEST(Steel, CubicsFollowTheCurve) {
  const Steel steel(grade_270, 0.035);
  for (double eps = 0.0; eps < 0.0195; eps += 1.7e-5) {
    EXPECT_NEAR(steel.stress(eps, 0.0).f, grade_270.stress(eps), 2e-6 * 270.0) << eps;
  }
  for (const auto& point : points) {
    EXPECT_NEAR(steel.stress(point.eps, 0.0).f, point.ksi, 0.0015) << point.eps;
  }
}

// Inverse points: 0.70 f_pu at 0.006739, 0.75 at 0.007305, 0.80 at 0.007949, 0.85 at 0.008754, 0.90 at
// 0.009995.
TEST(Steel, StrainsAtShares) {
  const Steel steel(grade_270, 0.035);
  const struct {
    double share, eps;
  } rows[] = {{0.70, 0.006739}, {0.75, 0.007305}, {0.80, 0.007949}, {0.85, 0.008754}, {0.90, 0.009995}};
  for (const auto& row : rows) {
    double low = 0.0, high = 0.02;
    for (int i = 0; i < 60; ++i) {
      const double mid = 0.5 * (low + high);
      (steel.stress(mid, 0.0).f < row.share * 270.0 ? low : high) = mid;
    }
    EXPECT_NEAR(low, row.eps, 6e-7) << row.share;
  }
}

TEST(Steel, FittedCurvePassesItsOnePercentStressAndStartsWithItsModulus) {
  for (const double f_1 : {0.87, 0.90, 0.925}) {
    const SteelCurve c = fit_curve(195e9, 1860e6, f_1 * 1860e6, 0.035);
    EXPECT_NEAR(c.stress(0.01) / (f_1 * 1860e6), 1.0, 1e-9);
    EXPECT_NEAR(c.A + c.B, 195e9, 1.0);
    EXPECT_NEAR(c.stress(1e-4) / 1e-4 / 195e9, 1.0, 1e-9);
    EXPECT_LE(c.stress(0.035), 1860e6);
  }
}

TEST(Steel, UnloadsOnItsFirstModulusAndKeepsASet) {
  const Steel steel(grade_270, 0.035);
  constexpr double most = 0.009;
  const double set = steel.set(most);
  EXPECT_NEAR(set, most - 232.836 / 28'500.0, 1e-7);
  EXPECT_NEAR(steel.stress(0.5 * (most + set), most).f, 0.5 * 232.836, 0.001);
  EXPECT_EQ(steel.stress(0.9 * set, most).f, 0.0);
  EXPECT_NEAR(steel.stress(0.01, most).f, 243.040, 0.001);  // loaded again it goes on along the curve
}

}  // namespace
}  // namespace strandproof::plant
