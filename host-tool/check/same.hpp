// Whether two gauge tables come of one calibration, and whether a later one confirms an earlier one.
#pragma once

#include <optional>
#include <string>

#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::check {

// The same jack and sensors, and on both channels the points of one among those of the other, as
// gauge::share_points has it.
bool same_points(const gauge::HeldTable& a, const gauge::HeldTable& b);

// Both table files come of one calibration: the same text, the same digest of the runs, the readings of one
// among those of the other (gauge::share_readings), the same points, or the same jack, sensors and time of
// calibration. Fitted again with other options, with times moved, with a reading left out, or handed in as
// pairs, it is still that calibration.
bool same_calibration(const std::string& json, const std::string& other);

// The later calibration found the earlier table right: the same jack and sensors, and from a fifth of its
// largest force on each point of both increasing columns within the earlier one's stated expanded
// uncertainty, as far as the later one reaches, which is nine tenths of it at least. A table that states none
// is confirmed by nothing.
bool confirms(const gauge::HeldTable& later, const gauge::HeldTable& earlier);

// Largest relative difference of the increasing columns, at the points of the earlier one from a fifth of its
// largest force, as far as the later one reaches.
double largest_difference(const gauge::HeldTable& later, const gauge::HeldTable& earlier);

// The table of an archive's file; nothing if it can not be read.
std::optional<gauge::HeldTable> table_of(const std::string& json);

// A text of the table file; "" where it has none.
std::string text_at(const std::string& json, const char* object, const char* field);

}  // namespace strandproof::host::check
