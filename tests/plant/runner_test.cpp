// Running ahead: many ticks in one step while nothing changes, run again as far as they have come when
// something does. Beside it the same plant tick by tick.
#include <gtest/gtest.h>

#include "sim/plant/math.hpp"
#include "tests/plant/jack.hpp"

namespace strandproof::plant {
namespace {

struct Near {
  double p = 2e3, x = 1e-6;  // Pa, m
};

class Ahead : public testing::Test {
 protected:
  static Parameters tick_by_tick() {
    Parameters p;
    p.scheme.ahead = 1;
    return p;
  }
  void both(auto change) {
    change(ahead_);
    change(beside_);
  }
  // Every tick of it, sensors too.
  void expect_same(const Drive& drive, int ticks, const char* when, const Near& near = {}) {
    for (int i = 0; i < ticks; ++i) {
      both([&](Plant& plant) { plant.step(drive); });
      const Truth &a = ahead_.truth(), &b = beside_.truth();
      ASSERT_NEAR(a.F_strand_live, b.F_strand_live, 1.0) << when << ", tick " << i;
      ASSERT_NEAR(a.p_cap, b.p_cap, near.p) << when << ", tick " << i;
      ASSERT_NEAR(a.p_a, b.p_a, near.p) << when << ", tick " << i;
      ASSERT_NEAR(a.x_ram, b.x_ram, near.x) << when << ", tick " << i;
      ASSERT_NEAR(a.stroke, b.stroke, near.x) << when << ", tick " << i;
      ASSERT_NEAR(a.W_pump, b.W_pump, 1e-4 * b.W_pump + 0.1) << when << ", tick " << i;
      ASSERT_EQ(a.broken, b.broken) << when << ", tick " << i;
    }
  }
  Plant ahead_{Parameters{}}, beside_{tick_by_tick()};
};

// Lengths that are no multiple of a stretch, so that every change falls into the middle of one.
TEST_F(Ahead, APullIsAsTickByTick) {
  expect_same(pull_fast, 45'007, "pulling fast");
  expect_same(pull_slow, 2'003, "pulling slowly");
  expect_same(blocked, 2'009, "settling");
  expect_same(push_wedges, 1'501, "seating");
  // The ram runs back with the throttle's flow, which falls with the pressure: a long step is late by a few
  // of its 8,000 um in a second, 100 N on the short tail.
  const Near running_back{.p = 20e3, .x = 10e-6};
  expect_same(let_down, 4'005, "lowering", running_back);
  expect_same(blocked, 1'003, "after it", running_back);
}

TEST_F(Ahead, WhatIsDoneToTheMachineTakesEffectInItsTick) {
  expect_same(pull_fast, 40'003, "pulling");
  both([](Plant& p) { p.ail({.wires_lost = 1}); });
  expect_same(pull_fast, 1'005, "with a wire less");
  both([](Plant& p) { p.slip(Slip::grip, 1e-3); });
  expect_same(pull_fast, 1'002, "after a slip in the grip");
  both([](Plant& p) { p.break_strand(0.0); });
  both([](Plant& p) { p.step(pull_fast); });
  EXPECT_EQ(ahead_.truth().F_jack, 0.0);
  EXPECT_EQ(beside_.truth().F_jack, 0.0);
  expect_same(blocked, 503, "after the break");
}

TEST_F(Ahead, StandsStillAtRest) {
  expect_same(blocked, 1'000, "at rest");
  EXPECT_EQ(ahead_.truth().x_ram, Parameters{}.ram.x_start);
  EXPECT_NEAR(ahead_.truth().p_cap, 0.0, 1e-6);
}

}  // namespace
}  // namespace strandproof::plant
