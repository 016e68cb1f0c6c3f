// What the jack is: fixed at commissioning, read by the firmware, never written over the link.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/units/units.hpp"

namespace strandproof::port {

enum class Origin : std::uint8_t { simulated = 1, emulated = 2, hardware = 3 };

struct Device {
  std::uint32_t jack_serial = 0;
  std::uint32_t sensor_a_serial = 0;
  std::uint32_t sensor_b_serial = 0;
  std::uint32_t stroke_sensor_serial = 0;
  Origin origin = Origin::hardware;
  units::Pressure pressure_span;          // pressure at 20 mA (4 mA is zero)
  units::Length stroke_span;              // ram position at 20 mA (4 mA is fully in)
  units::Length stroke_usable;            // no pull may pass this position
  units::Force load_cell_span;            // 0: no cell fitted
  units::Pressure pressure_rig_rating;    // cap of the rig mode
  units::Pressure pressure_limit;         // raw limit of the frame, below the relief valve's harm
  std::array<std::uint8_t, 32> secret{};  // of this jack alone; session nonces are made with it
};

}  // namespace strandproof::port
