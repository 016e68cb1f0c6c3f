#include "firmware/control/instruction.hpp"

namespace strandproof::control {
namespace {

// Each is written so that a NaN fails it.
bool forces_plausible(const PullInstruction& i) {
  return i.initial >= smallest_initial && i.initial < i.seated && i.seated <= i.jack &&
         i.jack <= largest_force && i.limit <= largest_force;
}

bool elongations_plausible(const PullInstruction& i) {
  const units::Length zero;
  return i.elongation_min > zero && i.elongation_min < i.elongation && i.elongation < i.elongation_max &&
         i.draw_in >= zero && i.draw_in <= i.draw_in_max && i.slack_max > zero;
}

// The stiffness and the elongation must tell the same story: k times elongation against the force
// wanted from the datum, within a quarter (abutments, draw-in of the dead end and the strand's curve
// lie well inside; a slipped decimal does not).
bool stiffness_plausible(const PullInstruction& i) {
  if (!(i.stiffness.si() > 0.0F) || !(i.stiffness_uncertainty >= 0.0F && i.stiffness_uncertainty < 0.2F)) {
    return false;
  }
  const float ratio = (i.stiffness * i.elongation) / (i.jack - i.initial);
  return ratio > 0.75F && ratio < 1.25F;
}

}  // namespace

Refusal check(const PullInstruction& i) {
  if (!forces_plausible(i) || !elongations_plausible(i) || !stiffness_plausible(i) ||
      !(i.force_window > 0.0F && i.force_window <= 0.1F)) {
    return Refusal::not_plausible;
  }
  return i.jack <= i.limit ? Refusal::none : Refusal::above_limit;
}

}  // namespace strandproof::control
