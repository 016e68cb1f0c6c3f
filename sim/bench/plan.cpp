#include "sim/bench/plan.hpp"

#include <algorithm>

namespace strandproof::sim {
namespace {

// Control and table uncertainty taken off the code's limit (interface.md, forces). Engineering choice.
constexpr double limit_allowance = 0.02;
// Modulus from the mill certificate and length by tape: engineering choice, see trade.md 1.2.
constexpr double stiffness_uncertainty = 0.05;
constexpr double slack_margin_m = 0.025;

// EN 1992-1-1, 5.10.2.1(1): the smaller of 0.8 F_m and 0.9 F_p0.1.
double code_limit(const Strand& strand) {
  return std::min(0.8 * strand.breaking_force, 0.9 * strand.proof_force);
}

double in_series(const Scenario& s) {
  const double ae = s.strand.area * s.strand.modulus;
  return 1.0 / (s.strand.length / ae + s.strand.tail / ae + 1.0 / s.bed.abutment_stiffness);
}

}  // namespace

double strand_stiffness(const Strand& strand) {
  return strand.area * strand.modulus / strand.length;
}

PlannedPull plan_pull(const Scenario& s) {
  PlannedPull p;
  p.initial = s.plan.initial;
  p.jack = s.plan.jack_force;
  p.draw_in = s.bed.draw_in_pushed;
  p.draw_in_max = s.bed.draw_in + 0.002;
  p.seated = s.plan.seated > 0.0 ? s.plan.seated : p.jack - strand_stiffness(s.strand) * p.draw_in;
  p.limit = s.plan.limit > 0.0 ? s.plan.limit : (1.0 - limit_allowance) * code_limit(s.strand);
  p.stiffness = s.plan.stiffness > 0.0 ? s.plan.stiffness : in_series(s);
  p.stiffness_uncertainty = stiffness_uncertainty;
  // The dead end draws in while its chuck takes load, nearly all of it below the initial force; the
  // part above it is inside the window.
  p.elongation = s.plan.elongation > 0.0 ? s.plan.elongation : (p.jack - p.initial) / p.stiffness;
  const double window = std::max(s.plan.window * p.elongation, s.plan.window_floor);
  p.elongation_min = p.elongation - window;
  p.elongation_max = p.elongation + window;
  p.slack_max = s.plan.slack_max > 0.0
                    ? s.plan.slack_max
                    : s.strand.slack + p.initial / p.stiffness + s.bed.dead_draw_in + slack_margin_m;
  p.force_window = s.plan.window;
  return p;
}

}  // namespace strandproof::sim
