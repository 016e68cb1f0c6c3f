// The fixed-step scheme against SUNDIALS CVODE (1e-9) on the same equations: a pull, a hold and a lowering.
#include <gtest/gtest.h>

#include "tests/plant/jack.hpp"
#include "tests/plant/oracle.hpp"

namespace strandproof::plant {
namespace {

using M = Model;

void expect_same(const Plant& plant, const Oracle& oracle, const char* when) {
  const Truth& t = plant.truth();
  const Nodes at = oracle.nodes();
  EXPECT_NEAR(t.F_jack, oracle.load().F, 2e-4 * t.F_jack + 2.0) << when;
  EXPECT_NEAR(t.p_cap, at.p_cap, 2e-4 * at.p_cap + 500.0) << when;
  EXPECT_NEAR(t.p_pump, at.p_pump, 1e-3 * at.p_pump + 2e3) << when;
  EXPECT_NEAR(t.x_ram, oracle.y()[M::x], 3e-5) << when;
  EXPECT_NEAR(t.stroke, oracle.y()[M::stroke], 4e-5) << when;
  EXPECT_NEAR(t.p_a, oracle.y()[M::p_a], 2e-4 * at.p_cap + 2e3) << when;
}

class Cvode : public testing::TestWithParam<double> {};

TEST_P(Cvode, PullHoldLower) {
  Parameters p;
  p.valves.delay = 0.0;
  p.strand.L = GetParam();
  p.strand.slack = 0.02;
  Plant plant(p);
  Oracle oracle(p, 1e-9);
  const Acting pull{.motor = true, .fast_stage = true, .advance = true, .shut_off = true};
  const auto fast = static_cast<int>(8000.0 + 450.0 * GetParam());
  run(plant, pull_fast, 6000), oracle.run(pull, 6.0);
  expect_same(plant, oracle, "early in the pull");
  run(plant, pull_fast, fast - 6000), oracle.run(pull, (fast - 6000) * 1e-3);
  expect_same(plant, oracle, "at the end of the fast pull");
  Acting slow = pull;
  slow.fast_stage = false;
  run(plant, pull_slow, 1500), oracle.run(slow, 1.5);
  expect_same(plant, oracle, "at the end of the slow pull");
  run(plant, blocked, 2000), oracle.run({}, 2.0);
  expect_same(plant, oracle, "at the end of the hold");
  const Acting lower{.motor = true, .lower = true, .shut_off = true};
  run(plant, let_down, 500), oracle.run(lower, 0.5);
  expect_same(plant, oracle, "lowering for half a second");
  run(plant, let_down, 1500), oracle.run(lower, 1.5);
  expect_same(plant, oracle, "lowering for two seconds");
}

// A worn pump and warming oil are in the same equations.
TEST_P(Cvode, SlipAndWarmingOil) {
  Parameters p;
  p.valves.delay = 0.0;
  p.strand.L = GetParam();
  p.pump.G_slip = 0.2 * p.pump.Q_fast / 30e6;
  p.oil.warming = 0.5;
  p.oil.T = 5.0;
  Plant plant(p);
  Oracle oracle(p, 1e-9);
  const Acting pull{.motor = true, .fast_stage = true, .advance = true, .shut_off = true};
  run(plant, pull_fast, 20'000), oracle.run(pull, 20.0);
  expect_same(plant, oracle, "at the end of the pull");
  run(plant, blocked, 20'000), oracle.run({}, 20.0);
  expect_same(plant, oracle, "at the end of the hold");
}

// A second stroke: onto the wedges, the ram back, the tail taken up anew, and on past the lift-off.
TEST_P(Cvode, SecondStroke) {
  Parameters p;
  p.valves.delay = 0.0;
  p.strand.L = GetParam();
  Plant plant(p);
  Oracle oracle(p, 1e-9);
  Acting pull{.motor = true, .fast_stage = true, .advance = true, .shut_off = true};
  run(plant, pull_fast, 20'000), oracle.run(pull, 20.0);
  run(plant, blocked, 500), oracle.run({}, 0.5);
  const Acting seat{.motor = true, .seat = true, .shut_off = true};
  run(plant, push_wedges, 1500), oracle.run(seat, 1.5);
  const Acting lower{.motor = true, .lower = true, .shut_off = true};
  run(plant, let_down, 4000), oracle.run(lower, 4.0);
  ASSERT_EQ(plant.truth().F_jack, 0.0);
  run(plant, blocked, 500), oracle.run({}, 0.5);
  pull.fast_stage = false;
  run(plant, pull_slow, 6000), oracle.run(pull, 6.0);
  // A micrometre is 24 N on the tail: where the grip took the strand is compared, not the force.
  EXPECT_GT(oracle.load().F, 0.0) << "on the tail";
  EXPECT_NEAR(plant.truth().x_ram, oracle.y()[M::x], 2e-6) << "on the tail";
  EXPECT_NEAR(plant.truth().F_jack, oracle.load().F, 50.0) << "on the tail";
  run(plant, pull_slow, 9000), oracle.run(pull, 9.0);
  EXPECT_EQ(plant.truth().F_chuck, 0.0);
  expect_same(plant, oracle, "past the lift-off");
}

INSTANTIATE_TEST_SUITE_P(Lengths, Cvode, testing::Values(20.0, 60.0, 100.0));

}  // namespace
}  // namespace strandproof::plant
