// The fixed-step scheme: converges with its step, conserves, stands still when nothing flows, refuses what
// can not be.
#include "sim/plant/scheme.hpp"

#include <gtest/gtest.h>

#include <stdexcept>
#include <string>

#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

struct Outcome {
  double settled, locked, peak_pressure;
};

// A whole pull by the clock in steps of one length: no decision in it depends on a force, so that runs can be
// compared.
Outcome whole_pull(double h, double L) {
  Parameters p;
  p.strand.L = L;
  const Model m(p);
  const StepLength step(p, h);
  State s = rest(m);
  Outcome o{};
  const auto run = [&](const Acting& acting, double seconds) {
    const auto steps = static_cast<int>(seconds / h + 0.5);
    for (int i = 0; i < steps; ++i) {
      const State from = s;
      advance(m, from, s, acting, step);
      o.peak_pressure = at_least(o.peak_pressure, s.at.p_cap);
    }
  };
  run({.motor = true, .fast_stage = true, .advance = true, .shut_off = true}, 0.7 * L);
  run({.motor = true, .advance = true, .shut_off = true}, 2.0);
  run({}, 2.0);
  o.settled = s.load.strand.F_strand;
  run({.motor = true, .seat = true, .shut_off = true}, 1.5);
  run({.motor = true, .lower = true, .shut_off = true}, 12.0);
  o.locked = s.load.strand.F_chuck;
  return o;
}

TEST(Scheme, StepHalvingConverges) {
  for (const double L : {20.0, 60.0}) {
    const Outcome exact = whole_pull(0.125e-3, L);
    const Outcome one = whole_pull(1e-3, L), two = whole_pull(0.5e-3, L);
    ASSERT_GT(exact.locked, 40e3);
    const auto off = [](double a, double b) { return magnitude(a - b) / b; };
    EXPECT_LT(off(one.settled, exact.settled), 2e-5) << L;
    EXPECT_LT(off(one.locked, exact.locked), 2e-5) << L;
    EXPECT_LT(off(one.peak_pressure, exact.peak_pressure), 2e-5) << L;
    // First order, against a reference that is itself 1/8 off: (1 - 1/8)/(1/2 - 1/8) = 2.3.
    EXPECT_LT(off(two.settled, exact.settled), 0.6 * off(one.settled, exact.settled) + 1e-9) << L;
  }
}

// trade.md 6.4 item 12: with all leaks zero, pressure, force and position stand still to round-off.
TEST(Scheme, NothingFlowsNothingMoves) {
  Parameters p;
  p.friction.relaxation = 0.0;
  Plant plant(p);
  ASSERT_TRUE(pull_to(plant, 120e3));
  run(plant, blocked, 20'000);
  const Truth a = plant.truth();
  run(plant, blocked, 120'000);
  const Truth& b = plant.truth();
  EXPECT_NEAR(b.p_cap / a.p_cap, 1.0, 1e-12);
  EXPECT_NEAR(b.p_pump / a.p_pump, 1.0, 1e-12);
  EXPECT_NEAR(b.F_strand_live / a.F_strand_live, 1.0, 1e-12);
  EXPECT_NEAR(b.x_ram / a.x_ram, 1.0, 1e-12);
}

TEST(Scheme, ShutOffOilIsConservedToRoundOff) {
  const Parameters p;
  const Model m(p);
  State s = rest(m);
  const StepLength step(p, 1e-3);
  const Acting pull{.motor = true, .fast_stage = true, .advance = true, .shut_off = true};
  for (int i = 0; i < 40'000; ++i) {
    const State from = s;
    ASSERT_TRUE(advance(m, from, s, pull, step));
  }
  // The motor off, spools still open: hose and cap chamber level out among themselves.
  s.y[Model::speed] = 0.0;
  s.lags_rest = false;
  const double N = s.y[Model::N_pump] + s.y[Model::N_cap];
  s.y[Model::N_pump] *= 1.015;  // 22 MPa more in the hose, and the relief valve stays shut
  s.y[Model::N_cap] = N - s.y[Model::N_pump];
  const double x = s.y[Model::x];
  s.at = m.nodes(s.y);
  for (int i = 0; i < 1000; ++i) {
    const State from = s;
    ASSERT_TRUE(advance(m, from, s, {.advance = true, .shut_off = true}, step));
  }
  EXPECT_NEAR((s.y[Model::N_pump] + s.y[Model::N_cap]) / N, 1.0, 1e-14);
  EXPECT_GT(s.y[Model::x], x);
}

TEST(Scheme, TransientsAreRedoneFiner) {
  Parameters coarse;
  coarse.scheme.substeps_transient = 1;
  Plant rough(coarse), fine{Parameters{}};
  for (Plant* plant : {&rough, &fine}) {
    ASSERT_TRUE(pull_to(*plant, 100e3));
    run(*plant, blocked, 500);
    plant->break_strand(0.0);
    run(*plant, blocked, 4);
  }
  EXPECT_GT(magnitude(rough.truth().p_cap - fine.truth().p_cap), 0.1e6);
}

TEST(Scheme, ImpossibleParametersAreNamed) {
  const auto message = [](auto change) {
    Parameters p;
    change(p);
    try {
      Plant plant(p);
    } catch (const std::invalid_argument& e) {
      return std::string(e.what());
    }
    return std::string("accepted");
  };
  EXPECT_NE(message([](Parameters& p) { p.ram.A_cap = 0.0; }).find("ram.A_cap"), std::string::npos);
  EXPECT_NE(message([](Parameters& p) { p.oil.K = 0.0 / (p.oil.air - p.oil.air); }).find("oil.K"),
            std::string::npos);
  EXPECT_NE(message([](Parameters& p) { p.ram.x_start = 0.6; }).find("ram.x_start"), std::string::npos);
  EXPECT_NE(message([](Parameters& p) { p.strand.f_1 = p.strand.f_pu; }).find("strand.f_pu"),
            std::string::npos);
  EXPECT_NE(message([](Parameters& p) { p.scheme.substeps_transient = 0; }).find("scheme.substeps"),
            std::string::npos);
  EXPECT_EQ(message([](Parameters&) {}), "accepted");
}

}  // namespace
}  // namespace strandproof::plant
