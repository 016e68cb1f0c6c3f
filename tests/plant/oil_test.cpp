// Aerated oil against the table of trade.md 6.2 (computed there from the textbook's mixture of liquid and
// polytropic gas) and published engineering data.
#include "sim/plant/oil.hpp"

#include <gtest/gtest.h>

namespace strandproof::plant {
namespace {

struct Row {
  double p_absolute_mpa;
  double k_mpa[3][2];  // air 0.1, 1, 5 %; isothermal, isentropic
};
constexpr Row table[] = {
    {0.101325, {{94.9, 129.6}, {10.1, 14.1}, {2.0, 2.8}}},
    {1.0, {{1302.0, 1240.8}, {592.1, 483.2}, {167.5, 126.3}}},
    {2.0, {{1445.0, 1410.2}, {1084.1, 913.7}, {500.9, 346.7}}},
    {5.0, {{1490.9, 1480.4}, {1413.2, 1323.5}, {1136.7, 886.0}}},
    {10.0, {{1497.7, 1494.0}, {1477.3, 1441.5}, {1389.0, 1238.5}}},
    {35.0, {{1499.8, 1499.3}, {1498.1, 1493.0}, {1490.3, 1464.1}}},
};
constexpr double airs[] = {0.001, 0.01, 0.05};
constexpr double exponents[] = {1.0, 1.4};
constexpr double half_digit = 0.0501;  // the table has one decimal

TEST(Oil, BulkModulusOfAeratedOilIsTheTables) {
  for (const Row& row : table) {
    for (unsigned a = 0; a < 3; ++a) {
      for (unsigned n = 0; n < 2; ++n) {
        const Mixture oil({.K = 1.5e9, .air = airs[a], .n = exponents[n]});
        const double p = row.p_absolute_mpa * 1e6 - p_atmosphere;
        EXPECT_NEAR(oil.bulk_modulus(p) / 1e6, row.k_mpa[a][n], half_digit)
            << row.p_absolute_mpa << " MPa, air " << airs[a] << ", n " << exponents[n];
      }
    }
  }
}

// trade.md 6.2: to 30 MPa, 1 % air: 0.997 % for the air and 1.954 % for the liquid.
TEST(Oil, VolumeToCompress) {
  const Mixture both({.K = 1.5e9, .air = 0.01});
  EXPECT_NEAR(1.0 - both.at(30e6 - p_atmosphere).volume, 0.00997 + 0.01954, 1e-5);
}

// Published bulk-modulus data (trade.md S21): K = 3.0e5 psi, 3,000 psi take 1.0 % of the volume.
TEST(Oil, OnePercentAtThreeThousandPsi) {
  constexpr double psi = 6894.757293168;
  const Mixture oil({.K = 3.0e5 * psi, .air = 0.0});
  EXPECT_NEAR(1.0 - oil.at(3000.0 * psi).volume, 0.010, 0.0005);
}

TEST(Oil, PressureIsFoundFromVolumeFromAnyStart) {
  for (const double air : {0.0, 0.001, 0.03}) {
    for (const double n : exponents) {
      const Mixture oil({.K = 1.5e9, .air = air, .n = n});
      for (const double p : {-0.09e6, -0.05e6, 0.0, 0.3e6, 5e6, 45e6}) {
        if (air == 0.0 && p < 0.0) {
          continue;  // pure liquid has a tension but no vapour in these equations
        }
        for (const double start : {0.0, 1e6, 50e6}) {
          EXPECT_NEAR(oil.pressure(oil.at(p).volume, start), p, 1e-3) << p << " from " << start;
        }
      }
    }
  }
}

// The stored energy is the area under p dV: against the sum over ten thousand slices.
TEST(Oil, EnergyIsTheIntegralOfPressureOverVolume) {
  const Mixture oil({.K = 1.5e9, .air = 0.01});
  constexpr int slices = 10'000;
  double sum = 0.0;
  for (int i = 0; i < slices; ++i) {
    const double a = 30e6 * i / slices, b = 30e6 * (i + 1) / slices;
    sum += 0.5 * (a + b) * (oil.at(a).volume - oil.at(b).volume);
  }
  EXPECT_NEAR(oil.energy(30e6) / sum, 1.0, 1e-4);
}

}  // namespace
}  // namespace strandproof::plant
