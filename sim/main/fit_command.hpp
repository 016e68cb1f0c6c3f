// The commands about a jack of one's own: fit, jack.
#pragma once

#include <string>

#include "sim/bench/scenario.hpp"

namespace strandproof::sim {

struct FitChoice {
  std::string trace;      // CSV, sim/fit/recording.hpp
  bool bed = false;       // the trace is of a pull on the bed, not of the rig
  double seconds = 60.0;  // of the trace, at most
  std::string out;        // jack file to write; empty: none
  bool json = false;
};

// Exit code: 0 every value was told and the trace is explained, 1 not so.
int fit(const Scenario& scenario, const FitChoice& choice);

// The jack of a scenario, value by value, each marked measured or assumed; as a jack file.
std::string jack_text(const Scenario& scenario);

}  // namespace strandproof::sim
