// By what the readings of calibration runs are known again, in another file, with other times or fitted with
// other options: a withdrawn calibration does not come back in new clothes, and a copied series shows.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "host-tool/gauge/runs.hpp"

namespace strandproof::host::gauge {

std::int64_t first_taken_s(const Runs& runs);  // the earliest reading, UTC

// A CRC-32C (eight hexadecimal digits) of each loaded reading's direction, pressures in tenths of a mbar and
// force in N, with a space between them, in the order of the file. It knows a reading again; it proves
// nothing.
std::string reading_marks(const Runs& runs);

// More than half of the marks of the shorter text stand in the other one as well. Two calibrations of one
// jack share a reading to the digit by chance alone: 1 in some 10,000.
bool share_readings(std::string_view marks, std::string_view other);

// The first series, from 1, whose loaded readings are those of a series before it, all of them; 0: none.
int copied_series(const Runs& runs);

// Every loaded reading has the same pressure on both channels.
bool channels_are_one(const Runs& runs);

}  // namespace strandproof::host::gauge
