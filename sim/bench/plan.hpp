// The plan of one pull by the trade's formulas (trade.md 2.2), from strand and bed; what the scenario
// gives explicitly goes before. SI.
#pragma once

#include "sim/bench/scenario.hpp"

namespace strandproof::sim {

struct PlannedPull {
  double initial = 0.0, seated = 0.0, jack = 0.0, limit = 0.0;  // N
  double stiffness = 0.0;              // N/m, that the ram sees: strand, tail and abutments in series
  double stiffness_uncertainty = 0.0;  // relative
  double elongation = 0.0, elongation_min = 0.0, elongation_max = 0.0;  // m, ram travel from the datum
  double draw_in = 0.0, draw_in_max = 0.0, slack_max = 0.0;             // m
  double force_window = 0.0;                                            // relative
};

// AE/L, N/m: what the draw-in acts on once the jack is off.
double strand_stiffness(const Strand& strand);
PlannedPull plan_pull(const Scenario& scenario);

}  // namespace strandproof::sim
