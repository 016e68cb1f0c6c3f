// Lack of fit, flags and inverse of the fit, on the worked case of the NIST/SEMATECH e-Handbook of
// Statistical Methods, 4.6.1, and on closed forms. The certified values of whole data sets are in
// reference_test.cpp.
#include "host-tool/gauge/fit.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>
#include <vector>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/iso_class.hpp"
#include "tests/host/reference_data.hpp"

namespace strandproof::host::gauge {
namespace {

using test::pontius;
using test::wampler;

void expect_relative(double got, double certified, double tolerance) {
  EXPECT_NEAR(got / certified, 1.0, tolerance) << "got " << got << ", certified " << certified;
}

// e-Handbook 4.6.1.5: F = 214.7464 with 18 and 20 degrees of freedom against 2.15 at 5 %.
TEST(Fit, PontiusStraightLineIsRejectedByLackOfFit) {
  const Fit fit = fit_polynomial(pontius(), 1);
  EXPECT_NEAR(fit.coefficient[0], 0.614969E-02, 1e-8);
  EXPECT_NEAR(fit.coefficient[1], 0.722103E-06, 1e-12);
  EXPECT_NEAR(fit.residual_sd, 0.0021712694, 1e-8);
  const auto& l = fit.lack_of_fit;
  ASSERT_TRUE(l.available);
  EXPECT_EQ(l.groups_dof, 18);
  EXPECT_EQ(l.pure_dof, 20);
  expect_relative(l.f, 214.7464, 1e-5);
  EXPECT_NEAR(l.f_limit, 2.15, 0.005);
  EXPECT_TRUE(l.rejected);
}

// F and the pure-error standard deviation of the quadratic: recomputed from the same data in exact rationals.
TEST(Fit, PontiusQuadraticIsNotRejected) {
  const auto l = fit_polynomial(pontius(), 2).lack_of_fit;
  ASSERT_TRUE(l.available);
  EXPECT_NEAR(l.f, 0.8107, 5e-5);
  EXPECT_NEAR(l.pure_sd, 2.147266E-04, 5e-10);
  EXPECT_FALSE(l.rejected);
}

// In the manner of ASTM E74 (from memory): LLF = 2.4 s of the quadratic, in deflection and by the slope at
// zero in load; 400 LLF and 2000 LLF are the lower limits of class A and AA.
TEST(Fit, PontiusLowerLimitFactor) {
  const Fit fit = fit_polynomial(pontius(), 2);
  EXPECT_NEAR(lower_limit(fit.residual_sd).factor_n, 4.92426E-04, 5e-10);
  const auto load = lower_limit(fit.residual_sd / fit.coefficient[1]);
  EXPECT_NEAR(load.factor_n, 672.66, 0.005);
  EXPECT_NEAR(load.class_a_n, 269063.0, 1.0);
  EXPECT_NEAR(load.class_aa_n, 1345317.0, 4.0);
}

// Load at a deflection: the roots of the certified quadratic.
TEST(Fit, PontiusInverse) {
  const Fit fit = fit_polynomial(pontius(), 2);
  const auto half = fit.inverse(0.5, 150000, 3000000);
  ASSERT_TRUE(half);
  EXPECT_NEAR(half->x, 684105.50, 0.005);
  EXPECT_NEAR(fit.inverse(1.15, 150000, 3000000)->x, 1580780.57, 0.005);
  EXPECT_NEAR(fit.inverse(2.0, 150000, 3000000)->x, 2764087.62, 0.005);
  EXPECT_NEAR(half->standard_uncertainty, fit.standard_error_at(half->x) / fit.slope(half->x), 1e-9);
  EXPECT_FALSE(fit.inverse(3.0, 150000, 3000000));
  EXPECT_FALSE(fit.inverse(std::nan(""), 150000, 3000000));
}

// Leverages of a straight line over equal steps: 1/n + (x - mean)^2 / sum of squares; their sum is the number
// of coefficients.
TEST(Fit, LeverageOfALineInClosedForm) {
  std::vector<Observation> data;
  for (int i = 0; i <= 10; ++i) data.push_back({1.0 * i, 2.0 * i + (i % 2), i});
  const Fit fit = fit_polynomial(data, 1);
  double sum = 0.0;
  for (std::size_t i = 0; i <= 10; ++i) {
    const double off = static_cast<double>(i) - 5.0;
    EXPECT_NEAR(fit.reading[i].leverage, 1.0 / 11 + off * off / 110.0, 1e-14);
    sum += fit.reading[i].leverage;
  }
  EXPECT_NEAR(sum, 2.0, 1e-13);
}

// The studentised residual is the residual over what is estimated without the reading: fitted again without
// it.
TEST(Fit, AStudentisedResidualIsThatOfTheFitWithoutTheReading) {
  auto data = pontius();
  data[7].y += 0.002;
  const Fit with = fit_polynomial(data, 2);
  auto rest = data;
  rest.erase(rest.begin() + 7);
  const Fit without = fit_polynomial(rest, 2);
  const auto& flagged = with.reading[7];
  const double own = std::sqrt(1.0 - flagged.leverage);
  EXPECT_NEAR(flagged.studentised, flagged.residual / (without.residual_sd * own), 1e-9);
  EXPECT_TRUE(flagged.outlier);
  EXPECT_EQ(with.reading.size(), 40U);
  EXPECT_EQ(with.residual_dof, 37);
  for (std::size_t i = 0; i < 40; ++i) EXPECT_EQ(with.reading[i].outlier, i == 7) << i;
}

TEST(Fit, ADistantInputHasHighLeverage) {
  std::vector<Observation> data;
  for (int i = 0; i < 10; ++i) data.push_back({1.0 * i, 1.0 * i + 0.01 * (i % 3), i});
  data.push_back({100.0, 100.0, 10});
  const Fit fit = fit_polynomial(data, 1);
  for (std::size_t i = 0; i < 11; ++i) EXPECT_EQ(fit.reading[i].high_leverage, i == 10) << i;
}

TEST(Fit, ExactDataFlagNothing) {
  for (const auto& r : fit_polynomial(wampler({1, 1, 1, 1, 1, 1}), 5).reading) {
    EXPECT_FALSE(r.outlier);
    EXPECT_EQ(r.studentised, 0.0);
  }
}

TEST(Fit, WithoutRepeatsNothingIsJudged) {
  const Fit fit = fit_polynomial(wampler({1, 2, 0, 0, 0, 0}), 1);
  EXPECT_FALSE(fit.lack_of_fit.available);
  EXPECT_FALSE(fit.lack_of_fit.rejected);
}

TEST(Fit, TooFewReadingsAreRefused) {
  const std::vector<Observation> two{{1, 1, 1}, {2, 2, 2}};
  EXPECT_THROW(fit_polynomial(two, 1), Problem);
  const std::vector<Observation> one_input{{1, 1, 1}, {1, 2, 1}, {1, 3, 1}};
  EXPECT_THROW(fit_polynomial(one_input, 1), Problem);
  const std::vector<Observation> broken{
      {1, 1, 1}, {2, std::numeric_limits<double>::quiet_NaN(), 2}, {3, 3, 3}};
  EXPECT_THROW(fit_polynomial(broken, 1), Problem);
}

TEST(Fit, InputsThatCarryNoSuchDegreeAreRefused) {
  std::vector<Observation> close;
  for (int i = 0; i < 20; ++i) close.push_back({i < 10 ? 1e-25 * i : 1.0, 1.0 * i, i});
  EXPECT_THROW(fit_polynomial(close, 5), Problem);
  EXPECT_THROW(fit_polynomial(pontius(), 11), Problem);
  EXPECT_THROW(fit_polynomial(pontius(), 0), Problem);
}

TEST(Fit, WhatNoNumberCanHoldIsRefused) {
  const auto scaled = [](double x_unit, double y_unit) {
    std::vector<Observation> data;
    for (int i = 1; i <= 8; ++i) data.push_back({x_unit * i, y_unit * (i * i + i % 2), i});
    return data;
  };
  EXPECT_NO_THROW(fit_polynomial(scaled(1e40, 1e40), 2));
  EXPECT_THROW(fit_polynomial(scaled(1e80, 1.0), 5), Problem);  // a fifth power of it
  EXPECT_THROW(fit_polynomial(scaled(1e150, 1.0), 1), Problem);
  EXPECT_THROW(fit_polynomial(scaled(1.0, 1e-150), 1), Problem);
}

// The same line in other units: coefficients scale with them to the last digits.
TEST(Fit, UnitsDoNotMatter) {
  const auto data = pontius();
  const Fit one = fit_polynomial(data, 2);
  for (const double unit : {1e-30, 1e30}) {
    auto scaled = data;
    for (auto& r : scaled) r.x *= unit;
    const Fit other = fit_polynomial(scaled, 2);
    for (std::size_t k = 0; k < 3; ++k) {
      expect_relative(other.coefficient[k] * std::pow(unit, k), one.coefficient[k], 1e-11);
      expect_relative(other.standard_error[k] * std::pow(unit, k), one.standard_error[k], 1e-11);
    }
    expect_relative(other.residual_sd, one.residual_sd, 1e-12);
  }
}

// y = (x - 1e6 - 14)^3 + 7 (x - 1e6), exact in doubles, over x = 1e6 ... 1e6 + 29: the powers of x in closed
// form, where a fit about zero has lost all digits.
TEST(Fit, InputsFarFromZeroKeepTheirDigits) {
  std::vector<Observation> data;
  for (int i = 0; i < 30; ++i) {
    const double t = i - 14.0;
    data.push_back({1e6 + i, t * t * t + 7.0 * i, i});
  }
  const Fit fit = fit_polynomial(data, 3);
  const long double c = 1000014.0L;
  expect_relative(fit.coefficient[0], static_cast<double>(-c * c * c - 7e6L), 1e-12);
  expect_relative(fit.coefficient[1], static_cast<double>(3.0L * c * c + 7.0L), 1e-12);
  expect_relative(fit.coefficient[2], static_cast<double>(-3.0L * c), 1e-12);
  expect_relative(fit.coefficient[3], 1.0, 1e-12);
  EXPECT_LT(fit.residual_sd, 1e-12);
  for (const auto& r : data) EXPECT_NEAR(fit.at(r.x), r.y, 1e-11);
  EXPECT_NEAR(fit.slope(1e6 + 20), 3.0 * 36.0 + 7.0, 1e-11);
}

// Moved inputs are the same curve: what is seen of it stays.
TEST(Fit, AShiftOfTheInputsChangesNothingThatIsSeen) {
  constexpr double by = 1e9;
  auto moved = pontius();
  for (auto& r : moved) r.x += by;
  const Fit one = fit_polynomial(pontius(), 2);
  const Fit other = fit_polynomial(moved, 2);
  expect_relative(other.residual_sd, one.residual_sd, 1e-9);
  EXPECT_NEAR(other.standard_error_at(1.5e6 + by), one.standard_error_at(1.5e6), 1e-15);
  EXPECT_NEAR(other.at(1.5e6 + by), one.at(1.5e6), 1e-12);
  EXPECT_NEAR(other.slope(1.5e6 + by), one.slope(1.5e6), 1e-18);
}

// Only the constant moves with y: Pontius' readings with a zero of 1e15, whose units a double still holds. In
// 64 bits without an offset the residuals keep seven digits.
TEST(Fit, AFarZeroOfYCostsNoDigits) {
  std::vector<Observation> scaled = pontius();
  for (auto& r : scaled) r.y = std::round(r.y * 1e6);  // whole numbers: the sum with 1e15 is exact
  std::vector<Observation> moved = scaled;
  for (auto& r : moved) r.y += 1e15;
  const Fit one = fit_polynomial(scaled, 2);
  const Fit other = fit_polynomial(moved, 2);
  expect_relative(other.residual_sd, one.residual_sd, 1e-12);
  expect_relative(other.coefficient[1], one.coefficient[1], 1e-12);
  expect_relative(other.coefficient[2], one.coefficient[2], 1e-12);
  expect_relative(other.standard_error[0], one.standard_error[0], 1e-12);
  EXPECT_NEAR(other.coefficient[0] - 1e15, one.coefficient[0], 0.13);  // one digit of 1e15
}

// Value, slope and standard error are those of the powers of x, with which the file states the curve.
TEST(Fit, TheCurveIsThatOfItsPowers) {
  for (const bool through_origin : {false, true}) {
    const Fit fit = fit_polynomial(pontius(), 2, through_origin);
    const double x = 1.234e6;
    const std::array v{1.0, x, x * x};
    double value = 0.0;
    double variance = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
      value += v[i] * fit.coefficient[i];
      for (std::size_t j = 0; j < 3; ++j) variance += v[i] * v[j] * fit.covariance_of(i, j);
    }
    expect_relative(fit.at(x), value, 1e-13);
    expect_relative(fit.slope(x), fit.coefficient[1] + 2.0 * x * fit.coefficient[2], 1e-12);
    expect_relative(fit.standard_error_at(x), std::sqrt(variance), 1e-9);
  }
}

TEST(Fit, AColumnWithoutSpreadHasNoRSquared) {
  std::vector<Observation> level;
  for (int i = 0; i < 6; ++i) level.push_back({1.0 * i, 0.1, i});
  const Fit fit = fit_polynomial(level, 1);
  EXPECT_TRUE(std::isnan(fit.r_squared));
  EXPECT_NEAR(fit.coefficient[0], 0.1, 1e-16);
  EXPECT_NEAR(fit.coefficient[1], 0.0, 1e-17);
}

// Repeats that are equal to the last digit: no pure error, so that any bend is a lack of fit, and none is
// not.
TEST(Fit, RepeatsWithoutScatter) {
  std::vector<Observation> bent;
  std::vector<Observation> straight;
  for (int i = 0; i < 12; ++i) {
    const double x = i / 2;
    bent.push_back({x, 0.1 * x * x, i / 2});
    straight.push_back({x, 0.1 * x, i / 2});
  }
  const auto rejected = fit_polynomial(bent, 1).lack_of_fit;
  EXPECT_TRUE(rejected.available && rejected.rejected && std::isinf(rejected.f));
  EXPECT_FALSE(fit_polynomial(bent, 2).lack_of_fit.rejected);
  EXPECT_FALSE(fit_polynomial(straight, 1).lack_of_fit.available);
}

// As printed in statistical tables: t of 2 degrees at 97.5 % 4.303, of 10 2.228; normal 1.960; and 2
// for 97.725 %.
TEST(Fit, TQuantilesAgreeWithTheTables) {
  EXPECT_NEAR(t_quantile(0.975, 2), 4.303, 5e-4);
  EXPECT_NEAR(t_quantile(0.975, 10), 2.228, 5e-4);
  EXPECT_NEAR(t_quantile(0.975, std::numeric_limits<double>::infinity()), 1.960, 5e-4);
  EXPECT_NEAR(t_quantile(0.97725, std::numeric_limits<double>::infinity()), 2.0, 5e-5);
}

// 95 % points of F as printed in statistical tables: F(1,1) 161.45, F(5,10) 3.33, F(18,20) 2.15.
TEST(Fit, FQuantilesAgreeWithTheTables) {
  EXPECT_NEAR(f_quantile_95(1, 1), 161.45, 0.005);
  EXPECT_NEAR(f_quantile_95(5, 10), 3.33, 0.005);
  EXPECT_NEAR(f_quantile_95(18, 20), 2.15, 0.005);
}

}  // namespace
}  // namespace strandproof::host::gauge
