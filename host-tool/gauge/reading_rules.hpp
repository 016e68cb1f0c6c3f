// What each reading of a calibration must keep: a sensor that is off, a wrong line or a slipped unit is found
// here and named, before a curve smooths it over. Limits are common practice of ours, wide enough for a sound
// rig; none is of a standard.
#pragma once

#include <cstdint>
#include <string>

#include "host-tool/gauge/runs.hpp"
#include "host-tool/gauge/table.hpp"

namespace strandproof::host::gauge {

// From its first reading to its last one a calibration takes no longer.
inline constexpr std::int64_t longest_calibration_s = 7LL * 86'400;

// How far a channel may read from zero at no load, mbar: 0.5 % of its largest pressure, and 1 bar, which
// seals may hold.
double zero_limit_mbar(double largest_mbar);

// Why this pressure and force are of no jack for one strand: above 2,000 bar or 10 MN, or a piston below 12
// or above 200 cm2. That is what a unit makes that is not the numbers' own. "" for one that can be.
std::string no_jack(double mbar, double n);

// Throws Problem (refused) with file:line and remedy:
// - what no_jack says of the largest reading;
// - a channel that reads more than zero_limit_mbar at no load;
// - channels that differ by more than 2 % of the reading and 1 % of the largest;
// - a reference that lies more than 10 % of the set point, or 1 % of the largest force, from its set point;
// - a stroke outside 0 to 2 m, 1 mm of sensor error allowed;
// - a time more than a minute before the reading before it of the same series;
// - a time more than 7 days before the last one of the file: that is another calibration.
void check_readings(const Runs& runs);

// Throws Problem (refused): a reading more than a day after now_s, UTC. Clocks of the rig and of this
// computer differ by less.
void check_clock(const Runs& runs, std::int64_t now_s);

// Throws Problem (refused) with file:line and remedy: a reading from a fifth of the largest force that lies
// more than 1 % off the curve of its own branch; a decreasing reading more than 0.5 % and 200 N below the
// increasing curve, or off it by more than split_percent of itself and 2 kN (both branches are of one jack
// with one friction).
void check_curves(const Runs& runs, const Table& table);

}  // namespace strandproof::host::gauge
