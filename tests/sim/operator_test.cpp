// The operator's hands against a scripted controller that shows the states of a pull.
#include "sim/bench/operator.hpp"

#include <gtest/gtest.h>

#include "sim/bench/names.hpp"

namespace strandproof::sim {
namespace {

TEST(Operator, PressHoldWaitRelease) {
  Operator person;
  person.command("hold enable advance");
  person.command("wait 100 ms");
  person.command("press confirm 200ms");
  person.command("release all");
  View view;
  int confirmed = 0;
  for (int t = 0; t < 400; ++t) {
    view.time_s = t * 1e-3;
    const Pendant& hands = person.tick(view);
    confirmed += hands.confirm ? 1 : 0;
    if (hands.confirm) {
      EXPECT_TRUE(hands.enabled() && hands.advance);
    }
  }
  EXPECT_EQ(confirmed, 200);
  EXPECT_TRUE(person.idle());
  EXPECT_EQ(person.hands(), Pendant{});
}

TEST(Operator, WaitsForAStateAndFailsInItsTime) {
  Operator person;
  person.command("wait state settle ended within 2 s");
  View view;
  person.tick(view);
  EXPECT_FALSE(person.idle());
  view.state = state::settle;
  person.tick(view);
  EXPECT_TRUE(person.idle());
  EXPECT_FALSE(person.failed());
  person.command("wait state ready within 2 s");
  person.tick(view);
  view.time_s = 2.1;
  person.tick(view);
  EXPECT_TRUE(person.failed());
  EXPECT_NE(person.failure().find("wait state ready"), std::string::npos);
}

// What the controller would do at each press, in the order of interface.md, without any oil.
struct Scripted {
  std::uint8_t now = state::idle;
  double entered = 0.0;
  void go(std::uint8_t to, double t) {
    now = to;
    entered = t;
  }
  void tick(const Pendant& p, double t) {
    const bool held = p.enabled() && p.advance;
    const double here = t - entered;
    switch (now) {
      case state::idle:
        if (p.confirm && !p.enable_1 && !p.enable_2) go(state::ready, t);
        break;
      case state::ready:
        if (held && here > 1.0) go(state::main_pull, t);
        break;
      case state::main_pull:
        if (!held)
          go(state::stopped, t);
        else if (here > 5.0)
          go(state::settle, t);
        break;
      case state::settle:
        if (here > 2.0 && held && p.confirm) go(state::seat, t);
        break;
      case state::seat:
        if (!held)
          go(state::stopped, t);
        else if (here > 3.0)
          go(state::ended, t);
        break;
      case state::ended:
        if (p.reset) go(state::idle, t);
        break;
      default:
        break;
    }
  }
};

TEST(Operator, PullIsWorkedToTheEndAndResetAndLetGo) {
  Operator person;
  person.command("pull");
  Scripted machine;
  bool ended = false;
  double t = 0.0;
  for (int i = 0; i < 60000 && !person.idle(); ++i) {
    t = i * 1e-3;
    const Pendant& hands = person.tick({t, machine.now, 0, 0});
    machine.tick(hands, t);
    ended = ended || machine.now == state::ended;
  }
  EXPECT_TRUE(ended);
  EXPECT_EQ(machine.now, state::idle);
  EXPECT_FALSE(person.failed()) << person.failure();
  EXPECT_EQ(person.hands(), Pendant{});
}

TEST(Operator, LetsGoAtAStopAndGivesUpWhenRefused) {
  Operator person;
  person.command("pull");
  View view{.time_s = 0.0, .state = state::idle};
  for (int i = 0; i < 20000 && !person.idle(); ++i) {
    view.time_s = i * 1e-3;
    person.tick(view);
  }
  EXPECT_TRUE(person.failed()) << "a controller that stays idle has refused";
  Operator second;
  second.command("pull");
  view = {.time_s = 0.0, .state = state::idle};
  for (int i = 0; i < 8000 && !second.idle(); ++i) {
    view.time_s = i * 1e-3;
    view.state = i < 1500   ? state::idle
                 : i < 3000 ? state::ready
                 : i < 6000 ? state::main_pull
                            : state::stopped;
    second.tick(view);
  }
  EXPECT_TRUE(second.idle());
  EXPECT_FALSE(second.failed());
  EXPECT_EQ(second.hands(), Pendant{});
}

TEST(Operator, BadCommandsNameTheRemedy) {
  const auto error_of = [](std::string_view line) -> std::string {
    try {
      static_cast<void>(make_routine(line));
    } catch (const std::invalid_argument& error) {
      return error.what();
    } catch (const std::runtime_error& error) {
      return error.what();
    }
    return {};
  };
  EXPECT_NE(error_of("pres confirm").find("did you mean \"press\""), std::string::npos);
  EXPECT_NE(error_of("press").find("press which key"), std::string::npos);
  EXPECT_NE(error_of("press confirm 200").find("has no unit"), std::string::npos);
  EXPECT_NE(error_of("wait state sette").find("did you mean \"settle\""), std::string::npos);
  EXPECT_NE(error_of("wait").find("wait for what"), std::string::npos);
  EXPECT_NE(error_of("").find("empty command"), std::string::npos);
}

}  // namespace
}  // namespace strandproof::sim
