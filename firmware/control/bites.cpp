#include "firmware/control/bites.hpp"

namespace strandproof::control {

Bite plan_bite(const Room& room, units::Length wanted, const Settings& s) {
  if (wanted <= room.now) {
    return {.strokes = 1, .travel = room.now};
  }
  if (!(room.now >= s.bite_min) || !(room.next >= s.bite_min)) {
    return {};
  }
  units::Length held = room.now;
  unsigned strokes = 1;
  for (; held < wanted && strokes < strokes_max; ++strokes) {
    held += room.next;
  }
  if (!(held >= wanted)) {
    return {};
  }
  const units::Length share = wanted * (1.0F / static_cast<float>(strokes));
  const units::Length least = wanted - room.next * static_cast<float>(strokes - 1U);
  const units::Length travel = share > least ? share : least;
  return {.strokes = strokes, .travel = travel < room.now ? travel : room.now};
}

units::Length back_to(units::Length began, const Settings& s) {
  return began > s.back_min ? began : s.back_min;
}

units::Length room_of_next(const PullInstruction& i, units::Length usable, units::Length began,
                           const Settings& s) {
  return usable - s.stroke_margin - back_to(began, s) - i.draw_in_max - s.take_up_loss;
}

Bite plan_pull(const PullInstruction& i, units::Length usable, units::Length at, const Settings& s) {
  return plan_bite(
      {.now = usable - s.stroke_margin - at - i.slack_max, .next = room_of_next(i, usable, at, s)},
      i.elongation_max, s);
}

}  // namespace strandproof::control
