// Solenoid valves: once the coil's command acts (delays.hpp), the spool follows with a first-order lag and
// opens once it has passed its overlap.
#pragma once

#include "sim/plant/math.hpp"

namespace strandproof::plant {

// Share of the full opening, for the spool's position 0 to 1.
inline double opening(double spool, double overlap) {
  return within(0.0, (spool - overlap) / (1.0 - overlap), 1.0);
}

// One step of a first-order lag whose input stays; keep = exp(-h/tau). Ends exactly on the input.
inline double lagged(double value, double input, double keep) {
  const double next = input + (value - input) * keep;
  return magnitude(next - input) < 1e-6 ? input : next;
}

}  // namespace strandproof::plant
