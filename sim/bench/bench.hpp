// The loop: one board, one brain, one operator, in virtual time. Time is the tick count; nothing here
// reads a clock. Who wants to know what happened adds an observer; observers steer nothing.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "sim/bench/operator.hpp"
#include "sim/board/board.hpp"
#include "sim/board/brain.hpp"

namespace strandproof::sim {

// One tick, as it was: the truth that was sampled, what the controller saw and what it answered.
struct Moment {
  std::uint64_t tick;  // since the start of the run
  double time_s;
  const plant::Truth& truth;
  const port::RawSample& sample;
  const Answer& answer;
  port::OutputBits driven;  // energised in the tick before
  const Pendant& hands;
};

class Observer {
 public:
  virtual ~Observer() = default;
  virtual void tick(const Moment& moment) = 0;
};

class Bench {
 public:
  Bench(SimBoard& board, Brain& brain)
      : board_{board}, brain_{brain}, moment_{0,       0.0, board.truth(),    board.sampled(),
                                              answer_, 0,   operator_.hands()} {}
  Bench(const Bench&) = delete;  // the moment shows what lies in here
  Bench& operator=(const Bench&) = delete;

  void watch(Observer& observer) { observers_.push_back(&observer); }
  void forget(const Observer& observer) { std::erase(observers_, &observer); }
  [[nodiscard]] Operator& person() { return operator_; }

  // One millisecond of virtual time.
  void step() {
    const port::RawSample& sample = board_.sample(operator_.tick(view()));
    const bool missed = (board_.faults().any() || dead_) && upset();
    if (!missed) {
      answer_ = brain_.tick(sample);
      board_.faults().shown(answer_.state);
    }
    moment_.tick = board_.ticks();
    moment_.time_s = board_.time_s();
    moment_.driven = board_.driven();
    for (Observer* observer : observers_) {
      observer->tick(moment_);
    }
    board_.advance(missed ? std::nullopt : std::optional(answer_.outputs));
  }

  // Steps until the operator has nothing left to do or the time is up; false if the time was up.
  bool run(double time_limit_s);

  [[nodiscard]] const Answer& answer() const { return answer_; }
  [[nodiscard]] View view() const {
    const plant::Truth& t = board_.truth();
    return {board_.time_s(), answer_.state, answer_.cause, answer_.load_state, t.x_ram, t.cell, &brain_};
  }
  [[nodiscard]] SimBoard& board() { return board_; }
  [[nodiscard]] Brain& brain() { return brain_; }

 private:
  // Faults of the controller's own: its supply, its ticks, its line. True if this tick is not worked.
  [[gnu::noinline]] bool upset();  // inlined it has every tick save its registers

  SimBoard& board_;
  Brain& brain_;
  Operator operator_;
  Answer answer_;
  Moment moment_;
  bool dead_ = false;  // without supply
  std::vector<Observer*> observers_;
};

}  // namespace strandproof::sim
