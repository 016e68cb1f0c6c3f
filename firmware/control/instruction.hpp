// What the person at the jack is asked to pull. Comes over the link, is shown and confirmed at the
// pendant, and is checked here whoever sent it.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/control/names.hpp"
#include "firmware/units/units.hpp"

namespace strandproof::control {

using Name = std::array<char, 24>;  // zero-terminated

struct PullInstruction {
  std::uint32_t id = 0;  // 0: none
  std::uint32_t bed = 0;
  std::uint32_t position = 0;
  std::uint32_t reel = 0;
  std::uint32_t jack_serial = 0;
  Name bed_name{};
  Name strand_name{};
  units::Force initial, seated, jack, limit;
  units::Stiffness stiffness;          // that the ram sees: strand, tail, abutments, splices in series
  float stiffness_uncertainty = 0.0F;  // relative
  units::Length elongation, elongation_min, elongation_max;  // ram travel from the datum at the jack force
  units::Length draw_in, draw_in_max;
  units::Length slack_max;    // ram travel allowed before the initial force
  float force_window = 0.0F;  // relative, of the locked force about the seated force
};

// Bounds compiled in: no instruction passes them, whoever signs it.
inline constexpr units::Force smallest_initial = units::Force::from_si(2.0e3F);
inline constexpr units::Force largest_force = units::Force::from_si(400.0e3F);

// Consistency of the instruction with itself; above_limit or not_plausible, else none.
[[nodiscard]] Refusal check(const PullInstruction& i);

}  // namespace strandproof::control
