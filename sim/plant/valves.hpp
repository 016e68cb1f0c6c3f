// Solenoid valves: the coil's command acts after a pure delay, then the spool follows with a first-order lag
// and opens once it has passed its overlap.
#pragma once

#include <array>

#include "sim/plant/math.hpp"
#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

// A command, delayed by a whole number of ticks of one millisecond.
class Delay {
 public:
  static constexpr unsigned longest = 500;  // ticks
  Delay() = default;
  explicit Delay(double seconds) : ticks_{static_cast<unsigned>(within(0.0, seconds * 1e3, longest) + 0.5)} {}
  // The command of this tick in, the one that acts now out.
  bool tick(bool command) {
    past_[now_] = command;
    const unsigned then = now_ >= ticks_ ? now_ - ticks_ : now_ + room - ticks_;
    now_ = now_ + 1 == room ? 0 : now_ + 1;
    return past_[then];
  }

 private:
  static constexpr unsigned room = longest + 1;
  std::array<bool, room> past_{};
  unsigned ticks_ = 0, now_ = 0;
};

// Share of the full opening, for the spool's position 0 to 1.
inline double opening(double spool, double overlap) {
  return within(0.0, (spool - overlap) / (1.0 - overlap), 1.0);
}

// One step of a first-order lag whose input stays; keep = exp(-h/tau). Ends exactly on the input.
inline double lagged(double value, double input, double keep) {
  const double next = input + (value - input) * keep;
  return magnitude(next - input) < 1e-6 ? input : next;
}

}  // namespace strandproof::plant
