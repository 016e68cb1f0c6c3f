// Bounds in counts that stand before rows: held against the rows and rules themselves.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>

#include "tests/control/toy_rig.hpp"

namespace strandproof::control {
namespace {

// Detectors that are armed for a toy jack's pull and see what they are shown.
struct Watch {
  ToyJack toy;
  const Settings s;
  Measures m{toy.jack};
  Pull pull{m, s};
  Detectors d{toy.jack, s, m};
  Inputs in;

  Watch() {
    const PullInstruction plan = toy_instruction(toy);
    d.arm(d.limits(plan, toy_table(toy)), plan);
    in.is = toy.is;
  }
  double between(double low, double high) { return low + (high - low) * toy.uniform(); }
  std::uint16_t noisy(double counts) { return static_cast<std::uint16_t>(counts + between(-9.0, 9.0)); }
};

// A bound in whole counts stands before some rows and answers for them in nearly every tick (detectors.hpp).
// Each row is asked without it as well, in pulls of invented counts that cross and graze every limit.
TEST(Detectors, NoBoundHidesAnActiveRow) {
  Watch w;
  CoreState core;
  Commands driven;
  std::array<int, interlocks.size()> active{};
  double a = 0.0;
  double apart = 0.0;
  double a_rate = 0.0;
  double b_rate = 0.0;
  bool frozen = false;
  for (int tick = 0; tick < 400'000; ++tick) {
    if (tick % 400 == 0) {  // another pull: how high, how far apart, how steep
      a = w.between(11'000.0, 30'000.0);
      apart = w.between(-900.0, 900.0);
      frozen = w.between(0.0, 1.0) < 0.2;
      core.state = w.between(0.0, 1.0) < 0.5 ? State::main_pull : State::slow_pull;
      driven.advance_valve = w.between(0.0, 1.0) < 0.8;
      w.m.flow_changed();
      w.d.flow_changed(driven.advance_valve);
    }
    if (tick % 50 == 0) {
      a_rate = w.between(-30.0, 30.0);
      b_rate = w.between(0.0, 1.0) < 0.5 ? a_rate : w.between(-30.0, 30.0);
    }
    a += a_rate;
    apart += b_rate - a_rate;
    const double x = std::clamp(12'000.0 + 0.5 * (a - 11'000.0), 11'000.0, 50'000.0);
    a = std::clamp(a, 10'500.0, 50'000.0);
    apart = std::clamp(apart, 10'500.0 - a, 50'000.0 - a);
    w.m.sample({frozen ? std::uint16_t{20'000} : w.noisy(a), w.noisy(a + apart), w.noisy(x), 0, 0});
    w.d.look(w.in, core, driven, w.pull, {});
    const Looks looks = w.d.looks(w.pull);
    ASSERT_EQ(w.d.saw_all(), tick % 4 == 0);
    for (unsigned row = 0; row < interlocks.size(); ++row) {
      if ((rows_seldom >> row & 1U) != 0 && !w.d.saw_all()) {
        continue;
      }
      ASSERT_EQ(looks[row].active, w.d.is_active(interlocks[row].cause))
          << "row " << row << ", tick " << tick;
      active[row] += looks[row].active ? 1 : 0;
    }
  }
  for (const Cause c : {Cause::h01_over_force, Cause::h02_dead_headed, Cause::h05_signal_stuck,
                        Cause::h06_channels_disagree, Cause::h14_strand_break}) {
    EXPECT_GT(active[row_of(c)], 1000) << row_of(c);
  }
}

// What counts as motion (H11) is held against the rule itself, without the bound in counts that stands before
// it: in pulls whose pressure creeps over its limit while the stroke stands, and in pulls where both move.
TEST(Detectors, H11_NoBoundHidesAMotion) {
  Watch w;
  CoreState core;
  core.state = State::main_pull;
  Commands driven;
  driven.advance_valve = true;
  double a = 0.0;
  double x = 0.0;
  double apart = 0.0;
  double rate = 0.0;
  double speed = 0.0;
  units::Length seen_x;
  units::Pressure seen_p;
  int idle = 0;
  int motions = 0;
  int by_pressure = 0;
  for (int tick = 0; tick < 300'000; ++tick) {
    if (tick % 3000 == 0) {  // another pull
      a = w.between(11'000.0, 30'000.0);
      x = 12'000.0;
      rate = w.between(-0.5, 4.0);
      speed = w.between(0.0, 1.0) < 0.5 ? 0.0 : w.between(0.0, 2.0);
      apart = w.between(-900.0, 900.0);
    }
    a += rate;
    x += speed;
    w.m.sample({w.noisy(a), w.noisy(a + apart), w.noisy(x), 0, 0});
    if (tick % 3000 == 100) {
      w.d.flow_changed(true);
      seen_x = w.m.stroke_mean64();
      seen_p = w.m.pressure(w.m.a.mean64());
      idle = 0;
    }
    w.d.look(w.in, core, driven, w.pull, {});
    if (tick < 100) {
      continue;
    }
    const units::Length at = w.m.stroke_mean64();
    const units::Pressure p = w.m.pressure(0.5F * (w.m.a.mean64() + w.m.b.mean64()));
    const bool risen = p - seen_p > w.s.motion_pressure_min;
    const bool moved = at - seen_x > w.s.motion_min || risen;
    by_pressure += risen && !(at - seen_x > w.s.motion_min) ? 1 : 0;
    motions += moved ? 1 : 0;
    seen_x = moved ? at : seen_x;
    seen_p = moved ? p : seen_p;
    idle = moved ? 0 : idle + 1;
    ASSERT_EQ(w.d.looks(w.pull)[row_of(Cause::h11_no_motion)].value, static_cast<float>(idle)) << tick;
  }
  EXPECT_GT(by_pressure, 100);
  EXPECT_GT(motions, 2 * by_pressure);
}

}  // namespace
}  // namespace strandproof::control
