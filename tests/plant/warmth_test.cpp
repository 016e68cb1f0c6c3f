// Oil and steel that are warm or cold, against trade.md 6.1 and 6.4 (Walther's equation of ASTM D341; closed
// forms worked out there) and E A alpha dT.
#include <gtest/gtest.h>

#include <cmath>

#include "sim/plant/oil.hpp"
#include "sim/plant/orifice.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

// The table of 6.1, in mm2/s, to its last digit.
TEST(Warmth, ViscosityFollowsWaltherOverTheTable) {
  const struct {
    double T, vg_32, vg_46;
  } rows[] = {{-20, 2291.5, 4517.8}, {-10, 805.1, 1474.3}, {0, 336.0, 577.3}, {10, 161.0, 261.9},
              {20, 86.3, 133.8},     {30, 50.6, 75.4},     {40, 32.0, 46.0},  {50, 21.5, 30.0},
              {60, 15.2, 20.6},      {80, 8.5, 11.1},      {100, 5.4, 6.8}};
  for (const auto& row : rows) {
    EXPECT_NEAR(1e6 * viscosity(32.0, row.T), row.vg_32, 0.051 + 2e-4 * row.vg_32) << row.T;
    EXPECT_NEAR(1e6 * viscosity(46.0, row.T), row.vg_46, 0.051 + 2e-4 * row.vg_46) << row.T;
  }
  EXPECT_NEAR(1e6 * viscosity(68.0, 100.0), 8.7, 0.051);  // of which its constants were made
  EXPECT_GT(viscosity(39.0, 0.0), viscosity(32.0, 0.0));
  EXPECT_LT(viscosity(39.0, 0.0), viscosity(46.0, 0.0));
}

// 10 m of 6 mm at 2 L/min: 0.4194 MPa at 40 degC, 12.6 times that at 0 degC.
TEST(Warmth, ColdOilLosesPressureInTheHose) {
  const auto lost = [](double T) {
    return laminar_resistance(viscosity(46.0, T), 870.0, 10.0, 6e-3) * 2e-3 / 60.0;
  };
  EXPECT_NEAR(lost(40.0), 0.4194e6, 0.0004e6);
  EXPECT_NEAR(lost(0.0) / lost(40.0), 12.6, 0.06);

  const auto drop = [](double T) {  // of the whole line, valve and all
    Parameters p;
    p.hose.L = 10.0;
    p.oil.T = T;
    Plant plant(p);
    EXPECT_TRUE(pull_to(plant, 60e3));
    return plant.truth().p_pump - plant.truth().p_cap;
  };
  EXPECT_NEAR((drop(0.0) - drop(40.0)) / (lost(0.0) - lost(40.0)), 1.0, 0.02);
}

// Shut in with a ram on its end stop, oil of 7e-4/K and 1.5 GPa gains 1.05 MPa/K.
TEST(Warmth, ShutInOilGainsAMegapascalAKelvin) {
  Parameters p = ideal_jack();
  p.oil.warming = 1.0 / 60.0;
  p.ram.x_start = p.ram.stroke;
  Plant plant(p);
  for (int i = 0; i < 20'000 && plant.truth().p_cap < 10e6; ++i) {
    plant.step(pull_slow);
  }
  run(plant, blocked, 500);
  const double before = plant.truth().p_cap, T = plant.truth().T_oil;
  run(plant, blocked, 60'000);
  EXPECT_NEAR(plant.truth().T_oil - T, 1.0, 1e-9);
  EXPECT_NEAR((plant.truth().p_cap - before) / 1.05e6, 1.0, 0.01);
}

// With 100 m of strand on it the ram moves instead: 0.0059 MPa and 28 N a kelvin.
TEST(Warmth, OilUnderAStrandMovesTheRamInstead) {
  Parameters p = ideal_jack();
  p.oil.warming = 1.0 / 60.0;
  p.strand.L = 100.0;
  const double k = p.strand.A * p.strand.E / p.strand.L;
  p.ram.V_cap = 1e-3 - p.ram.A_cap * 20e3 / k;  // 1 L at 20 kN
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 20e3));
  run(plant, blocked, 500);
  const Truth before = plant.truth();
  run(plant, blocked, 60'000);
  EXPECT_NEAR(plant.truth().p_cap - before.p_cap, 0.0059e6, 0.00006e6);
  EXPECT_NEAR(plant.truth().F_strand_live - before.F_strand_live, 28.3, 0.4);
}

// Oil that turns cold or airy in the middle of a pull: no pressure jumps, and from then on it is as if it had
// always been so.
TEST(Warmth, OilMayTurnColdOrAiryWhileItIsUsed) {
  Parameters p;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 60e3));
  const Truth before = plant.truth();
  plant.ail({.T_oil = 0.0, .air = 0.03});
  EXPECT_EQ(plant.truth().T_oil, 0.0);
  run(plant, pull_fast, 1);
  EXPECT_NEAR(plant.truth().p_cap, before.p_cap, 0.02e6);
  run(plant, pull_fast, 200);
  EXPECT_GT(plant.truth().p_pump - plant.truth().p_cap, 2.0 * (before.p_pump - before.p_cap));
  run(plant, blocked, 500);

  p.oil.T = 0.0;
  p.oil.air = 0.03;
  Plant always(p);
  ASSERT_TRUE(pull_to(always, plant.truth().F_strand_live));
  run(always, blocked, 500);
  const auto spring = [](Plant& of) {  // how far the ram springs when the strand is gone
    const double x = of.truth().x_ram;
    of.break_strand(0.0);
    run(of, blocked, 1000);
    return of.truth().x_ram - x;
  };
  EXPECT_NEAR(spring(plant) / spring(always), 1.0, 0.02);
}

// A tap at the pump reads the pump, and falls when it stops; the sound one holds.
TEST(Warmth, ATapAtThePumpReadsThePump) {
  Plant plant{Parameters{}};
  ASSERT_TRUE(pull_to(plant, 60e3));
  plant.ail({.a_at_pump = true});
  run(plant, pull_fast, 100);
  EXPECT_NEAR(plant.truth().p_a, plant.truth().p_pump, 0.1e6);
  EXPECT_GT(plant.truth().p_a - plant.truth().p_b, 0.05e6);
  EXPECT_NEAR(plant.truth().p_b, plant.truth().p_cap, 0.1e6);
}

// A strand held at both ends loses E A alpha a kelvin, less what abutments and wedges give.
TEST(Warmth, AStrandThatWarmsLosesForce) {
  Parameters p;
  straight_steel(p.strand);
  p.friction.relaxation = 0.0;
  p.strand.warming = 5.0 / 60.0;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 100e3));
  run(plant, push_wedges, 1500);
  run(plant, let_down, 12'000);
  ASSERT_EQ(plant.truth().F_jack, 0.0);
  const double before = plant.truth().F_strand_live;
  run(plant, blocked, 60'000);
  const double AE = p.strand.A * p.strand.E;
  const double k = 1.0 / (p.strand.L / AE + 1.0 / p.strand.k_abutment + 1.0 / p.chucks.k_wedge);
  EXPECT_NEAR(before - plant.truth().F_strand_live, k * p.strand.L * p.strand.alpha * 5.0, 1.0);
}

}  // namespace
}  // namespace strandproof::plant
