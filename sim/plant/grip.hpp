// The jack's grip: its jaws hold the strand's tail against the pull and slide along it the other way.
#pragma once

#include "sim/plant/math.hpp"
#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

// x_grip, the stroke at which the grip took the strand, after a step that ended at this stroke with the
// strand at u at the chuck. Going back with the load on the chuck the ram slackens the tail; from there on
// the grip slides and takes the strand anew wherever the ram turns, after its jaws have drawn in.
inline double grip_after(const Grip& g, double x, double x_grip, double u) {
  const double slides = u - g.draw_in;
  return x - x_grip < slides ? x - slides : x_grip;
}

}  // namespace strandproof::plant
