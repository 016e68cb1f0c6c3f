// What calibration runs must keep before a table is made of them.
#pragma once

#include <string>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/runs.hpp"

namespace strandproof::host::gauge {

// ISO 7500-1 verifies from a fifth of the range upwards (from memory).
inline constexpr double judged_from = 0.2;

// "file:line: what", refused. what: with its remedy.
Problem refused_at(const Runs& runs, const RunRow& row, const std::string& what);

double largest_reference(const Runs& runs);

// Throws Problem (refused), each with file:line and remedy:
// - fewer than five set points going up (common practice);
// - a series without a zero before its first and after its last reading, or with one in between: a tare;
// - the reference cell more than 0.5 % of the largest force off at no load (common practice);
// - a temperature outside 10 to 35 degC, or more than 2 K from the mean of its series (ISO 7500-1, from
// memory);
// - a reading after the cell's due date, or a force outside the cell's range;
// - what reading_rules.hpp asks of each reading;
// - class_wanted: a cell of a worse class.
void check_runs(const Runs& runs, const std::optional<int>& class_wanted);

}  // namespace strandproof::host::gauge
