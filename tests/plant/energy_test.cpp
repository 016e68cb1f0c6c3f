// The energy balance of trade.md 6.4 item 11: what the pump put in is in the strand, in the oil, in the seals
// or went through a throttle; closure below 0.1 %.
#include <gtest/gtest.h>

#include "sim/plant/scheme.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

using M = Model;

struct Books {
  double in = 0.0, throttled = 0.0;
};

// Energy that one unit of N carries through an opening: stored, and pushed by the oil behind it.
double carried(const Model& m, double p) {
  return m.oil.energy(p) + p * m.oil.at(p).volume;
}

double stored(const Model& m, const State& s) {
  return s.y[M::N_pump] * m.oil.energy(s.at.p_pump) + s.y[M::N_cap] * m.oil.energy(s.at.p_cap) +
         s.y[M::N_rod] * m.oil.energy(s.at.p_rod);
}

void run(const Model& m, State& s, Books& books, const Acting& acting, const StepLength& step,
         double seconds) {
  const auto steps = static_cast<int>(seconds / step.h + 0.5);
  for (int i = 0; i < steps; ++i) {
    const State from = s;
    ASSERT_TRUE(advance(m, from, s, acting, step));
    Openings open = m.openings(s.y[M::s_advance], s.y[M::s_lower], s.y[M::s_seat], s.y[M::s_shut_off]);
    open.speed = s.y[M::speed];
    open.stage = s.y[M::stage];
    const Flows f = m.circuit.flows(open, s.at);
    const double pump = carried(m, s.at.p_pump), cap = carried(m, s.at.p_cap), rod = carried(m, s.at.p_rod);
    books.in += step.h * f.pump * pump;
    books.throttled += step.h * (f.relief.Q * pump + f.advance.Q * (pump - cap) + f.feed.Q * (pump - rod) +
                                 f.lower.Q * cap + f.tank.Q * rod);
  }
}

TEST(Energy, BalanceOfAPullAHoldAndALowering) {
  const Parameters p;
  const Model m(p);
  State s = rest(m);
  const StepLength step(p, 1e-4);
  Books books;
  const double stored_before = stored(m, s);
  const auto expect_closed = [&](const char* when) {
    const double out = stored(m, s) - stored_before + s.W_oil + books.throttled;
    EXPECT_NEAR(out / books.in, 1.0, 1e-3) << when;
    const double kinetic = 0.5 * p.ram.m * s.y[M::v] * s.y[M::v];
    EXPECT_NEAR((s.W_load + s.W_friction + kinetic) / s.W_oil, 1.0, 1e-3) << when;
    EXPECT_GT(books.throttled / books.in, 0.01) << "throttling would not be missed " << when;
  };
  run(m, s, books, {.motor = true, .fast_stage = true, .advance = true, .shut_off = true}, step, 60.0);
  ASSERT_GT(s.load.F, 100e3);
  expect_closed("after the pull");
  // The strand's share against P^2 L/(2AE) and its neighbours: longer by the curve, so not less.
  const double P = s.load.F;
  const double straight = 0.5 * P * P *
                          (p.strand.L / (p.strand.A * p.strand.E) +
                           p.strand.L_tail / (p.strand.A * p.strand.E) + 1.0 / p.strand.k_abutment);
  EXPECT_GT(s.W_load / straight, 1.0);
  EXPECT_LT(s.W_load / straight, 1.02);
  run(m, s, books, {}, step, 2.0);
  expect_closed("after the hold");
  run(m, s, books, {.motor = true, .lower = true, .shut_off = true}, step, 30.0);
  ASSERT_LT(s.load.F, 60e3);
  expect_closed("after the lowering");
}

// Straight steel, no abutment, no dead end: the work on the strand is P^2/2k.
TEST(Energy, StrandEnergyIsHalfForceSquaredOverStiffness) {
  Parameters p = ideal_jack();
  p.strand.L = 99.99;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 60e3));
  const double k = p.strand.A * p.strand.E / (p.strand.L + p.strand.L_tail);
  const double P = plant.truth().F_jack;
  EXPECT_NEAR(plant.truth().W_load / (0.5 * P * P / k), 1.0, 1e-3);
  EXPECT_NEAR(plant.truth().W_oil / plant.truth().W_load, 1.0,
              2e-3);  // all but the retract side's back pressure
}

}  // namespace
}  // namespace strandproof::plant
