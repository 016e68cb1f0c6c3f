// What each interlock row asks of the measurements: its value, its limit, and whether it is active. Inline,
// so that a tick that wants to know the last alone (detectors.cpp) pays for no more than that.
#pragma once

#include "firmware/control/detectors.hpp"

namespace strandproof::control {

namespace detector_rows {

inline float larger(float a, float b) {
  return a > b ? a : b;
}

inline std::uint32_t longest_ms(State s, const Settings& of) {  // 0: no bound
  switch (s) {
    case State::slack:
      return of.slack_max_ms;
    case State::main_pull:
      return of.main_max_ms;
    case State::slow_pull:
      return of.slow_max_ms;
    case State::seat:
      return of.seat_max_ms;
    case State::take_up:
      return of.take_up_max_ms;
    case State::lowering:
      return of.lower_max_ms;
    case State::re_stroke:
      return of.re_stroke_max_ms;
    default:
      return 0;
  }
}

}  // namespace detector_rows

inline Look Detectors::phase() const {
  const std::uint32_t limit = detector_rows::longest_ms(state_, s_);
  return {.value = static_cast<float>(phase_ms_),
          .limit = static_cast<float>(limit),
          .judged = limit != 0,
          .active = limit != 0 && phase_ms_ > limit};
}

// ---- signals

inline Look Detectors::over_force() const {
  const auto beyond = [&](const Channel& c, std::uint16_t limit, float newton_per_count) {
    return (c.mean64() - static_cast<float>(limit)) * newton_per_count - over_margin_;
  };
  const float a = beyond(m_.a, limits_.a_force, limits_.newton_per_count_a);
  const float b = beyond(m_.b, limits_.b_force, limits_.newton_per_count_b);
  const float over = a > b ? a : b;
  return {.value = i_.limit.si() + over,
          .limit = i_.limit.si(),
          .judged = true,
          .active = over_a_ >= 2 || over_b_ >= 2 || !(over <= 0.0F)};
}

inline Look Detectors::dead_head() const {
  bool steep = false;
  float rise = 0.0F;
  units::Pressure allowed = driven_ms_ < s_.starting_ms ? s_.dead_head_rise_starting
                            : state_ == State::take_up  ? s_.dead_head_rise_tail
                                                        : s_.dead_head_rise;
  if (in_pull_) {
    const float speed = m_.stroke_line().speed;
    allowed +=
        units::Pressure::from_si(speed > 0.0F ? 0.024F * 3.0F * limits_.pascal_per_metre * speed : 0.0F);
    // Both channels: a single one that jumps is a matter of the channels, not of the ram.
    const auto rise_of = [&](const Channel& c) {
      return (m_.pressure(c.mean_ago(0, 4)) - m_.pressure(c.mean_ago(24, 4))).si();
    };
    const float a = rise_of(m_.a);
    const float b = rise_of(m_.b);
    rise = a < b ? a : b;
    steep = !(rise <= allowed.si());
  }
  return {.value = rise / 100.0F,
          .limit = allowed.si() / 100.0F,
          .judged = true,
          .active = over_frame_ >= 2 || steep};
}

inline Look Detectors::stuck() const {
  const auto still = [&](const Still& s) { return s.ticks >= s_.stuck_ticks; };
  const float a = m_.a.mean64();
  const float b = m_.b.mean64();
  const float x = m_.stroke.mean64();
  // Counts of pressure that the stiffness gives for a count of stroke.
  const float metre_per_count = jack_.stroke_span.si() / LoopSignal::span_counts;
  const float gain = i_.stiffness.si() * metre_per_count / limits_.newton_per_count_a;
  const auto expected = [&](const Still& s, float other_now) {
    return detector_rows::larger(other_now - s.other, gain * (x - s.stroke));
  };
  const float due_a = expected(still_a_, b);
  const float due_b = expected(still_b_, a);
  const float due_x = (0.5F * (a + b) - still_stroke_.other) / gain;
  const auto is_stuck = [&](const Still& s, float due) { return still(s) && due >= s_.stuck_counts; };
  const bool stuck_a = is_stuck(still_a_, due_a);
  const bool stuck_b = is_stuck(still_b_, due_b);
  const bool stuck_x = moving_under_load() && is_stuck(still_stroke_, due_x);
  const auto while_still = [&](const Still& s, float due) { return still(s) ? due : 0.0F; };
  const float due = stuck_a   ? due_a
                    : stuck_b ? due_b
                    : stuck_x
                        ? due_x
                        : detector_rows::larger(while_still(still_a_, due_a), while_still(still_b_, due_b));
  return {.value = due, .limit = s_.stuck_counts, .judged = true, .active = stuck_a || stuck_b || stuck_x};
}

inline Look Detectors::channels() const {
  const float a = m_.a.mean200() - LoopSignal::zero_counts;
  const float b = m_.b.mean200() - LoopSignal::zero_counts;
  const float apart = a > b ? a - b : b - a;
  const float by_reading = s_.trip_of_reading * 0.5F * (a + b);
  const float by_span = s_.trip_of_span * LoopSignal::span_counts;
  const float limit = by_reading > by_span ? by_reading : by_span;
  return {.value = apart, .limit = limit, .judged = true, .active = !(apart <= limit)};
}

// ---- strand

// Full break: both channels fall together by more than any command of our own makes them fall.
inline Look Detectors::strand_break() const {
  struct Fall {
    float drop, limit;
    bool armed;
    [[nodiscard]] bool breaks() const { return armed && !(drop <= limit); }
  };
  const auto fall_of = [&](const Channel& c) {
    const float before = c.before() - LoopSignal::zero_counts;
    return Fall{.drop = before + LoopSignal::zero_counts - c.mean_ago(0, 3),
                .limit = detector_rows::larger(s_.break_drop * before, s_.break_drop_counts),
                .armed = before > s_.break_armed_counts};
  };
  const Fall a = fall_of(m_.a);
  const Fall b = fall_of(m_.b);
  const Fall& less = a.drop < b.drop ? a : b;  // both must fall
  return {.value = less.drop,
          .limit = less.limit,
          .judged = a.armed && b.armed,
          .active = a.breaks() && b.breaks() && m_.a_good() && m_.b_good()};
}

inline Look Detectors::no_motion() const {
  const bool slowly = state_ == State::take_up || going_back_;
  const std::uint16_t limit = slowly ? s_.no_motion_slow_ms : s_.no_motion_ms;
  return {.value = static_cast<float>(idle_motion_ms_),
          .limit = static_cast<float>(limit),
          .judged = advancing_ || going_back_,
          .active = (advancing_ || going_back_) && idle_motion_ms_ >= limit};
}

// Rows of the books, each in its states. Always inline: where the row is known, nothing of the others is
// left.
[[gnu::always_inline]] inline Look Detectors::of_pull(Cause c, const Pull& pull) const {
  constexpr float um = 1.0e6F;
  const auto row = [](float value, float limit, bool judged, bool met) {
    return Look{.value = value, .limit = limit, .judged = judged, .active = judged && met};
  };
  const bool extending = state_ == State::main_pull || state_ == State::slow_pull;
  const bool taking_up = state_ == State::take_up;
  switch (c) {
    case Cause::elongation_high: {
      const float e = pull.elongation().si();
      return row(e * um, i_.elongation_max.si() * um, extending, !(e <= i_.elongation_max.si()));
    }
    case Cause::elongation_low: {
      const float e = pull.elongation().si();
      return row(e * um, i_.elongation_min.si() * um,
                 state_ == State::settle && pull.report().settled && !biting_,
                 !(e >= i_.elongation_min.si()));
    }
    case Cause::stroke_end: {
      const units::Length x = m_.stroke_mean64();
      return row(x.si() * um, jack_.stroke_usable.si() * um, extending || taking_up || state_ == State::slack,
                 !(x <= jack_.stroke_usable));
    }
    case Cause::h53_force_lost: {
      if (!taking_up) {
        return {};
      }
      const Pull::LiftOff l = pull.judge_lift_off();
      return row(l.value.si(), l.limit.si(), true, l.lost);
    }
    case Cause::slack_limit: {
      const float slack = pull.slack_used().si();
      return row(slack * um, i_.slack_max.si() * um, state_ == State::slack, !(slack <= i_.slack_max.si()));
    }
    default:  // settle_fall
      return row(pull.fallen().si(), pull.fall_allowed().si(), state_ == State::settle && pull.resting(),
                 pull.fell_too_far());
  }
}

}  // namespace strandproof::control
