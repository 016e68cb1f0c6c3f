// What control is given each tick and what it gives back. Plain values: control calls no port.
#pragma once

#include <bit>
#include <cstdint>

#include "firmware/units/units.hpp"

namespace strandproof::control {

// A loop current as the board measured it, in counts of 24 mA / 65535.
struct AnalogCounts {
  std::uint16_t pressure_a = 0;
  std::uint16_t pressure_b = 0;
  std::uint16_t stroke = 0;
  std::uint16_t load_cell = 0;
  std::uint16_t oil_temperature = 0;
};

struct Switches {  // true: healthy or pressed, as firmware/port/sample.hpp has them
  bool emergency_stop_1 = false, emergency_stop_2 = false;
  bool barrier_1 = false, barrier_2 = false;
  bool enable_1 = false, enable_2 = false;
  bool advance = false, lower = false, select = false, confirm = false, reset = false;
  bool grip_closed = false, contactor_mirror = false, shut_off_mirror = false;
  bool oil_level_ok = false, supply_ok = false;
};

struct Inputs {
  units::Ticks now = 0;
  AnalogCounts analog;
  Switches is;
  bool table_changed = false;  // the check sum over the live gauge table no longer holds (H20)
};

struct Commands {
  bool motor = false, fast_stage = false;
  bool advance_valve = false, lower_valve = false, seat_valve = false, shut_off_open = false;
  bool horn = false, lamp = false;
  // As one number: these are asked for each tick.
  friend constexpr bool operator==(const Commands& a, const Commands& b) {
    return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
  }
  friend constexpr Commands operator|(const Commands& a, const Commands& b) {
    return std::bit_cast<Commands>(std::bit_cast<std::uint64_t>(a) | std::bit_cast<std::uint64_t>(b));
  }
};

}  // namespace strandproof::control
