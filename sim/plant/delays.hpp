// A pure delay between outputs and what they do: a coil's command acts some whole ticks later, the motor's
// contactor at once.
#pragma once

#include <array>
#include <cstdint>

#include "sim/plant/model.hpp"
#include "sim/plant/plant.hpp"

namespace strandproof::plant {

class Delays {
 public:
  static constexpr unsigned longest = 500;  // ticks of one millisecond
  explicit Delays(double seconds)
      : ticks_{static_cast<unsigned>(within(0.0, seconds * 1e3, longest) + 0.5)} {}
  // The outputs of this tick in, what acts now out.
  Acting tick(const Drive& d) {
    past_[now_] = static_cast<std::uint8_t>(unsigned{d.fast_stage} | unsigned{d.advance} << 1U |
                                            unsigned{d.lower} << 2U | unsigned{d.seat} << 3U |
                                            unsigned{d.shut_off_open} << 4U);
    const unsigned coils = past_[now_ >= ticks_ ? now_ - ticks_ : now_ + room - ticks_];
    now_ = now_ + 1 == room ? 0 : now_ + 1;
    const auto on = [coils](unsigned n) { return (coils >> n & 1U) != 0; };
    return {.motor = d.motor,
            .fast_stage = on(0),
            .advance = on(1),
            .lower = on(2),
            .seat = on(3),
            .shut_off = on(4)};
  }

 private:
  static constexpr unsigned room = longest + 1;
  std::array<std::uint8_t, room> past_{};  // a bit a coil
  unsigned ticks_ = 0, now_ = 0;
};

}  // namespace strandproof::plant
