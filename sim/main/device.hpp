// The identity of the simulated jack, from the scenario.
#pragma once

#include "firmware/port/device.hpp"
#include "sim/bench/scenario.hpp"

namespace strandproof::sim {

// origin: simulated, or emulated for a twin of the emulated board whose records have to be the same bytes.
port::Device device_of(const Scenario& scenario, port::Origin origin = port::Origin::simulated);

}  // namespace strandproof::sim
