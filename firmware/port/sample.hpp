// What a board hands to the firmware each tick, and what it gets back: raw counts in, bits out.
// The simulated jack and the Cortex-M4F board fill exactly this; so does the lock-step frame.
#pragma once

#include <cstdint>

namespace strandproof::port {

// Analog inputs are loop currents in counts: 0 to 65535 is 0 to 24 mA (0.366 uA a count), so that
// the NE 43 failure levels up to 21 mA lie well inside the converter's range.
inline constexpr float milliampere_per_count = 24.0F / 65535.0F;

enum class Input : std::uint8_t {  // bit positions of RawSample::digital; 1 is the healthy or pressed level
  emergency_stop_1 = 0,            // 1: not pressed
  emergency_stop_2 = 1,
  barrier_1 = 2,  // 1: closed
  barrier_2 = 3,
  enable_1 = 4,  // 1: held in the middle position; released and pressed through both read 0
  enable_2 = 5,
  advance = 6,  // pendant keys, 1: pressed
  lower = 7,
  select = 8,
  confirm = 9,
  reset = 10,
  grip_closed = 11,
  contactor_mirror = 12,  // 1: the pump contactor is closed
  shut_off_mirror = 13,   // 1: the shut-off valve is open
  oil_level_ok = 14,
  supply_ok = 15,  // 0: early warning of a falling supply
};

constexpr std::uint16_t bit(Input i) {
  return static_cast<std::uint16_t>(1U << static_cast<unsigned>(i));
}

struct RawSample {
  std::uint32_t tick = 0;  // rises by one each sample; a repeat or a gap is a missed sample
  std::uint16_t pressure_a = 0;
  std::uint16_t pressure_b = 0;
  std::uint16_t stroke = 0;
  std::uint16_t load_cell = 0;        // 0: not fitted
  std::uint16_t oil_temperature = 0;  // -20 degC at 4 mA, 100 degC at 20 mA
  std::uint16_t digital = 0;

  [[nodiscard]] constexpr bool is(Input i) const { return (digital & bit(i)) != 0; }
};

enum class Output : std::uint8_t {  // bit positions of OutputBits; 0 is the safe value of every one
  motor = 0,
  fast_stage = 1,
  advance_valve = 2,
  lower_valve = 3,
  seat_valve = 4,
  shut_off_valve = 5,  // 1: open
  horn = 6,
  lamp = 7,
};

using OutputBits = std::uint8_t;

constexpr OutputBits bit(Output o) {
  return static_cast<OutputBits>(1U << static_cast<unsigned>(o));
}

}  // namespace strandproof::port
