// Ram, oil and pump against trade.md 6.4 (closed forms, computed there) and the ideal jack of 5.3.
#include <gtest/gtest.h>

#include "sim/plant/model.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

constexpr double pi = 3.14159265358979323846;

struct Rates {
  double dp_dt, dF_dt, v;
};

// Between two forces, with the oil's volume 1 L half way.
Rates rates(Parameters p, double from, double to) {
  const double k = p.strand.A * p.strand.E / p.strand.L;
  p.ram.V_cap = 1e-3 - p.ram.A_cap * 0.5 * (from + to) / k;
  Plant plant(p);
  EXPECT_TRUE(pull_to(plant, from));
  const Truth a = plant.truth();
  int ticks = 0;
  while (plant.truth().F_strand_live < to) {
    plant.step(pull_fast);
    ++ticks;
  }
  const Truth& b = plant.truth();
  const double t = ticks * 1e-3;
  return {(b.p_cap - a.p_cap) / t, (b.F_strand_live - a.F_strand_live) / t, (b.x_ram - a.x_ram) / t};
}

void expect_rates(const Rates& r, double dp_dt, double dF_dt, double v) {
  EXPECT_NEAR(r.dp_dt / dp_dt, 1.0, 0.005);
  EXPECT_NEAR(r.dF_dt / dF_dt, 1.0, 0.005);
  EXPECT_NEAR(r.v / v, 1.0, 0.005);
}

TEST(Ram, PressureRiseOnHundredMetres) {
  Parameters p = ideal_jack();
  p.strand.L = 100.0;
  expect_rates(rates(p, 10e3, 30e3), 0.28054e6, 1346.6, 6.9055e-3);
}

TEST(Ram, PressureRiseOnTenMetres) {
  Parameters p = ideal_jack();
  p.strand.L = 10.0;
  p.strand.L -= p.strand.L_tail;  // the tail is part of the ten metres
  expect_rates(rates(p, 20e3, 60e3), 2.6705e6, 12818.0, 6.5735e-3);
}

TEST(Ram, PressureRiseWithFifteenMillimetreStrand) {
  Parameters p = ideal_jack();
  p.strand.L = 60.0;
  p.strand.A = 140e-6;
  p.strand.E = 196.5e9;  // k = 4.585e5 N/m
  straight_steel(p.strand);
  expect_rates(rates(p, 10e3, 40e3), 0.65465e6, 3142.3, 3142.3 / 4.585e5);
}

// 50 ms of delay at the full rate add 67.3 N on 100 m; motor and spool are made not to count.
TEST(Ram, RunOnOfTheDelay) {
  Parameters p = ideal_jack();
  p.strand.L = 100.0;
  p.ram.V_cap = 0.8e-3;
  p.valves.delay = 0.050;
  p.valves.tau = 1e-4;
  p.pump.tau_motor = 10.0;
  Plant plant(p);
  run(plant, pull_fast, 40'000);  // the motor takes its time
  const double v = plant.truth().v_ram;
  const double F = plant.truth().F_strand_live;
  run(plant, blocked, 500);
  const double full = 67.3 * v / 6.9055e-3;  // of the speed that was reached
  EXPECT_NEAR((plant.truth().F_strand_live - F) / full, 1.0, 0.01);
}

TEST(Ram, EndStop) {
  Parameters p = ideal_jack();
  p.ram.x_start = p.ram.stroke;
  p.ram.V_cap = 1e-6;
  p.ram.A_cap = (1e-3 - 1e-6) / p.ram.stroke;  // one litre at the stop
  p.hose.V = 1e-7;
  p.ram.k_stop = 1e12;
  p.strand.slack = 0.3;
  Plant plant(p);
  run(plant, pull_fast, 400);
  const double before = plant.truth().p_cap;
  run(plant, pull_fast, 200);
  EXPECT_NEAR((plant.truth().p_cap - before) / 0.2 / 50e6, 1.0, 0.01);
}

// tau = C/G: 1 and 10 mL/min at 30 MPa, blocked on 100 m of strand: 0.0280 and 0.2801 % in 60 s.
TEST(Ram, LeakDownOnTheStrand) {
  for (const double ml : {1.0, 10.0}) {
    Parameters p = ideal_jack();
    p.strand.L = 100.0;
    p.ram.G_leak = ml * 1e-6 / 60.0 / 30e6;
    p.ram.V_cap = 1e-3 - p.ram.A_cap * 25e3 / 1.95e5;
    Plant plant(p);
    ASSERT_TRUE(pull_to(plant, 25e3));
    run(plant, blocked, 1000);
    const double p0 = plant.truth().p_cap, x0 = plant.truth().x_ram, F0 = plant.truth().F_strand_live;
    run(plant, blocked, 60'000);
    const Truth& t = plant.truth();
    const double lost = 1.0 - t.p_cap / p0;
    EXPECT_NEAR(lost / (ml == 1.0 ? 2.80494e-4 : 2.80143e-3), 1.0, 0.01);
    // Force follows the stroke back along k.
    EXPECT_NEAR((t.F_strand_live - F0) / (t.x_ram - x0) / 1.95e5, 1.0, 0.002);
  }
}

// Blocked ram, 1 L, 1 mL/min: tau 1,200 s.
TEST(Ram, LeakDownOnTheEndStop) {
  Parameters p = ideal_jack();
  p.ram.x_start = p.ram.stroke;
  p.ram.V_cap = 1e-6;
  p.ram.A_cap = (1e-3 - 1e-6) / p.ram.stroke;
  p.ram.k_stop = 1e12;
  p.ram.G_leak = 1e-6 / 60.0 / 30e6;
  Plant plant(p);
  run(plant, pull_fast, 900);
  run(plant, blocked, 2000);
  const double p0 = plant.truth().p_cap;
  ASSERT_GT(p0, 20e6);
  run(plant, blocked, 60'000);
  EXPECT_NEAR(plant.truth().p_cap / p0, 0.951229, 0.0005);  // exp(-60/1200)
}

// Frequency of a free swing, from the equations themselves by Runge and Kutta's method in steps of 1 us.
double swing_hz(const Parameters& p, double s_lower) {
  const Model model(p);
  Model::Vector y = model.start();
  y[Model::s_lower] = s_lower;
  const Acting acting{.lower = s_lower > 0.0};
  y[Model::x] += 0.3e-6;
  const StrandMemory memory = model.strand.fresh();
  constexpr double h = 1e-6;
  double first = -1.0, last = 0.0;
  int crossings = 0;
  for (int n = 0; n < 400'000 && crossings < 21; ++n) {
    Model::Vector k1{}, k2{}, k3{}, k4{}, at = y;
    const auto f = [&](const Model::Vector& from, Model::Vector& out) {
      model.derivative(from, out, acting, memory, p.ram.x_start, {});
    };
    const auto shifted = [&](const Model::Vector& k, double by) {
      for (unsigned i = 0; i < Model::size; ++i) {
        at[i] = y[i] + by * k[i];
      }
    };
    f(y, k1);
    shifted(k1, 0.5 * h), f(at, k2);
    shifted(k2, 0.5 * h), f(at, k3);
    shifted(k3, h), f(at, k4);
    const double v0 = y[Model::v];
    for (unsigned i = 0; i < Model::size; ++i) {
      y[i] += h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
    }
    const double v1 = y[Model::v];
    if (n > 0 && v0 < 0.0 && v1 >= 0.0) {
      last = (n + v0 / (v0 - v1)) * h;
      first = crossings++ == 0 ? last : first;
    }
  }
  return (crossings - 1) / (last - first);
}

Parameters swinging(double V) {
  Parameters p = ideal_jack();
  p.friction.F_seal = 1e-3;
  p.friction.sigma = 1e5;
  p.rig.fitted = true;
  p.rig.x_free = 0.4;
  p.ram.x_start = 0.01;
  p.ram.V_cap = V - p.ram.A_cap * p.ram.x_start;
  p.ram.V_rod = 1.0;  // so large that the retract side is no spring
  return p;
}

// f = sqrt(K A2/(V m))/2 pi, 20 kg.
TEST(Ram, HydraulicSpring) {
  EXPECT_NEAR(swing_hz(swinging(0.2e-3), 0.0) / 467.8, 1.0, 0.003);
  EXPECT_NEAR(swing_hz(swinging(1e-3), 0.0) / 209.2, 1.0, 0.003);
  EXPECT_NEAR(swing_hz(swinging(2e-3), 0.0) / 147.9, 1.0, 0.003);
}

// Double-acting at mid-stroke, both sides shut: omega = sqrt(4 K A2/(V_t m)).
TEST(Ram, HydraulicSpringOfTwoChambers) {
  Parameters p = swinging(0.5e-3);
  p.ram.A_rod = p.ram.A_cap;
  p.ram.V_rod = 0.5e-3 - p.ram.A_rod * (p.ram.stroke - p.ram.x_start);
  p.ram.x_start = 0.26;
  p.ram.V_cap = p.ram.V_rod = 2e-3 - p.ram.A_cap * 0.26;
  p.ram.stroke = 0.52;
  const double omega = root(4.0 * 1.5e9 * p.ram.A_cap * p.ram.A_cap / (4e-3 * p.ram.m));
  EXPECT_NEAR(swing_hz(p, 1.0) / (omega / (2.0 * pi)), 1.0, 0.003);
}

// trade.md 5.3, ideal jack of 48 cm2 with 3 % and 0.6 kN: increasing F = 4.656 p - 0.6, decreasing
// F = 4.944 p + 0.6 (kN, MPa).
TEST(Ram, FrictionBandOnTheRig) {
  Parameters p;
  p.friction = {.fraction = 0.03, .F_seal = 600.0, .stribeck = 0.0, .c = 0.0, .relaxation = 0.0};
  p.friction.sigma = 1e9;
  p.rig.fitted = true;
  p.rig.x_free = 0.011;
  Plant plant(p);
  while (plant.truth().p_cap < 30e6) {
    plant.step(pull_slow);
  }
  Truth t = plant.truth();
  const double rod_share = t.p_rod * p.ram.A_rod;  // back pressure of the retract side, some newtons
  EXPECT_NEAR(t.F_jack, 4.656e-3 * t.p_cap - 600.0 - 1.03 * rod_share, 1e-4 * t.F_jack);
  run(plant, blocked, 1000);
  while (plant.truth().p_cap > 20e6) {
    plant.step(let_down);
  }
  t = plant.truth();
  EXPECT_NEAR(t.F_jack, 4.944e-3 * t.p_cap + 600.0 - 0.97 * t.p_rod * p.ram.A_rod, 1e-3 * t.F_jack);
}

// The scatter scales friction and nothing else.
TEST(Ram, FrictionScatter) {
  const auto lost = [](double scatter) {
    Parameters p;
    p.friction.scatter = scatter;
    Plant plant(p);
    EXPECT_TRUE(pull_to(plant, 100e3));
    return plant.truth().F_friction;
  };
  EXPECT_NEAR(lost(0.05) / lost(0.0), 1.05, 0.005);
}

// Seals at rest relax: raw pressure falls by about 1 % (simulation.md, trials) while the strand's force does
// not. Closed form: the ram creeps on the oil's spring k, k dx = -dF, and dF/dt = sigma v (1 - F/F_s) - r F
// gives (1 + c) ln(f) - c (f - 1) = -r t with f = F/F_s and c = sigma/k.
TEST(Ram, PressureFallsAtUnchangedForceAfterTheStop) {
  Parameters p;
  p.friction.stribeck = 0.0;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 130e3));
  run(plant, blocked, 1000);
  const Truth a = plant.truth();
  run(plant, blocked, 5000);
  const Truth& b = plant.truth();
  EXPECT_NEAR(1.0 - b.p_cap / a.p_cap, 0.010, 0.003);
  EXPECT_NEAR(b.F_strand_live / a.F_strand_live, 1.0, 5e-4);

  const Model model(p);
  const double A = p.ram.A_cap;
  const double k = model.oil.bulk_modulus(a.p_cap) * A * A / model.cap_volume(a.x_ram) +
                   model.load(a.x_ram, model.strand.fresh(), p.ram.x_start).k;
  const double c = p.friction.sigma / k;
  const auto age = [&](const Truth& t) {
    const double f = t.F_friction / (p.friction.F_seal + p.friction.fraction * t.p_cap * A);
    return (c * (f - 1.0) - (1.0 + c) * logarithm(f)) / p.friction.relaxation;
  };
  EXPECT_NEAR(age(b) - age(a), 5.0, 0.25);  // F_s itself falls by 1 % on the way
}

TEST(Ram, StopsHoldTheRamAtBothEnds) {
  Parameters p;
  p.strand.slack = 2.0;
  Plant plant(p);
  run(plant, pull_fast, 90'000);
  EXPECT_NEAR(plant.truth().x_ram, p.ram.stroke, 1e-4);
  run(plant, let_down, 260'000);
  EXPECT_NEAR(plant.truth().x_ram, 0.0, 1e-4);
}

}  // namespace
}  // namespace strandproof::plant
