// Output leases: below the controller, in the port layer. Each output is granted for a number of
// ticks of the board's own timer; if the controller does not renew it in time, it falls to its safe
// value (0: motor off, valves blocked) unaided. A lost controller, a lost tick or an endless loop in
// the firmware therefore ends in "hold" without a line of the controller running.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/port/sample.hpp"

namespace strandproof::port {

class OutputLease {
 public:
  // Longest hold, board milliseconds, in the order of Output. Motion: 5 ms, which at 50 mm/s is
  // 0.25 mm of strand. Motor and stage: 20 ms (H33). Horn and lamp do not move anything.
  static constexpr std::array<std::uint16_t, 8> longest_hold{20, 20, 5, 5, 5, 5, 500, 500};

  // The controller's renewal: called with the outputs of a finished tick.
  constexpr void renew(OutputBits wanted) {
    wanted_ = wanted;
    age_ = 0;
  }

  // The board's own 1 kHz timer: returns what may be energised in this millisecond.
  [[nodiscard]] constexpr OutputBits drive() {
    OutputBits allowed = 0;
    for (unsigned i = 0; i < longest_hold.size(); ++i) {
      if (age_ < longest_hold[i]) {
        allowed = static_cast<OutputBits>(allowed | (wanted_ & (1U << i)));
      }
    }
    if (age_ < UINT16_MAX) {
      ++age_;
    }
    return allowed;
  }

 private:
  OutputBits wanted_ = 0;
  std::uint16_t age_ = UINT16_MAX;
};

}  // namespace strandproof::port
