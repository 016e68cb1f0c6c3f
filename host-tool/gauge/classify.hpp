// The class of a fitted table from its runs.
#pragma once

#include "host-tool/gauge/table.hpp"

namespace strandproof::host::gauge {

// Errors of each set point of the increasing branch from a fifth of the largest force upwards, of both
// channels. The indicated force of a level is the table's at the mean pressure; each reference is brought to
// that pressure along its branch. A class is stated only with complete limits, three series at five levels,
// and a declared reference cell; it is never better than the cell's.
IsoClass classify(const Runs& runs, const Table& table);

}  // namespace strandproof::host::gauge
