// Bounds in counts that stand before rows: held against the rows and rules themselves.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>

#include "tests/control/toy_rig.hpp"

namespace strandproof::control {
namespace {

// A bound in whole counts stands before some rows and answers for them in nearly every tick (detectors.hpp).
// Each row is asked without it as well, in pulls of invented counts that cross and graze every limit.
TEST(Detectors, NoBoundHidesAnActiveRow) {
  ToyJack toy;
  const Settings s;
  Measures m{toy.jack};
  Pull pull{m, s};
  Detectors d{toy.jack, s, m};
  const PullInstruction plan = toy_instruction(toy);
  d.arm(d.limits(plan, toy_table(toy)), plan);
  const auto between = [&](double low, double high) { return low + (high - low) * toy.uniform(); };
  CoreState core;
  Commands driven;
  Inputs in;
  in.is = toy.is;
  std::array<int, interlocks.size()> active{};
  double a = 0.0;
  double apart = 0.0;
  double a_rate = 0.0;
  double b_rate = 0.0;
  bool frozen = false;
  for (int tick = 0; tick < 400'000; ++tick) {
    if (tick % 400 == 0) {  // another pull: how high, how far apart, how steep
      a = between(11'000.0, 30'000.0);
      apart = between(-900.0, 900.0);
      frozen = between(0.0, 1.0) < 0.2;
      core.state = between(0.0, 1.0) < 0.5 ? State::main_pull : State::slow_pull;
      driven.advance_valve = between(0.0, 1.0) < 0.8;
      m.flow_changed();
      d.flow_changed(driven.advance_valve);
    }
    if (tick % 50 == 0) {
      a_rate = between(-30.0, 30.0);
      b_rate = between(0.0, 1.0) < 0.5 ? a_rate : between(-30.0, 30.0);
    }
    a += a_rate;
    apart += b_rate - a_rate;
    const auto noisy = [&](double counts) { return static_cast<std::uint16_t>(counts + between(-9.0, 9.0)); };
    const double x = std::clamp(12'000.0 + 0.5 * (a - 11'000.0), 11'000.0, 50'000.0);
    a = std::clamp(a, 10'500.0, 50'000.0);
    apart = std::clamp(apart, 10'500.0 - a, 50'000.0 - a);
    m.sample({frozen ? std::uint16_t{20'000} : noisy(a), noisy(a + apart), noisy(x), 0, 0});
    d.look(in, core, driven, pull, {});
    const Looks looks = d.looks(pull);
    ASSERT_EQ(d.saw_all(), tick % 4 == 0);
    for (unsigned row = 0; row < interlocks.size(); ++row) {
      if ((rows_seldom >> row & 1U) != 0 && !d.saw_all()) {
        continue;
      }
      ASSERT_EQ(looks[row].active, d.is_active(interlocks[row].cause)) << "row " << row << ", tick " << tick;
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
  ToyJack toy;
  const Settings s;
  Measures m{toy.jack};
  Pull pull{m, s};
  Detectors d{toy.jack, s, m};
  const PullInstruction plan = toy_instruction(toy);
  d.arm(d.limits(plan, toy_table(toy)), plan);
  const auto between = [&](double low, double high) { return low + (high - low) * toy.uniform(); };
  CoreState core;
  core.state = State::main_pull;
  Commands driven;
  driven.advance_valve = true;
  Inputs in;
  in.is = toy.is;
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
      a = between(11'000.0, 30'000.0);
      x = 12'000.0;
      rate = between(-0.5, 4.0);
      speed = between(0.0, 1.0) < 0.5 ? 0.0 : between(0.0, 2.0);
      apart = between(-900.0, 900.0);
    }
    a += rate;
    x += speed;
    const auto noisy = [&](double counts) { return static_cast<std::uint16_t>(counts + between(-9.0, 9.0)); };
    m.sample({noisy(a), noisy(a + apart), noisy(x), 0, 0});
    if (tick % 3000 == 100) {
      d.flow_changed(true);
      seen_x = m.stroke_mean64();
      seen_p = m.pressure(m.a.mean64());
      idle = 0;
    }
    d.look(in, core, driven, pull, {});
    if (tick < 100) {
      continue;
    }
    const units::Length at = m.stroke_mean64();
    const units::Pressure p = m.pressure(0.5F * (m.a.mean64() + m.b.mean64()));
    const bool risen = p - seen_p > s.motion_pressure_min;
    const bool moved = at - seen_x > s.motion_min || risen;
    by_pressure += risen && !(at - seen_x > s.motion_min) ? 1 : 0;
    motions += moved ? 1 : 0;
    seen_x = moved ? at : seen_x;
    seen_p = moved ? p : seen_p;
    idle = moved ? 0 : idle + 1;
    ASSERT_EQ(d.looks(pull)[row_of(Cause::h11_no_motion)].value, static_cast<float>(idle)) << tick;
  }
  EXPECT_GT(by_pressure, 100);
  EXPECT_GT(motions, 2 * by_pressure);
}

}  // namespace
}  // namespace strandproof::control
