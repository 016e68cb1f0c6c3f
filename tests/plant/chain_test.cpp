// The pure delay of the plant's news against a strand that has mass: other equations, other solver.
#include "tests/plant/chain.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

constexpr double A = 100e-6, E = 195e9, F = 120e3;
const double c = std::sqrt(E / rho_steel);

// A cell a step: exact. The live end keeps its force until the front is there, and has none from then on.
TEST(Chain, ABreakIsFeltWithTheFrontAndWhollyThen) {
  for (const double L : {60.0, 100.0, 200.0}) {
    const auto cells = static_cast<std::size_t>(L);
    const double h = L / static_cast<double>(cells) / c;
    for (const double at : {10.0, 30.0, 55.0}) {
      Chain strand(cells, L, A * E, A * rho_steel, F, h);
      strand.cut(static_cast<std::size_t>(at));
      double t = 0.0, before = F;
      while (strand.live_end() > 0.5 * F && t < 1.0) {
        before = strand.live_end();
        strand.step();
        t += h;
      }
      EXPECT_NEAR(t, at / c, 1.5 * h) << L << " m, broken at " << at;
      EXPECT_NEAR(before, F, 1e-6 * F);
      EXPECT_NEAR(strand.live_end(), 0.0, 1e-6 * F);
      Parameters p;
      p.strand.L = L;
      EXPECT_NEAR(Plant(p).wave_ticks(at), 1e3 * t, 1.0 + 1.5e3 * h);
    }
  }
}

// Eight masses over 200 m: the front is smeared, so that a hundredth of the force is gone long before any
// news can be there. This is why the plant has a delay and not a few masses.
TEST(Chain, EightMassesTellTooEarly) {
  constexpr double L = 200.0, h = 1e-3;
  Chain strand(9, L, A * E, A * rho_steel, F, h);
  strand.cut(8);
  double t = 0.0;
  while (strand.live_end() > 0.99 * F && t < 1.0) {
    strand.step();
    t += h;
  }
  const double arrival = L / c;
  EXPECT_NEAR(arrival, 40.1e-3, 0.1e-3);
  EXPECT_LT(t, 0.8 * arrival);
  EXPECT_GT(t, 0.4 * arrival);
}

}  // namespace
}  // namespace strandproof::plant
