// The fit against data whose answer is published: NIST's Statistical Reference Datasets (StRD, linear
// regression), certified values as printed there, and the calibration of a thermometer in the GUM (JCGM
// 100:2008, H.3).
#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "tests/host/reference_data.hpp"

namespace strandproof::host::gauge {
namespace {

using test::pontius;
using test::reference_data;
using test::wampler;

void expect_relative(double got, double certified, double tolerance) {
  EXPECT_NEAR(got / certified, 1.0, tolerance) << "got " << got << ", certified " << certified;
}

template <std::size_t n>
void expect_all(const std::vector<double>& got, const std::array<double, n>& certified, double tolerance) {
  ASSERT_EQ(got.size(), n);
  for (std::size_t k = 0; k < n; ++k) expect_relative(got[k], certified[k], tolerance);
}

TEST(Reference, PontiusCertifiedValues) {
  const auto data = pontius();
  ASSERT_EQ(data.size(), 40U);
  const Fit fit = fit_polynomial(data, 2);
  expect_all(fit.coefficient,
             std::array{0.673565789473684E-03, 0.732059160401003E-06, -0.316081871345029E-14}, 1e-9);
  expect_all(fit.standard_error,
             std::array{0.107938612033077E-03, 0.157817399981659E-09, 0.486652849992036E-16}, 1e-9);
  expect_relative(fit.residual_sd, 0.205177424076185E-03, 1e-9);
  expect_relative(fit.residual_ss, 0.155761768796992E-05, 1e-9);
  EXPECT_NEAR(fit.r_squared, 0.999999900178537, 1e-14);
  EXPECT_EQ(fit.residual_dof, 37);
}

// Without an intercept R-squared is about zero, as certified.
TEST(Reference, NoInterceptCertifiedValues) {
  std::vector<Observation> one;
  for (int i = 0; i <= 10; ++i) one.push_back({60.0 + i, 130.0 + i, i});
  const Fit first = fit_polynomial(one, 1, true);
  EXPECT_EQ(first.coefficient[0], 0.0);
  EXPECT_EQ(first.standard_error[0], 0.0);
  expect_relative(first.coefficient[1], 2.07438016528926, 1e-9);
  expect_relative(first.standard_error[1], 0.0165289256198347, 1e-9);
  expect_relative(first.residual_sd, 3.56753034006338, 1e-9);
  EXPECT_NEAR(first.r_squared, 0.999365492298663, 1e-14);
  EXPECT_EQ(first.residual_dof, 10);

  const Fit second = fit_polynomial(std::vector<Observation>{{4, 3, 1}, {5, 4, 2}, {6, 4, 3}}, 1, true);
  expect_relative(second.coefficient[1], 0.727272727272727, 1e-9);
  expect_relative(second.standard_error[1], 0.0420827318078432, 1e-9);
  expect_relative(second.residual_sd, 0.369274472937998, 1e-9);
  EXPECT_NEAR(second.r_squared, 0.993348115299335, 1e-14);
}

TEST(Reference, NorrisCertifiedValues) {
  const auto data = reference_data("nist-norris.csv");
  ASSERT_EQ(data.size(), 36U);
  const Fit fit = fit_polynomial(data, 1);
  expect_all(fit.coefficient, std::array{-0.262323073774029, 1.00211681802045}, 1e-9);
  expect_all(fit.standard_error, std::array{0.232818234301152, 0.429796848199937E-03}, 1e-9);
  expect_relative(fit.residual_sd, 0.884796396144373, 1e-9);
  EXPECT_NEAR(fit.r_squared, 0.999993745883712, 1e-14);
}

// Of higher difficulty: a polynomial of degree 10 over x from -8.8 to -3.1.
TEST(Reference, FilipCertifiedValues) {
  const auto data = reference_data("nist-filip.csv");
  ASSERT_EQ(data.size(), 82U);
  const Fit fit = fit_polynomial(data, 10);
  expect_all(fit.coefficient,
             std::array{-1467.48961422980, -2772.17959193342, -2316.37108160893, -1127.97394098372,
                        -354.478233703349, -75.1242017393757, -10.8753180355343, -1.06221498588947,
                        -0.670191154593408E-01, -0.246781078275479E-02, -0.402962525080404E-04},
             1e-9);
  expect_all(fit.standard_error,
             std::array{298.084530995537, 559.779865474950, 466.477572127796, 227.204274477751,
                        71.6478660875927, 15.2897178747400, 2.23691159816033, 0.221624321934227,
                        0.142363763154724E-01, 0.535617408889821E-03, 0.896632837373868E-05},
             1e-9);
  expect_relative(fit.residual_sd, 0.334801051324544E-02, 1e-9);
  EXPECT_NEAR(fit.r_squared, 0.996727416185620, 1e-12);
}

// Exact data: all coefficients 1, and 10^-k; certified residual standard deviation 0.
TEST(Reference, Wampler1And2CertifiedValues) {
  const Fit one = fit_polynomial(wampler({1, 1, 1, 1, 1, 1}), 5);
  expect_all(one.coefficient, std::array{1.0, 1.0, 1.0, 1.0, 1.0, 1.0}, 1e-9);
  EXPECT_LT(one.residual_sd, 1e-9);
  const Fit two = fit_polynomial(wampler({1, 0.1, 0.01, 0.001, 1e-4, 1e-5}), 5);
  expect_all(two.coefficient, std::array{1.0, 0.1, 0.01, 0.001, 1e-4, 1e-5}, 1e-9);
  EXPECT_LT(two.residual_sd, 1e-13);
}

TEST(Reference, Wampler3To5CertifiedValues) {
  for (const double m : {1.0, 100.0, 10000.0}) {
    const Fit fit = fit_polynomial(wampler({1, 1, 1, 1, 1, 1}, m), 5);
    expect_all(fit.coefficient, std::array{1.0, 1.0, 1.0, 1.0, 1.0, 1.0}, 1e-6);
    expect_all(fit.standard_error,
               std::array{2152.32624678170 * m, 2363.55173469681 * m, 779.343524331583 * m,
                          101.475507550350 * m, 5.64566512170752 * m, 0.112324854679312 * m},
               1e-9);
    expect_relative(fit.residual_sd, 2360.14502379268 * m, 1e-9);
  }
}

// JCGM 100:2008, H.3, tables H.6 and H.7: correction over reading of a thermometer, about 20 degC. As
// printed: intercept -0.1712 (0.0029), slope 0.00218 (0.00067), correlation -0.930, s 0.0035; at 30 degC
// -0.1494 (0.0041).
TEST(Reference, GumThermometerCovarianceAndPrediction) {
  constexpr std::array reading{21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                               24.513, 25.002, 25.503, 26.010, 26.511};
  constexpr std::array correction{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                  -0.156, -0.157, -0.159, -0.161, -0.160};
  std::vector<Observation> data;
  for (std::size_t i = 0; i < reading.size(); ++i) {
    data.push_back({reading[i] - 20.0, correction[i], static_cast<int>(i)});
  }
  const Fit fit = fit_polynomial(data, 1);
  EXPECT_NEAR(fit.coefficient[0], -0.1712, 5e-5);
  EXPECT_NEAR(fit.coefficient[1], 0.00218, 5e-6);
  EXPECT_NEAR(fit.standard_error[0], 0.0029, 5e-5);
  EXPECT_NEAR(fit.standard_error[1], 0.00067, 5e-6);
  EXPECT_NEAR(fit.correlation(0, 1), -0.930, 5e-4);
  EXPECT_NEAR(fit.correlation(0, 0), 1.0, 1e-15);
  EXPECT_NEAR(fit.residual_sd, 0.0035, 5e-5);
  EXPECT_NEAR(fit.at(10.0), -0.1494, 5e-5);
  EXPECT_NEAR(fit.standard_error_at(10.0), 0.0041, 5e-5);
}

}  // namespace
}  // namespace strandproof::host::gauge
