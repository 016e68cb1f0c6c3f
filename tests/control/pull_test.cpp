// The shell in closed loop with a toy jack: a whole pull, and what stops one.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <memory>

#include "tests/control/toy_jack.hpp"

namespace strandproof::control {
namespace {

struct Rig {
  ToyJack toy;
  std::unique_ptr<Controller> c;
  Commands out;
  std::function<void(Rig&)> each;

  explicit Rig(ToyJack t = {}) : toy{t}, c{std::make_unique<Controller>(toy.jack, default_settings)} {
    EXPECT_EQ(c->install(toy_table(toy)), Refusal::none);
    EXPECT_EQ(c->load(toy_instruction(toy)), Refusal::none);
    c->gates({.clock = Refusal::none});
    run(1500);
  }
  void tick() {
    if (each) {
      each(*this);
    }
    out = c->tick(toy.inputs());
    toy.move(out);
  }
  void run(int n) {
    for (int i = 0; i < n; ++i) {
      tick();
    }
  }
  bool until(State s, int most = 200'000) {
    for (int i = 0; i < most && c->core().state != s; ++i) {
      tick();
      if (c->core().state == State::stopped && s != State::stopped) {
        return false;
      }
    }
    return c->core().state == s;
  }
  void tap(bool Switches::*key) {
    toy.is.*key = true;
    run(50);
    toy.is.*key = false;
    run(50);
  }
  void hold(bool on) { toy.is.enable_1 = toy.is.enable_2 = toy.is.advance = on; }
  void arm() {
    tap(&Switches::confirm);
    ASSERT_EQ(c->core().state, State::ready);
    hold(true);
  }
};

TEST(Pull, ComesToRestAtTheJackForceAndIsJudged) {
  for (std::uint32_t seed = 1; seed <= 20; ++seed) {
    ToyJack t;
    t.random = seed;
    t.delay = 5 + static_cast<int>(seed * 7 % 36);
    Rig r{t};
    r.arm();
    ASSERT_TRUE(r.until(State::settle)) << static_cast<int>(r.c->core().cause);
    r.run(2100);
    const double error = r.toy.force() / 130e3 - 1.0;
    EXPECT_LT(std::abs(error), 0.0015) << "seed " << seed;
    EXPECT_NEAR(r.c->pull().report().settle.si(), r.toy.force(), 200.0);
    r.tap(&Switches::confirm);
    ASSERT_TRUE(r.until(State::ended));
    const PullReport& p = r.c->pull().report();
    EXPECT_EQ(p.verdict, Verdict::within_limits) << seed;
    EXPECT_NEAR(p.draw_in.si(), 0.003, 0.0006);
    EXPECT_NEAR(p.locked.si(), r.toy.chuck_force, 350.0);
    EXPECT_NEAR(p.stiffness_seen.si(), r.toy.stiffness, 0.02 * r.toy.stiffness);
    EXPECT_EQ(r.c->core().load, LoadState::on_chuck);
    EXPECT_GT(r.c->pull().curve().size(), 15U);
  }
}

TEST(Pull, FullBreakIsSeenWithinFiveMilliseconds) {  // H14
  Rig r;
  r.arm();
  ASSERT_TRUE(r.until(State::main_pull));
  while (r.toy.force() < 78e3) {
    r.tick();
  }
  r.toy.broken = true;
  int ms = 0;
  while (r.c->core().state != State::stopped && ms < 100) {
    r.tick();
    ++ms;
  }
  EXPECT_LE(ms, 5);
  EXPECT_EQ(r.c->core().cause, Cause::h14_strand_break);
  EXPECT_TRUE(r.c->core().replace_strand);
  EXPECT_FALSE(r.out.motor);
}

struct Stop {
  const char* name;
  Cause cause;
  int most_ms;
  std::function<void(ToyJack&)> act;
};

class StoppedBy : public testing::TestWithParam<Stop> {};

TEST_P(StoppedBy, HoldsWithinItsTime) {
  Rig r;
  r.arm();
  ASSERT_TRUE(r.until(State::main_pull));
  while (r.toy.force() < 60e3) {
    r.tick();
  }
  GetParam().act(r.toy);
  int ms = 0;
  while (r.c->core().state != State::stopped && ms < 5000) {
    r.tick();
    ++ms;
  }
  EXPECT_EQ(r.c->core().cause, GetParam().cause);
  EXPECT_LE(ms, GetParam().most_ms);
  EXPECT_FALSE(r.out.motor || r.out.advance_valve || r.out.shut_off_open);
}

INSTANTIATE_TEST_SUITE_P(
    Rows, StoppedBy,
    testing::Values(Stop{"enable", Cause::enable_released, 1, [](ToyJack& t) { t.is.enable_1 = false; }},
                    Stop{"stop", Cause::emergency_stop, 1,
                         [](ToyJack& t) { t.is.emergency_stop_1 = t.is.emergency_stop_2 = false; }},
                    Stop{"barrier", Cause::h47_barrier_open, 5, [](ToyJack& t) { t.is.barrier_2 = false; }},
                    Stop{"no_motion", Cause::h11_no_motion, 1200, [](ToyJack& t) { t.fast = t.slow = 0.0; }},
                    Stop{"channels", Cause::h06_channels_disagree, 500, [](ToyJack& t) { t.bias_b = 0.02; }}),
    [](const auto& i) { return i.param.name; });

TEST(Pull, ElongationAtItsUpperLimitStopsBeforeTheForce) {
  ToyJack t;
  Rig r{t};
  r.toy.stiffness = 280e3;  // the strand is longer than the plan says
  r.arm();
  ASSERT_TRUE(r.until(State::stopped));
  EXPECT_EQ(r.c->core().cause, Cause::elongation_high);
  EXPECT_LT(r.toy.force(), 130e3);
}

TEST(Pull, ForceBeforeTheLowestElongationIsNotAccepted) {
  Rig r;
  r.toy.stiffness = 360e3;
  r.arm();
  ASSERT_TRUE(r.until(State::stopped));
  EXPECT_EQ(r.c->core().cause, Cause::elongation_low);
}

TEST(Pull, SlackBeyondThePlanStops) {
  Rig r;
  r.toy.slack = 0.2;
  r.arm();
  ASSERT_TRUE(r.until(State::stopped));
  EXPECT_EQ(r.c->core().cause, Cause::slack_limit);
}

TEST(Pull, TheLimitOneStepBelowAtAndAboveTheJackForce) {
  ToyJack t;
  PullInstruction i = toy_instruction(t);
  i.limit = units::Force::from_si(129'999.0F);
  EXPECT_EQ(check(i), Refusal::above_limit);
  for (const float limit : {130'000.0F, 130'001.0F}) {
    Rig r;
    i.limit = units::Force::from_si(limit);
    ASSERT_EQ(r.c->load(i), Refusal::none);
    r.arm();
    EXPECT_TRUE(r.until(State::settle)) << limit;
  }
}

TEST(Pull, AStopMidwayGoesOnFromWhereItWas) {
  Rig r;
  r.arm();
  ASSERT_TRUE(r.until(State::main_pull));
  while (r.toy.force() < 70e3) {
    r.tick();
  }
  const float datum = r.c->pull().report().datum_stroke.si();
  r.hold(false);
  r.run(3000);
  EXPECT_EQ(r.c->core().state, State::stopped);
  r.hold(true);
  ASSERT_TRUE(r.until(State::settle));
  r.run(2100);
  EXPECT_EQ(r.c->pull().report().datum_stroke.si(), datum);
  EXPECT_LT(std::abs(r.toy.force() / 130e3 - 1.0), 0.0015);
}

}  // namespace
}  // namespace strandproof::control
