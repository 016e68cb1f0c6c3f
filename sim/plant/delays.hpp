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
  // The outputs of this tick in, what acts now out.
  const Acting& tick(const Drive& d) {
    ++now_;
    if (!same(d, told_)) {
      told_ = d;
      acting_.motor = d.motor;
      coming_.push_back({now_ + ticks_, d});
    }
    if (!coming_.empty() && coming_.front().at == now_) {
      act(coming_.front().drive);
      coming_.erase(coming_.begin());
    }
    return acting_;
  }

 private:
  struct Change {
    std::uint64_t at = 0;
    Drive drive;
  };
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
  std::uint64_t now_ = 0;
};

}  // namespace strandproof::plant
