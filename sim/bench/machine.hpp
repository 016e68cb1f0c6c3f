// From a scenario to the machine that is simulated: the plant's parameters and the board's.
#pragma once

#include "sim/bench/scenario.hpp"
#include "sim/board/board.hpp"

namespace strandproof::sim {

// The jack on its bed, friction scattered as the scenario says.
plant::Parameters bed_plant(const Scenario& scenario);
// The same jack on the calibration rig, its friction not scattered.
plant::Parameters rig_plant(const Scenario& scenario);
// rig: with the reference cell fitted and noise of its own.
BoardParameters board_of(const Scenario& scenario, bool rig);

}  // namespace strandproof::sim
