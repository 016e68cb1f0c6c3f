// Friction on the bed against the closed form of a bar on a rough bed: drawn, it carries mu w L / 2 more at
// its live end than in the mean; turned, the friction turns with it.
#include <gtest/gtest.h>

#include "sim/plant/strand.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

constexpr double mu = 0.5;

Parameters rough() {
  Parameters p = ideal_jack();
  p.strand.L = 100.0;
  p.strand.friction = mu;
  return p;
}
// 7,850 kg/m3 of 100 mm2: 7.698 N/m.
double half_rub(const Parameters& p) {
  return 0.5 * mu * 7.698 * p.strand.L;
}

TEST(BedFriction, ADrawnStrandIsShorterByHalfOfIt) {
  const Parameters p = rough();
  Parameters smooth = p;
  smooth.strand.friction = 0.0;
  Plant a(p), b(smooth);
  ASSERT_TRUE(pull_to(a, 80e3));
  ASSERT_TRUE(pull_to(b, 80e3));
  const double k = p.strand.A * p.strand.E / p.strand.L;
  const auto stretched = [&](const Plant& plant) {  // at just 80 kN
    return plant.truth().elongation - (plant.truth().F_strand_live - 80e3) / k;
  };
  EXPECT_NEAR(stretched(b) - stretched(a), half_rub(p) / k, 0.005 * half_rub(p) / k);
  EXPECT_NEAR(half_rub(p) / k, 0.987e-3, 0.001e-3);
}

// Let go a little, the live end falls by twice as much before the middle follows.
TEST(BedFriction, TurnsWithTheStrand) {
  const Parameters p = rough();
  const StrandLine line(p.strand, p.chucks);
  StrandMemory m = line.fresh();
  const auto go_to = [&](double from, double to) {
    StrandForces f;
    for (int i = 1; i <= 1000; ++i) {
      f = line.forces(from + (to - from) * i / 1000.0, m);
      line.remember(m, f, 0.0, 0.0);
    }
    return f;
  };
  const StrandForces up = go_to(0.0, 0.3);
  EXPECT_NEAR(up.F_strand - up.F_steel, half_rub(p), 1e-3 * half_rub(p));
  const StrandForces down = go_to(0.3, 0.28);
  EXPECT_NEAR(down.F_steel - down.F_strand, half_rub(p), 1e-3 * half_rub(p));
  // Up again to where it turned: the loop closes, and its area is what the bed has eaten.
  const StrandForces again = go_to(0.28, 0.3);
  EXPECT_NEAR(again.F_strand, up.F_strand, 0.02 * half_rub(p));
  EXPECT_NEAR(line.forces(0.3 - 1e-5, m).k_jack / line.forces(0.3 + 1e-5, m).k_jack, 5.0, 1.2)
      << "stiffer on the way back: the tail is stiff against it";
}

// The tangent is the derivative on both ways.
TEST(BedFriction, TangentIsTheDerivative) {
  const Parameters p = rough();
  const StrandLine line(p.strand, p.chucks);
  StrandMemory m = line.fresh();
  for (int i = 1; i <= 1000; ++i) {
    line.remember(m, line.forces(0.3e-3 * i, m), 0.0, 0.0);
  }
  for (const double x : {0.2985, 0.2995, 0.3005, 0.302}) {
    const double step = 1e-6;
    const double k = (line.forces(x + step, m).F_jack - line.forces(x - step, m).F_jack) / (2.0 * step);
    EXPECT_NEAR(line.forces(x, m).k_jack / k, 1.0, 1e-3) << x;
  }
}

}  // namespace
}  // namespace strandproof::plant
