// A controller and a toy jack in closed loop, with a person at the keys.
#pragma once

#include <gtest/gtest.h>

#include <functional>
#include <memory>

#include "tests/control/toy_jack.hpp"

namespace strandproof::control {

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

}  // namespace strandproof::control
