// What a person's hands do at the pendant: the only thing that moves oil. Emergency stop and barrier
// are not here: they are faults of the bench, for the person at the pendant does not command them.
#pragma once

#include <cstdint>

#include "firmware/port/sample.hpp"

namespace strandproof::sim {

struct Pendant {
  bool enable_1 = false, enable_2 = false;  // held in the middle position
  bool advance = false, lower = false, select = false, confirm = false, reset = false;

  [[nodiscard]] constexpr bool enabled() const { return enable_1 && enable_2; }
  [[nodiscard]] constexpr std::uint16_t bits() const {
    using port::Input;
    const auto one = [](bool pressed, Input i) {
      return static_cast<std::uint16_t>(pressed ? port::bit(i) : 0U);
    };
    return static_cast<std::uint16_t>(one(enable_1, Input::enable_1) | one(enable_2, Input::enable_2) |
                                      one(advance, Input::advance) | one(lower, Input::lower) |
                                      one(select, Input::select) | one(confirm, Input::confirm) |
                                      one(reset, Input::reset));
  }
  friend constexpr bool operator==(const Pendant&, const Pendant&) = default;
};

}  // namespace strandproof::sim
