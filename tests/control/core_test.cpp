// The state table and the core, step by step: what a person at the pendant would try.
#include "firmware/control/core.hpp"

#include <gtest/gtest.h>

namespace strandproof::control {
namespace {

constexpr CoreTiming quick{3, 3, 3, 3};

struct Machine {
  CoreState s;
  Predicates p;
  Machine() { p.signal_plausible = true; }
  CoreStep step(int n = 1) {
    CoreStep last;
    for (int i = 0; i < n; ++i) {
      last = core_step(s, p, quick);
    }
    return last;
  }
  Commands out() const { return core_outputs(s, p, quick); }
  void hold(bool on) { p.enable = p.any_enable = p.advance = on; }
  CoreStep tap(bool Predicates::*key) {
    p.*key = true;
    const CoreStep r = step();
    p.*key = false;
    step();
    return r;
  }
  void to_main_pull() {
    step();
    tap(&Predicates::confirm);
    step();
    hold(true);
    step(4);
    p.initial_reached = true;
    step();
    p.initial_reached = false;
    step(4);
    ASSERT_EQ(s.state, State::main_pull);
  }
};

TEST(Core, AHealthyPullRunsThroughItsStates) {
  Machine m;
  m.to_main_pull();
  EXPECT_TRUE(m.out().fast_stage);
  EXPECT_EQ(m.s.load, LoadState::on_jack);
  m.p.near_target = true;
  m.step();
  EXPECT_EQ(m.s.state, State::slow_pull);
  EXPECT_TRUE(m.out().advance_valve);
  EXPECT_FALSE(m.out().fast_stage);
  m.p.target_reached = true;
  m.step();
  EXPECT_EQ(m.s.state, State::settle);
  EXPECT_FALSE(m.out().motor);
  m.p.near_target = m.p.target_reached = false;
  m.step(5);
  EXPECT_EQ(m.s.state, State::settle) << "seating needs its own confirm";
  m.tap(&Predicates::confirm);
  EXPECT_EQ(m.s.state, State::seat);
  EXPECT_TRUE(m.out().seat_valve);
  m.step(4);
  EXPECT_TRUE(m.out().lower_valve);
  m.p.no_load = true;
  m.step();
  EXPECT_EQ(m.s.state, State::ended);
  EXPECT_EQ(m.s.load, LoadState::on_chuck);
  m.hold(false);
  m.tap(&Predicates::reset);
  EXPECT_EQ(m.s.state, State::idle);
  EXPECT_EQ(m.s.load, LoadState::on_chuck) << "the bed stays loaded";
}

TEST(Core, EnableReleasedStopsInTheSameTickAndAFreshPressGoesOn) {
  Machine m;
  m.to_main_pull();
  m.p.enable = false;
  m.step();
  EXPECT_EQ(m.s.state, State::stopped);
  EXPECT_EQ(m.s.cause, Cause::enable_released);
  EXPECT_FALSE(m.out().motor || m.out().advance_valve);
  m.p.enable = true;  // grabbed again without letting go of the other
  m.step(5);
  EXPECT_EQ(m.s.state, State::stopped);
  m.hold(false);
  m.step();
  m.hold(true);
  m.step();
  EXPECT_EQ(m.s.state, State::main_pull);
}

TEST(Core, EveryLatchedRowAsksForItsReset) {
  for (const Interlock& row : interlocks) {
    if ((row.where & in_pull) == 0) {
      continue;
    }
    Machine m;
    m.to_main_pull();
    m.p.active = row.cause;
    m.p.cause_remains = true;
    m.step();
    EXPECT_EQ(m.s.state, State::stopped) << static_cast<int>(row.cause);
    EXPECT_EQ(m.s.cause, row.cause);
    EXPECT_FALSE(m.out().motor);
    m.hold(false);
    m.step();
    m.hold(true);
    m.step(3);
    EXPECT_EQ(m.s.state, State::stopped) << "went on without a reset";
    m.hold(false);
    m.step();
    EXPECT_EQ(m.tap(&Predicates::reset).event == Event::reset_refused, row.until_gone);
    m.p.active = Cause::none;
    m.p.cause_remains = false;
    m.tap(&Predicates::reset);
    EXPECT_FALSE(m.s.latched);
    EXPECT_EQ(m.s.clear_needed, row.search_bed);
    m.tap(&Predicates::confirm);  // clear, where it is asked
    m.step();
    m.hold(true);
    m.step();
    EXPECT_EQ(m.s.state == State::main_pull, (row.allow & go_on) != 0) << static_cast<int>(row.cause);
  }
}

TEST(Core, LoweringTakesTwoActsAndAFreshEnable) {
  Machine m;
  m.to_main_pull();
  m.p.active = Cause::h01_over_force;
  m.step();
  m.p.active = Cause::none;
  m.hold(false);
  m.step();
  m.tap(&Predicates::reset);
  m.p.enable = m.p.any_enable = m.p.lower = true;
  m.step(3);
  EXPECT_EQ(m.s.state, State::stopped) << "not chosen yet";
  m.p.enable = m.p.any_enable = m.p.lower = false;
  m.step();
  m.tap(&Predicates::select);
  EXPECT_EQ(m.s.choice, Choice::lower);
  m.tap(&Predicates::confirm);
  m.p.enable = m.p.any_enable = m.p.lower = true;
  m.step(2);
  EXPECT_EQ(m.s.state, State::lowering);
  EXPECT_TRUE(m.out().lower_valve);
  m.p.no_load = true;
  m.step();
  EXPECT_EQ(m.s.state, State::ended);
  EXPECT_EQ(m.s.load, LoadState::no_load);
}

TEST(Core, ArmingIsRefusedWithEnablesHeldAndWithTheShellsReason) {
  Machine m;
  m.p.any_enable = true;
  EXPECT_EQ(m.tap(&Predicates::confirm).refusal, Refusal::enable_held);  // H17
  m.p.any_enable = false;
  m.p.arm = Refusal::table_overdue;
  EXPECT_EQ(m.tap(&Predicates::confirm).refusal, Refusal::table_overdue);
  EXPECT_EQ(m.s.state, State::idle);
}

TEST(Core, ADifferentForceIsAskedTwice) {  // H23
  Machine m;
  m.p.ask_again = true;
  EXPECT_EQ(m.tap(&Predicates::confirm).note, Note::ask_again);
  EXPECT_EQ(m.s.state, State::idle);
  m.tap(&Predicates::confirm);
  EXPECT_EQ(m.s.state, State::ready);
}

TEST(Core, AfterAPowerLossUnderLoadNothingIsKnownAndSeatOrLowerIsOffered) {
  Machine m;
  m.s.state = State::stopped;
  m.s.cause = Cause::power_returned;
  m.s.load = LoadState::not_known;
  m.s.allow = power_returned_row.allow;
  m.hold(true);
  m.step(5);
  EXPECT_EQ(m.s.state, State::stopped);
  m.hold(false);
  m.step();
  m.tap(&Predicates::select);
  EXPECT_EQ(m.s.choice, Choice::seat);
  m.tap(&Predicates::select);
  EXPECT_EQ(m.s.choice, Choice::lower);
}

TEST(Core, LostSignalsForbidSeatAndLowerButOneIsEnough) {
  Machine m;
  m.s.state = State::stopped;
  m.s.load = LoadState::not_known;
  m.s.allow = lower_it;
  m.s.choice = Choice::lower;
  m.s.chosen = true;
  m.step();
  m.p.signal_plausible = false;
  m.p.enable = m.p.any_enable = m.p.lower = true;
  EXPECT_EQ(m.step().refusal, Refusal::signals_bad);
  m.p.enable = m.p.any_enable = m.p.lower = false;
  m.p.signal_plausible = true;
  m.step();
  m.p.enable = m.p.any_enable = m.p.lower = true;
  m.step();
  EXPECT_EQ(m.s.state, State::lowering);
}

TEST(StateTable, RefusalsAlwaysSayWhy) {
  for (unsigned s = 0; s < state_count; ++s) {
    for (unsigned e = 0; e < event_count; ++e) {
      const Row r = table_row(static_cast<State>(s), static_cast<Event>(e));
      EXPECT_EQ(r.action == Action::refuse, r.why != Refusal::none) << s << " " << e;
    }
  }
}

// ---- a pull in several strokes

struct Strokes : Machine {
  void to_seat_of_a_bite() {
    to_main_pull();
    p.bite_reached = true;
    step();
    p.bite_reached = false;
    ASSERT_EQ(s.state, State::settle);
    p.top_up_due = true;  // no bite is topped up: it lies far below the jack force
    step(5);
    ASSERT_EQ(s.state, State::settle);
    tap(&Predicates::confirm);
    step(4);
    ASSERT_EQ(s.state, State::seat);
  }
  void to_the_turn() {
    to_seat_of_a_bite();
    p.no_load = p.chuck_holds = true;
    step();
    ASSERT_EQ(s.state, State::re_stroke);
    p.ram_back = true;
    step(2);
  }
};

TEST(Core, AReStrokeGoesBackUnderTheHandAndOnAfterAFreshPress) {
  Strokes m;
  m.to_seat_of_a_bite();
  m.p.no_load = m.p.chuck_holds = true;
  m.step();
  EXPECT_EQ(m.s.state, State::re_stroke);
  EXPECT_EQ(m.s.load, LoadState::on_chuck);
  EXPECT_TRUE(m.out().lower_valve);
  m.p.ram_back = true;
  m.step(5);
  EXPECT_FALSE(m.out().motor) << "keys still held: nothing moves forward";
  EXPECT_EQ(m.s.state, State::re_stroke);
  m.hold(false);
  m.step();
  EXPECT_EQ(m.s.state, State::re_stroke) << "letting go where nothing moves is no stop";
  m.hold(true);
  m.step();
  EXPECT_EQ(m.s.state, State::take_up);
  EXPECT_TRUE(m.out().advance_valve);
  m.step(3);
  EXPECT_EQ(m.s.load, LoadState::on_chuck) << "nothing on the jack yet";
  m.p.no_load = false;
  m.step();
  EXPECT_EQ(m.s.load, LoadState::on_jack);
  m.p.turned = true;
  EXPECT_FALSE(m.out().fast_stage);
  m.p.lifted_off = true;
  m.step();
  EXPECT_EQ(m.s.state, State::main_pull);
  EXPECT_FALSE(m.s.biting);
}

TEST(Core, ACauseThatForbidsToGoOnEndsThePullAtItsBite) {
  Strokes m;
  m.to_main_pull();
  m.p.bite_reached = true;
  m.step();
  m.p.bite_reached = false;
  m.p.active = Cause::settle_fall;  // seat or lower
  m.step();
  m.p.active = Cause::none;
  m.hold(false);
  m.step();
  m.tap(&Predicates::reset);
  m.tap(&Predicates::select);
  m.tap(&Predicates::confirm);
  m.hold(true);
  m.step(6);
  ASSERT_EQ(m.s.state, State::seat);
  m.p.no_load = m.p.chuck_holds = true;
  m.step();
  EXPECT_EQ(m.s.state, State::ended);
}

TEST(Core, AChuckThatDoesNotHoldEndsThePullAtItsBite) {
  Strokes m;
  m.to_seat_of_a_bite();
  m.p.no_load = true;
  m.step();
  EXPECT_EQ(m.s.state, State::ended);
}

// H53, power lost between two strokes: nobody knows afterwards what the chuck holds.
TEST(Core, BetweenTwoStrokesTheLoadIsKeptAsNotKnown) {
  Strokes m;
  m.to_the_turn();
  EXPECT_EQ(m.s.load, LoadState::on_chuck);
  EXPECT_EQ(load_to_keep(m.s), LoadState::not_known);
  m.s.biting = false;
  EXPECT_EQ(load_to_keep(m.s), LoadState::on_chuck);
}

TEST(Core, ALoadedJackIsSaidWhateverTheReStrokeMeantToDo) {
  Strokes m;
  m.to_the_turn();
  m.p.no_load = false;
  m.p.jack_loaded = true;
  m.step();
  EXPECT_EQ(m.s.load, LoadState::on_jack);
}

}  // namespace
}  // namespace strandproof::control
