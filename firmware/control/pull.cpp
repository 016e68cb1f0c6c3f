#include "firmware/control/pull.hpp"

namespace strandproof::control {
namespace {

constexpr std::uint32_t rest_ticks = 500;  // run-down, lag and a mean of 200 ms have passed by then
constexpr float slope_from = 0.15F, slope_to = 0.40F;     // of the jack force
constexpr float release_high = 0.7F, release_low = 0.2F;  // of the force at end of settle
// Released onto wedges only the tail in the jack relaxes: as many times stiffer than the whole strand as it
// is shorter, 2 even for a tail as long as its strand.
constexpr float wedges_hold = 2.0F;
// Of planned elongation and jack force: five deviations of a mean of 64 strokes and two of a force just after
// a change of flow, at noise of 0.1 % of span a sample.
constexpr float curve_tolerance = 1.0e-3F;

}  // namespace

units::Force ForcePair::mean() const {
  if (a.valid && b.valid) {
    return 0.5F * (a.force + b.force);
  }
  return a.valid ? a.force : b.force;
}

float ForcePair::rate() const {
  if (a.valid && b.valid) {
    return 0.5F * (a.rate + b.rate);
  }
  return a.valid ? a.rate : b.rate;
}

void Pull::arm(const PullInstruction& i, units::Length usable, units::Ticks now) {
  i_ = i;
  usable_ = usable;
  began_ = m_.stroke_mean64();
  back_to_ = back_to(began_, s_);
  one_stroke_ = in_one_stroke(i, usable, began_);
  bite_at_ = never;
  between_ = seating_ = gripped_anew_ = false;
  zero_ = units::Length{};
  report_ = PullReport{};
  report_.started = now;
  report_.zero_a = m_.pressure(m_.a.mean200());
  report_.zero_b = m_.pressure(m_.b.mean200());
  run_on_.reset();
  curve_.start({.um = i.elongation.si() * 1.0e6F * curve_tolerance, .n = i.jack.si() * curve_tolerance});
  datum_taken_ = rest_taken_ = slope_begun_ = high_taken_ = low_taken_ = false;
}

inline CurvePoint Pull::point(units::Ticks now, units::Length e, units::Force f) const {
  return {.at_ms = static_cast<std::uint32_t>(now - report_.started),
          .elongation_um = units::to_integer(e.si() * 1.0e6F),
          .force_n = units::to_integer(f.si())};
}

void Pull::enter_slack() {
  slack_start_ = m_.stroke_mean64();
}

void Pull::cut(const ForcePair& f) {
  at_cut_ = f;
  rest_taken_ = false;
  run_on_.cut(m_.stroke_line());
}

void Pull::take_datum(units::Ticks now) {
  run_on_.rest(m_.stroke_mean200());
  if (datum_taken_) {
    return;  // carried, never taken again
  }
  datum_taken_ = true;
  zero_ = report_.datum_stroke = m_.stroke_mean200();
  report_.datum_force = at_cut_.mean() + units::Force::from_si(at_cut_.rate() * run_on_.seconds());
  report_.run_on_s = run_on_.seconds();
  curve_.keep(point(now, units::Length{}, report_.datum_force));
  plan();
}

void Pull::track(const ForcePair& f, units::Ticks now) {
  const units::Force force = f.mean();
  if (force > report_.peak) {
    report_.peak = force;
  }
  curve_.add(point(now, elongation(), force));
  track_slope(force);
}

// Of a further stroke: the elongation goes on from what the chuck had let go.
void Pull::lift_off(units::Ticks now) {
  report_.stroke[report_.re_bites - 1U].lift_off = lift_force_;
  const units::Length was = zero_;
  if (gripped_anew_) {  // the strand may have come some way off the chuck before: what it lifts off at tells
    carried_ = carried_ + (lift_force_ - report_.stroke[report_.re_bites - 1U].locked) / i_.stiffness;
  }
  zero_ = lift_x_ - carried_;
  between_ = seating_ = gripped_anew_ = false;
  slope_stroke_ += zero_ - was;
  curve_.keep(point(now, carried_, lift_force_));
  plan();
}

// A mean of 16 samples: the line of a moving pull would reach across the break.
void Pull::track_fall(const GaugeTable& table, units::Ticks now) {
  const Reading r = table.a_increasing.at(m_.pressure_now());
  if (datum_taken_ && r.inside) {
    curve_.add(point(now, elongation_held(), r.force));
  }
}

inline void Pull::track_slope(units::Force f) {
  if (!slope_begun_ && f >= i_.jack * slope_from) {
    slope_begun_ = true;
    slope_force_ = f;
    slope_stroke_ = m_.stroke_line().at;
  } else if (slope_begun_ && report_.stiffness_seen.si() == 0.0F && f >= i_.jack * slope_to) {
    report_.stiffness_seen = (f - slope_force_) / (m_.stroke_line().at - slope_stroke_);
  }
}

void Pull::settle_tick(std::uint32_t ticks) {
  if (ticks >= rest_ticks && !rest_taken_) {
    rest_ = m_.stroke_mean200();
    rest_taken_ = true;
  }
}

// Last moving force on the increasing branch less k times the creep back. Raw pressure is not looked at:
// it falls by part of the friction band at an unchanged strand force.
void Pull::end_of_settle(units::Ticks now) {
  const units::Force last_moving = at_cut_.mean() + units::Force::from_si(at_cut_.rate() * run_on_.seconds());
  const auto moving = [&](const ForceLine& l) {
    return l.valid ? l.force + units::Force::from_si(l.rate * run_on_.seconds()) : units::Force{};
  };
  report_.settle_a = moving(at_cut_.a);
  report_.settle_b = moving(at_cut_.b);
  const units::Length creep = rest_ - m_.stroke_mean200();
  report_.settle = creep > s_.creep_floor ? last_moving - i_.stiffness * creep : last_moving;
  report_.peak = last_moving > report_.peak ? last_moving : report_.peak;
  report_.elongation = m_.stroke_mean200() - zero_;
  report_.settled = true;
  curve_.keep(point(now, report_.elongation, report_.settle));
  const units::Pressure pa = m_.pressure(m_.a.mean200());
  const units::Pressure pb = m_.pressure(m_.b.mean200());
  const units::Pressure band = 0.5F * (pa + pb) * s_.accept_of_reading;
  const units::Pressure floor =
      m_.pressure(LoopSignal::zero_counts + LoopSignal::span_counts) * s_.accept_of_span;
  report_.channels_agree = abs(pa - pb) <= (band > floor ? band : floor);
}

bool Pull::top_up_due() const {
  return report_.settled && report_.settle < i_.jack * (1.0F - s_.top_up_below);
}

bool Pull::fell_too_far() const {
  return rest_ - m_.stroke_mean200() > s_.creep_floor && fallen() > fall_allowed();
}

void Pull::begin_seat() {
  gripped_anew_ = between_;
  seating_ = true;
  seat_start_ = m_.stroke_mean200();
  high_taken_ = low_taken_ = false;
}

void Pull::seat_tick(const GaugeTable& table) {
  const GaugeColumn& column = table.a_decreasing.empty() ? table.a_increasing : table.a_decreasing;
  const Reading r = column.at(m_.pressure_now());
  const units::Length at = m_.length(m_.stroke.mean16());
  if (!high_taken_ && r.inside && r.force <= report_.settle * release_high) {
    high_taken_ = true;
    stroke_high_ = at;
  }
  if (high_taken_ && !low_taken_ && r.force <= report_.settle * release_low) {
    low_taken_ = true;
    stroke_low_ = at;
  }
}

units::Stiffness Pull::least_steep() const {
  return wedges_hold * i_.stiffness;
}

units::Stiffness Pull::steepness() const {
  return (report_.settle * (release_high - release_low)) / (stroke_high_ - stroke_low_);
}

// While the jack is released the strand follows the ram until the wedges hold; then only the tail relaxes,
// on a line many times steeper. Where that line meets the force, the wedges took hold.
units::Length Pull::drawn_in() const {
  const units::Length to_hold = (report_.settle * (1.0F - release_high)) / steepness();
  const units::Length draw_in = seat_start_ - (stroke_high_ + to_hold);
  return draw_in > units::Length{} ? draw_in : units::Length{};
}

void Pull::end(units::Ticks now, Verdict forced) {
  report_.ended = now;
  curve_.close();
  report_.verdict = forced;
  if (!report_.settled) {  // those of a stroke before are not the pull's; they stand with their stroke
    report_.settle = units::Force{};
    report_.elongation = units::Length{};
    return;
  }
  if (forced != Verdict::none || !low_taken_) {
    return;
  }
  if (!(steepness() >= least_steep())) {
    // The strand went back with the ram: nothing holds it (H53).
    report_.draw_in = seat_start_ - stroke_low_;
    report_.locked = units::Force{};
    judge();
    return;
  }
  report_.draw_in = drawn_in();
  report_.locked = report_.settle - i_.stiffness * report_.draw_in;
  judge();
}

void Pull::judge() {
  const auto bites_good = [&] {
    for (unsigned n = 0; n < report_.re_bites; ++n) {
      if (!(report_.stroke[n].draw_in <= i_.draw_in_max)) {
        return false;
      }
    }
    return true;
  };
  const bool force = report_.channels_agree &&
                     abs(report_.locked - i_.seated) <= i_.seated * i_.force_window &&
                     report_.draw_in <= i_.draw_in_max && bites_good();
  const bool elongation = report_.elongation >= i_.elongation_min && report_.elongation <= i_.elongation_max;
  report_.verdict = force && elongation ? Verdict::within_limits
                    : elongation        ? Verdict::outside_force
                    : force             ? Verdict::outside_elongation
                                        : Verdict::outside_both;
}

}  // namespace strandproof::control
