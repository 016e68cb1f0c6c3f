// What a row of the interlock table measured, in words: the same on the host's pages and in the simulator.
#pragma once

#include <cstdint>
#include <string>

namespace strandproof::proto {

// A value or limit in the unit of its cause (firmware/control/detectors.cpp): force in N, pressure rise in
// mbar, movement in um, time in ms, or counts of the analog inputs.
std::string measured(std::uint32_t cause, std::int64_t value);

}  // namespace strandproof::proto
