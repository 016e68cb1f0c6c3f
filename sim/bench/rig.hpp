// A calibration on the rig: the same jack against a spring pack in series with a reference cell, worked
// through the controller's rig mode. The person creeps up to each set point from below and reads the
// pressures and the reference cell over the same window while the ram still creeps: friction is that of
// a moving ram, as in the pull. One decreasing run follows the last increasing one.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/scenario.hpp"
#include "sim/bench/timeline.hpp"

namespace strandproof::sim {

struct RigRow {
  int run = 1;
  bool up = true;
  bool zero = false;
  double set_point_n = 0.0;
  double pressure_a_pa = 0.0, pressure_b_pa = 0.0, reference_n = 0.0, stroke_m = 0.0, oil_degc = 0.0;
};

struct RigRuns {
  std::vector<RigRow> rows;
  std::string failure;  // empty if all runs were made
};

// ISO 7500-1 (from memory): the instrument is exercised three times to its largest force before the readings,
// or its first zero is that of a ram which has not been loaded.
inline constexpr int rig_exercises = 3;

// The bench must hold the rig's plant. exercises: 0 where only the loaded readings are used. Values are read
// back from the raw samples, as a person would.
RigRuns run_rig(Bench& bench, const Scenario& scenario, int exercises = 0);

// The file that `strandproof gauge fit` reads. taken_at: ISO 8601 with offset; throws std::runtime_error
// without a year.
std::string rig_csv(const RigRuns& runs, const Scenario& scenario, const std::string& taken_at);

// ---- a plain table from the runs ----------------------------------------------------------------

// One column of a gauge table: rising points.
struct Column {
  std::vector<std::uint32_t> pressure_mbar, force_n;
  double intercept_n = 0.0, newton_per_pascal = 0.0;  // of the straight line that was fitted
};
struct PlainTable {
  Column a_increasing, a_decreasing, b_increasing, b_decreasing;
};

// Least squares straight line per channel and branch, six points on it. For a fit with its statistics use
// the host tool; this one lets a pull be simulated without it. Throws std::runtime_error if a branch has
// fewer than three points or does not rise.
PlainTable fit_plain_table(const RigRuns& runs);

// The force that the noise-free table gives for the true state at the end of settle: its line at the last
// moving pressure, less stiffness times the creep back (interface.md, force at end of settle).
double table_force(const PlainTable& table, const Snapshot& moving, const Snapshot& settled,
                   double stiffness);

}  // namespace strandproof::sim
