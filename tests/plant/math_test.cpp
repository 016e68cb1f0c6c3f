// Own exp, log and pow against libm, which the plant itself must not call.
#include "sim/plant/math.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace strandproof::plant {
namespace {

TEST(Math, ExponentialAndLogarithmAgreeWithLibm) {
  for (double x = -30.0; x <= 30.0; x += 0.0371) {
    EXPECT_NEAR(exponential(x) / std::exp(x), 1.0, 2e-14) << x;
    const double y = std::exp(x);
    EXPECT_NEAR(logarithm(y), std::log(y), 1e-15 * (1.0 + std::abs(x))) << x;
  }
}

TEST(Math, SmallExponentialHoldsItsStatedErrors) {
  for (double x = -0.5; x <= 0.5; x += 0.01) {
    EXPECT_NEAR(exp_small(x), std::exp(x), std::abs(x) <= 0.15 ? 4e-16 : 2e-11) << x;
  }
}

TEST(Math, PowerAgreesWithLibm) {
  for (double x = 0.05; x < 3.0; x += 0.07) {
    for (const double y : {-2.5, 0.1358, 1.0 / 1.4, 1.0, 7.36, 20.0}) {
      EXPECT_NEAR(power(x, y) / std::pow(x, y), 1.0, 3e-14) << x << " " << y;
    }
  }
}

}  // namespace
}  // namespace strandproof::plant
