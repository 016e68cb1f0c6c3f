// A pure delay between outputs and what they do: a coil's command acts some whole ticks later, the motor's
// contactor at once.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/plant/model.hpp"
#include "sim/plant/plant.hpp"

namespace strandproof::plant {

class Delays {
 public:
  static constexpr unsigned longest = 500;  // ticks of one millisecond
  explicit Delays(double seconds)
      : ticks_{static_cast<unsigned>(within(0.0, seconds * 1e3, longest) + 0.5)} {}
  // The outputs of this tick in. True if something else may act from now on.
  bool tick(const Drive& d) {
    const bool changes = ++now_ == next_ || !same(d, told_);
    if (changes) {
      change(d);
    }
    return changes;
  }
  [[nodiscard]] const Acting& acting() const { return acting_; }

 private:
  struct Change {
    std::uint64_t at = 0;
    Drive drive;
  };
  static constexpr std::uint64_t never = UINT64_MAX;
  [[gnu::noinline]] void change(const Drive& d) {
    if (!same(d, told_)) {
      told_ = d;
      acting_.motor = d.motor;
      coming_.push_back({now_ + ticks_, d});
    }
    if (!coming_.empty() && coming_.front().at == now_) {
      act(coming_.front().drive);
      coming_.erase(coming_.begin());
    }
    next_ = coming_.empty() ? never : coming_.front().at;
  }
  void act(const Drive& coils) {
    acting_ = {.motor = told_.motor,
               .fast_stage = coils.fast_stage,
               .advance = coils.advance,
               .lower = coils.lower,
               .seat = coils.seat,
               .shut_off = coils.shut_off_open};
  }

  Drive told_;
  Acting acting_;
  std::vector<Change> coming_;  // not more than one a tick of the delay, the next one first
  unsigned ticks_ = 0;
  std::uint64_t now_ = 0, next_ = never;  // this tick, and that of the next change
};

}  // namespace strandproof::plant
