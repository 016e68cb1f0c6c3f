// The books of a pull in several strokes: where a stroke ends, what the chuck took, and where the next one
// lifts the strand off it.
#include "firmware/control/pull.hpp"

namespace strandproof::control {

// At the datum and at each lift-off, from what is left to do and the ram's place.
void Pull::plan() {
  if (one_stroke_ || report_.re_bites + 1U >= strokes_max) {
    return;
  }
  const units::Length at = m_.stroke_mean64();
  const Room room{.now = usable_ - s_.stroke_margin - at, .next = room_of_next(i_, usable_, began_, s_)};
  const Bite bite = plan_bite(room, i_.elongation_max - elongation(), s_);
  if (bite.strokes > 1) {  // else on to the jack force, or to the stroke's end and its row
    bite_at_ = at + bite.travel;
  }
}

void Pull::bitten() {
  if (!report_.settled) {
    return;  // seated once more from a stop: the books have this bite
  }
  Stroke& s = report_.stroke[report_.re_bites++];
  s.end = report_.settle;
  s.draw_in = drawn_in();
  s.locked = report_.settle - i_.stiffness * s.draw_in;
  s.lift_off = units::Force{};
  carried_ = report_.elongation - s.draw_in;
  report_.settled = false;
  between_ = true;
  bite_at_ = never;
}

void Pull::begin_take_up() {
  seating_ = false;
  turn_ = m_.stroke_mean64();
  tail_ = Tail::slack;
  now_force_ = units::Force{};
  turned_ = false;
}

// Both channels, each by its own column: the locked force was read so. 0 where one lies outside its column.
units::Force Pull::both(const GaugeTable& table) const {
  const Reading a = table.a_increasing.at(m_.pressure(m_.a.mean64()));
  const Reading b = table.b_increasing.at(m_.pressure(m_.b.mean64()));
  return a.inside && b.inside ? 0.5F * (a.force + b.force) : units::Force{};
}

// The chuck holds the strand and only the tail is stretched, until the force passes the chuck's: from there
// on the ram moves the strand. Both lines are straight: the lift-off is where they meet, seen when the ram is
// a good way past it.
void Pull::take_up_tick(const GaugeTable& table, bool no_load) {
  const units::Force locked = report_.stroke[report_.re_bites - 1U].locked;
  const units::Length x = m_.stroke_mean64();
  now_force_ = both(table);
  turned_ = turned_ || !no_load || x - turn_ > s_.turned;
  switch (tail_) {
    case Tail::slack:
      if (now_force_ >= locked * s_.tail_low) {
        tail_ = Tail::low;
        tail_x_ = x;
        tail_force_ = now_force_;
      }
      return;
    case Tail::low:
      if (now_force_ >= locked * s_.tail_high) {
        const units::Stiffness steep = (now_force_ - tail_force_) / (x - tail_x_);
        tail_ = steep >= least_steep() ? Tail::high : Tail::lost;
        tail_x_ = x;
        tail_force_ = now_force_;
        metre_per_newton_ = 1.0F / steep.si();
      }
      return;
    case Tail::high: {
      const float off = (x - tail_x_).si() - (now_force_ - tail_force_).si() * metre_per_newton_;
      if (off >= s_.lift_travel.si()) {
        tail_ = Tail::lifted;
        const units::Length since =
            units::Length::from_si(off / (1.0F - i_.stiffness.si() * metre_per_newton_));
        lift_x_ = x - since;
        lift_force_ = now_force_ - i_.stiffness * since;
      }
      return;
    }
    default:
      return;
  }
}

// A strand that has slipped or broken on the chuck lifts off too low or never, one that is held too high.
Pull::LiftOff Pull::judge_lift_off() const {
  const units::Force locked = report_.stroke[report_.re_bites - 1U].locked;
  const units::Force window = locked * s_.lift_off_window + s_.lift_off_floor;
  if (lifted_off()) {
    const units::Force off = abs(lift_force_ - locked);
    return {.value = off, .limit = window, .lost = !(off <= window)};
  }
  const bool gone = tail_ == Tail::lost || !(m_.stroke_mean64() - turn_ <= s_.take_up_max);
  const units::Force off = gone ? locked - now_force_ : now_force_ - locked - i_.stiffness * s_.lift_travel;
  return {.value = off, .limit = window, .lost = gone || !(off <= window)};
}

}  // namespace strandproof::control
