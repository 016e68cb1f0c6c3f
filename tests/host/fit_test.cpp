// The fit against the certified values of NIST's Statistical Reference Datasets (StRD, linear regression) and
// the worked case of the NIST/SEMATECH e-Handbook of Statistical Methods, 4.6.1.
#include "host-tool/gauge/fit.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <fstream>
#include <limits>
#include <string>
#include <vector>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::gauge {
namespace {

std::vector<Observation> pontius() {
  std::ifstream file{STRANDPROOF_TESTS_DIR "/reference/nist-pontius.csv"};
  std::string line;
  std::getline(file, line);
  std::vector<Observation> out;
  while (std::getline(file, line)) {
    const auto first = line.find(',');
    const auto second = line.find(',', first + 1);
    const double load = std::stod(line.substr(first + 1, second - first - 1));
    out.push_back({load, std::stod(line.substr(second + 1)), static_cast<int>(load)});
  }
  return out;
}

void expect_relative(double got, double certified, double tolerance) {
  EXPECT_NEAR(got / certified, 1.0, tolerance) << "got " << got << ", certified " << certified;
}

TEST(Fit, PontiusQuadraticAgreesWithNistToNineDigits) {
  const auto data = pontius();
  ASSERT_EQ(data.size(), 40U);
  const Fit fit = fit_polynomial(data, 2);
  expect_relative(fit.coefficient[0], 0.673565789473684E-03, 1e-9);
  expect_relative(fit.coefficient[1], 0.732059160401003E-06, 1e-9);
  expect_relative(fit.coefficient[2], -0.316081871345029E-14, 1e-9);
  expect_relative(fit.standard_error[0], 0.107938612033077E-03, 1e-9);
  expect_relative(fit.standard_error[1], 0.157817399981659E-09, 1e-9);
  expect_relative(fit.standard_error[2], 0.486652849992036E-16, 1e-9);
  expect_relative(fit.residual_sd, 0.205177424076185E-03, 1e-9);
  EXPECT_EQ(fit.residual_dof, 37);
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

std::vector<Observation> wampler(const std::array<double, 6>& b) {
  std::vector<Observation> out;
  for (int x = 0; x <= 20; ++x) {
    double y = 0.0;
    for (auto c = b.rbegin(); c != b.rend(); ++c) y = y * x + *c;
    out.push_back({static_cast<double>(x), y, x});
  }
  return out;
}

// NIST StRD Wampler1 and Wampler2: fifth degree, exact data, all coefficients 1 and 10^-k.
TEST(Fit, WamplerCoefficientsComeBack) {
  const Fit one = fit_polynomial(wampler({1, 1, 1, 1, 1, 1}), 5);
  const Fit two = fit_polynomial(wampler({1, 0.1, 0.01, 0.001, 1e-4, 1e-5}), 5);
  for (std::size_t k = 0; k < 6; ++k) {
    EXPECT_NEAR(one.coefficient[k], 1.0, 1e-6) << k;
    expect_relative(two.coefficient[k], std::pow(10.0, -static_cast<double>(k)), 1e-6);
  }
}

// NIST StRD Wampler4: the same curve with a disturbance of 100 times d; residual standard deviation
// certified.
TEST(Fit, Wampler4StandardDeviationsComeBack) {
  constexpr std::array d{759,   -2048, 2048,  -2048, 2523,  -2048, 2048,  -2048, 1838,  -2048, 2048,
                         -2048, 1838,  -2048, 2048,  -2048, 2523,  -2048, 2048,  -2048, 759};
  auto data = wampler({1, 1, 1, 1, 1, 1});
  for (std::size_t i = 0; i < data.size(); ++i) data[i].y += 100.0 * d[i];
  const Fit fit = fit_polynomial(data, 5);
  for (std::size_t k = 0; k < 6; ++k) EXPECT_NEAR(fit.coefficient[k], 1.0, 1e-6) << k;
  expect_relative(fit.residual_sd, 236014.502379268, 1e-9);
  expect_relative(fit.standard_error[0], 215232.624678170, 1e-9);
  expect_relative(fit.standard_error[5], 11.2324854679312, 1e-9);
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

// 95 % points of F as printed in statistical tables: F(1,1) 161.45, F(5,10) 3.33, F(18,20) 2.15.
TEST(Fit, FQuantilesAgreeWithTheTables) {
  EXPECT_NEAR(f_quantile_95(1, 1), 161.45, 0.005);
  EXPECT_NEAR(f_quantile_95(5, 10), 3.33, 0.005);
  EXPECT_NEAR(f_quantile_95(18, 20), 2.15, 0.005);
}

}  // namespace
}  // namespace strandproof::host::gauge
