// Openings, pipe, pump, relief and valves against the numbers of trade.md 6.1 and 6.3.
#include "sim/plant/circuit.hpp"

#include <gtest/gtest.h>

#include "sim/plant/delays.hpp"
#include "sim/plant/valves.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

constexpr double litre_per_minute = 1e-3 / 60.0;
constexpr double pi = 3.14159265358979323846;

// Q = C_d a sqrt(2 dp/rho), C_d 0.611, 870 kg/m3.
TEST(Circuit, SharpEdgedOrifice) {
  const struct {
    double d, dp, l_min;
  } rows[] = {{0.5e-3, 10e6, 1.0914}, {1e-3, 1e6, 1.3805}, {1e-3, 10e6, 4.3655}, {2e-3, 10e6, 17.462}};
  for (const auto& row : rows) {
    const double C = orifice_coefficient(0.611, 0.25 * pi * row.d * row.d, 870.0);
    EXPECT_NEAR(orifice(C, row.dp).Q / litre_per_minute / row.l_min, 1.0, 1e-3) << row.d;
    EXPECT_NEAR(orifice(C, -row.dp).Q, -orifice(C, row.dp).Q, 1e-18);
  }
}

// VG 46 at 40 degC, 10 m of 6 mm, 2 L/min: 0.4194 MPa at Re 153.8.
TEST(Circuit, LaminarPipe) {
  constexpr double nu = 46e-6, rho = 870.0, L = 10.0, D = 6e-3, Q = 2.0 * litre_per_minute;
  EXPECT_NEAR(laminar_resistance(nu, rho, L, D) * Q / 0.4194e6, 1.0, 1e-3);
  EXPECT_NEAR(Q / (0.25 * pi * D * D) * D / nu, 153.8, 0.2);
}

TEST(Circuit, PipeAndOrificeShareTheDrop) {
  constexpr double R = 2e10, C = 6e-8;
  for (const double dp : {-3e6, -10.0, 0.0, 1e3, 5e6}) {
    const double Q = pipe_and_orifice(R, C, dp).Q;
    EXPECT_NEAR(R * Q + (Q < 0 ? -1 : 1) * Q * Q / (C * C), dp, 1e-6 * (1.0 + (dp < 0 ? -dp : dp)));
  }
}

TEST(Circuit, SlopesAreTheDerivativesOfTheFlows) {
  const auto check = [](auto flow, double dp) {
    const double step = 1.0;
    const double slope = (flow(dp + step).Q - flow(dp - step).Q) / (2.0 * step);
    EXPECT_NEAR(flow(dp).G / slope, 1.0, 1e-5) << dp;
  };
  for (const double dp : {-2e6, -1e4, 3e3, 5e4, 2e7}) {
    check([](double d) { return orifice(5e-8, d); }, dp);
    check([](double d) { return pipe_and_orifice(2e10, 5e-8, d); }, dp);
    check([](double d) { return compensated(orifice(5e-8, d), 4e-5); }, dp);
  }
}

TEST(Circuit, CompensatorKeepsTheLoweringSpeed) {
  Parameters p;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 130e3));
  run(plant, blocked, 500);
  run(plant, let_down, 400);
  // 2.4 L/min over 48 cm2, less for the square root of the compensator's rule.
  EXPECT_GT(-plant.truth().v_ram, 0.6 * p.valves.Q_lower / p.ram.A_cap);
  EXPECT_LT(-plant.truth().v_ram, p.valves.Q_lower / p.ram.A_cap);
}

TEST(Circuit, PumpFlowsSetTheRamsSpeed) {
  for (const double scale : {0.8, 1.0, 1.2}) {
    Parameters p = ideal_jack();
    p.strand.slack = 0.3;
    p.pump.scale = scale;
    Plant plant(p);
    // The pump's flow is stated at the line's pressure: in the cylinder, behind the hose, it is wider by
    // exp(dp/K).
    const auto expected = [&](double Q) {
      const double dp = plant.truth().p_pump - plant.truth().p_cap;
      return scale * Q / p.ram.A_cap * (1.0 + dp / p.oil.K);
    };
    run(plant, pull_fast, 1500);
    EXPECT_NEAR(plant.truth().v_ram / expected(p.pump.Q_fast), 1.0, 1e-5);
    run(plant, pull_slow, 1500);
    EXPECT_NEAR(plant.truth().v_ram / expected(p.pump.Q_slow), 1.0, 1e-5);
  }
}

// What slips is taken from the flow: the ram is slower by G p / Q, and a dead-headed line stands lower.
TEST(Circuit, PumpSlipRisesWithPressure) {
  Parameters sound = ideal_jack();
  sound.strand.L = 100.0;
  Parameters worn = sound;
  worn.pump.G_slip = 0.2 * sound.pump.Q_fast / 30e6;
  Plant a(sound), b(worn);
  ASSERT_TRUE(pull_to(a, 96e3));
  ASSERT_TRUE(pull_to(b, 96e3));
  const double share = worn.pump.G_slip * b.truth().p_pump / worn.pump.Q_fast;
  EXPECT_NEAR(share, 0.133, 0.01);
  EXPECT_NEAR(b.truth().v_ram / a.truth().v_ram, 1.0 - share, 1e-3);
  EXPECT_NEAR(b.truth().Q_pump, worn.pump.Q_fast * (1.0 - share), 1e-4 * worn.pump.Q_fast);

  worn.ram.x_start = worn.ram.stroke;
  Plant shut(worn);
  run(shut, pull_fast, 6000);
  const double p = shut.truth().p_pump;
  EXPECT_NEAR(worn.pump.Q_fast - worn.pump.G_slip * p, worn.pump.G_relief * (p - worn.pump.p_relief),
              1e-3 * worn.pump.Q_fast);
  worn.pump.G_slip = worn.pump.Q_fast / 20e6;  // all of it slips at 20 MPa: the pump can not do more
  Plant tired(worn);
  run(tired, pull_fast, 20'000);
  EXPECT_NEAR(tired.truth().p_pump, 20e6, 0.02e6);
}

TEST(Circuit, ReliefHoldsTheLine) {
  Parameters p;
  p.ram.x_start = p.ram.stroke;  // dead-headed on the end stop
  Plant plant(p);
  run(plant, pull_fast, 4000);
  const double over = p.pump.Q_fast / p.pump.G_relief;
  EXPECT_NEAR(plant.truth().p_pump, p.pump.p_relief + over, 0.01 * over);
  EXPECT_LE(plant.truth().p_cap, plant.truth().p_pump);
  EXPECT_GT(plant.truth().p_cap, p.pump.p_relief);
}

TEST(Circuit, NothingMovesWithoutTheShutOff) {
  Plant plant{Parameters{}};
  run(plant, {.motor = true, .fast_stage = true, .advance = true}, 2000);
  EXPECT_EQ(plant.truth().x_ram, Parameters{}.ram.x_start);
  EXPECT_NEAR(plant.truth().p_cap, 0.0, 1e-6);  // Pa: K times the round-off of one in 1e16
}

TEST(Circuit, LoadIsNotLoweredWithoutPilotPressure) {
  Plant plant{Parameters{}};
  ASSERT_TRUE(pull_to(plant, 60e3));
  run(plant, blocked, 1000);
  const double held = plant.truth().F_jack;
  run(plant, {.lower = true}, 3000);  // the spool alone, shut-off shut: another way to say "valve stuck open"
  EXPECT_NEAR(plant.truth().F_jack, held, 60.0);
  run(plant, let_down, 1000);
  EXPECT_LT(plant.truth().F_jack, held - 1000.0);
}

TEST(Valves, ActAfterTheirDelayAndNotBefore) {
  for (const int ms : {0, 5, 20, 40, 500}) {
    Delays delays(1e-3 * ms);
    const auto expect = [&](const Drive& drive, const Acting& before, const Acting& after) {
      for (int i = 0; i < 700; ++i) {
        const Acting last = delays.acting();
        const bool changes = delays.tick(drive);
        EXPECT_EQ(delays.acting(), i < ms ? before : after) << ms << " ms, tick " << i;
        EXPECT_TRUE(changes || delays.acting() == last) << ms << " ms, tick " << i;
      }
    };
    expect(pull_fast, {.motor = true},
           {.motor = true, .fast_stage = true, .advance = true, .shut_off = true});
    expect({.lower = true, .seat = true}, {.fast_stage = true, .advance = true, .shut_off = true},
           {.lower = true, .seat = true});
  }
}

TEST(Valves, SpoolLagsByItsTimeConstantAndArrives) {
  const double keep = exponential(-1e-3 / 5e-3);
  double s = 0.0;
  for (int i = 0; i < 5; ++i) {
    s = lagged(s, 1.0, keep);
  }
  EXPECT_NEAR(s, 1.0 - 0.367879441171442, 1e-12);  // 1 - 1/e after one time constant
  for (int i = 0; i < 100; ++i) {
    s = lagged(s, 1.0, keep);
  }
  EXPECT_EQ(s, 1.0);
}

}  // namespace
}  // namespace strandproof::plant
