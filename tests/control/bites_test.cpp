// A pull divided into strokes, against trade.md 2.2 item 13 and 2.4.
#include "firmware/control/bites.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace strandproof::control {
namespace {

units::Length metres(double m) {
  return units::Length::from_si(static_cast<float>(m));
}

Bite bite(double now, double next, double wanted) {
  return plan_bite({.now = metres(now), .next = metres(next)}, metres(wanted), default_settings);
}

// Example 2: 723.45 mm of travel, 500 mm of stroke, 6 mm lost: n = 2; the strokes of about equal length.
TEST(Bites, AreAsManyAsTheTradesFormulaSays) {
  for (double wanted = 0.2; wanted < 1.4; wanted += 0.0137) {
    for (const double stroke : {0.25, 0.4, 0.5}) {
      constexpr double lost = 0.006;
      const double n = std::ceil((wanted - lost) / (stroke - lost));  // trade.md 2.2 item 13
      const Bite b = bite(stroke, stroke - lost, wanted);
      EXPECT_EQ(b.strokes, n <= strokes_max ? static_cast<unsigned>(n) : 0U) << wanted << " by " << stroke;
    }
  }
  EXPECT_EQ(bite(0.5, 0.494, 0.72345).strokes, 2U);
  EXPECT_NEAR(bite(0.5, 0.494, 0.72345).travel.si(), 0.3617, 1e-4);
}

// From stroke to stroke to the end: each fits, and none but the last ends near the whole.
TEST(Bites, NoneEndsNearTheJackForce) {
  for (double wanted = 0.3; wanted < 1.3; wanted += 0.0093) {
    for (double first = 0.1; first < 0.46; first += 0.021) {
      constexpr double next = 0.44;
      double done = 0.0;
      Bite b = bite(first, next, wanted);
      for (unsigned left = b.strokes; left > 1; left = b.strokes) {
        EXPECT_LE(b.travel.si(), (done == 0.0 ? first : next) + 1e-6);
        done += static_cast<double>(b.travel.si());
        EXPECT_LT(done, 0.9 * wanted) << wanted << " from " << first;
        b = bite(next, next, wanted - done);
        EXPECT_EQ(b.strokes, left - 1) << wanted << " from " << first;
      }
      EXPECT_LE(wanted - done, (done == 0.0 ? first : next) + 1e-6);
    }
  }
}

TEST(Bites, ThatCanNotBeDoneAreNone) {
  EXPECT_EQ(bite(0.3, 0.3, 0.3).strokes, 1U);
  EXPECT_EQ(bite(0.3, 0.3, 0.3001).strokes, 2U);
  EXPECT_EQ(bite(0.079, 0.3, 0.35).strokes, 0U) << "the slack takes the first stroke";
  EXPECT_EQ(bite(0.3, 0.079, 0.35).strokes, 0U);
  EXPECT_EQ(bite(0.125, 0.125, 0.625).strokes, 5U);
  EXPECT_EQ(bite(0.125, 0.125, 0.6251).strokes, 0U);
  const double nan = __builtin_nan("");
  EXPECT_EQ(bite(nan, 0.3, 0.5).strokes, 0U);
  EXPECT_EQ(bite(0.3, nan, 0.5).strokes, 0U);
  EXPECT_EQ(bite(0.3, 0.3, nan).strokes, 0U);
}

}  // namespace
}  // namespace strandproof::control
