// How a pull that is longer than the jack's stroke is divided into strokes. Pure lengths: what is there and
// what is wanted; where the ram is and when it stops are others' business.
#pragma once

#include "firmware/control/instruction.hpp"
#include "firmware/control/settings.hpp"

namespace strandproof::control {

// Ram travel that a stroke has for elongation.
struct Room {
  units::Length now;   // left in this stroke
  units::Length next;  // of each stroke after it
};

struct Bite {
  unsigned strokes = 0;  // this one and those to come; 0: it can not be done
  units::Length travel;  // of this stroke; where it is the last, as far as it goes
};

// So few strokes as reach the elongation, and this one about as long as those to come: the last is then never
// a short one, whose stop for the chuck would lie near the jack force.
[[nodiscard]] Bite plan_bite(const Room& room, units::Length wanted, const Settings& s);

// The stroke to which the ram goes back: where the pull began, clear of the end stop.
[[nodiscard]] units::Length back_to(units::Length began, const Settings& s);

// As its plan has it, with all of its slack.
[[nodiscard]] inline bool in_one_stroke(const PullInstruction& i, units::Length usable, units::Length at) {
  return at + i.slack_max + i.elongation <= usable;
}
// Before a pull: its whole slack may be used, and the strand may be as long as its limit. The ram is at `at`.
[[nodiscard]] Bite plan_pull(const PullInstruction& i, units::Length usable, units::Length at,
                             const Settings& s);
[[nodiscard]] units::Length room_of_next(const PullInstruction& i, units::Length usable, units::Length began,
                                         const Settings& s);

}  // namespace strandproof::control
