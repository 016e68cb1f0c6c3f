// One random jack from the rig to a judged pull: calibrated through the controller's rig mode, fitted by the
// host tool's own code, then read by the controller's own conditioning and look-up while it pulls a strand.
#pragma once

#include <cstdint>
#include <string>

#include "host-tool/gauge/table.hpp"
#include "tests/accuracy/jacks.hpp"

namespace strandproof::sim {

// Three increasing runs and a decreasing one of each, every one with the friction of its own, as the file
// that `strandproof gauge fit` reads. Throws std::runtime_error if the rig could not be worked.
std::string rig_file(const Case& c);

// The options of `gauge fit` that say what the technician knows. largest_pressure_pa: of the runs.
host::gauge::TableOptions options_of(const Case& c, double largest_pressure_pa);

inline constexpr double display_step_n = 100.0;  // 0.1 kN

// One reading of a moving ram.
struct Use {
  double true_n = 0.0;           // strand force at the live-end chuck
  double pressure_mbar[2] = {};  // as the controller conditions it, channels A and B
  double shown_n[2] = {};        // by the table there, in steps of the display
};

// Pulls a strand with the slow stage through true_n and reads there. Throws std::runtime_error if the force
// is never reached or lies outside the table.
Use pull_through(const Case& c, const host::gauge::Table& table, double true_n);

// What each declared part of the budget did to the reading, in N, to first order: known here because it was
// drawn, and by nobody in a yard.
struct Effects {
  double reference = 0.0, friction = 0.0, temperature = 0.0, sensor = 0.0;
};
Effects effects_of(const Case& c, const host::gauge::Table& table, std::size_t channel, double pressure_mbar);

}  // namespace strandproof::sim
