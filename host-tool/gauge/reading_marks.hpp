// By what the readings of calibration runs are known again, in another file, with other times, rounded, or
// fitted with other options: a withdrawn calibration does not come back in new clothes, and a copied series
// shows.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "host-tool/gauge/points.hpp"
#include "host-tool/gauge/runs.hpp"

namespace strandproof::host::gauge {

std::int64_t first_taken_s(const Runs& runs);  // the earliest reading, UTC

// Each loaded reading as "u14325/14331/66012" (u or d, both pressures in mbar, force in N), with a space
// between them, in the order of the file. It knows a reading again; it proves nothing.
std::string reading_marks(const Runs& runs);

// Every reading of the shorter text has one in the other that is the same within 10 mbar and 10 N, what
// rounding to 0.01 bar and 0.01 kN may do. Two calibrations of one jack differ by more at some reading. A
// text of fewer than 5 readings is known by nothing.
bool share_readings(std::string_view marks, std::string_view other);

// The same of two columns of points.
bool share_points(const std::vector<Point>& a, const std::vector<Point>& b);

// The first series, from 1, whose loaded readings are those of a series before it, all of them; 0: none.
int copied_series(const Runs& runs);

// Every loaded reading has the same pressure on both channels.
bool channels_are_one(const Runs& runs);

}  // namespace strandproof::host::gauge
