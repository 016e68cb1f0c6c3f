#include "firmware/control/detectors.hpp"

namespace strandproof::control {
namespace {

std::uint16_t to_counts(float c) {
  return !(c > 0.0F)    ? std::uint16_t{0}
         : c > 65535.0F ? std::uint16_t{UINT16_MAX}
                        : static_cast<std::uint16_t>(c);
}

float larger(float a, float b) {
  return a > b ? a : b;
}

template <class Counter>
void count(Counter& c, bool up) {
  c = !up ? Counter{0} : c < static_cast<Counter>(-1) ? static_cast<Counter>(c + 1) : c;
}

}  // namespace

RawLimits Detectors::limits(const PullInstruction& i, const GaugeTable& t) const {
  // The pressure at the limit from the slope at the table's end: only for stopping, never for a reading.
  const auto counts_at = [&](const GaugeColumn& column, float& newton_per_count) {
    const Reading first = column.at(column.first_pressure());
    float low = column.first_pressure().si();
    float high = jack_.pressure_span.si();
    for (int step = 0; step < 24; ++step) {  // bisection on the column; beyond its top the force is "above"
      const float middle = 0.5F * (low + high);
      const Reading r = column.at(units::Pressure::from_si(middle));
      (r.inside && r.force <= i.limit ? low : high) = middle;
    }
    newton_per_count = first.newton_per_pascal * jack_.pressure_span.si() / LoopSignal::span_counts;
    const float allowance = s_.raw_allowance * LoopSignal::span_counts;
    return to_counts(m_.pressure_counts(units::Pressure::from_si(low)) + allowance);
  };
  RawLimits r;
  r.a_force = counts_at(t.a_increasing, r.newton_per_count_a);
  r.b_force = counts_at(t.b_increasing, r.newton_per_count_b);
  const float newton_per_pascal = r.newton_per_count_a * LoopSignal::span_counts / jack_.pressure_span.si();
  r.pascal_per_metre = i.stiffness.si() / newton_per_pascal;
  return r;
}

void Detectors::arm(const RawLimits& limits, const PullInstruction& i) {
  limits_ = limits;
  i_ = i;
  finding_ = {};
  over_a_ = over_b_ = 0;
  still_a_ = still_b_ = still_stroke_ = Still{};
  broken_ = false;
}

void Detectors::flow_changed(bool driven) {
  driven_ms_ = 0;
  if (driven) {
    idle_motion_ms_ = 0;
    motion_stroke_ = m_.stroke.mean64();
    motion_pressure_ = m_.a.mean64();
  }
}

void Detectors::set(Cause c, bool active, float value, float limit, bool judged) {
  const unsigned row = row_of(c);
  looks_[row] = {.value = value, .limit = limit, .judged = judged, .active = active};
  Finding& f = finding_[row];
  if (active && !f.active) {  // the value that met the limit is kept while it lasts
    f.value = units::to_integer(value);
    f.limit = units::to_integer(limit);
  }
  f.active = active;
}

Cause Detectors::first_active(std::uint8_t where) const {
  for (unsigned row = 0; row < interlocks.size(); ++row) {
    if ((interlocks[row].where & where) != 0 && finding_[row].active) {
      return interlocks[row].cause;
    }
  }
  return Cause::none;
}

void Detectors::look(const Inputs& in, const CoreState& core, const Commands& driven, const Pull& pull,
                     const ForcePair& f) {
  const std::uint8_t where = where_of(core);
  const bool in_pull_now = (where & in_pull) != 0;
  count(driven_ms_, true);
  for (Look& look : looks_) {
    look.judged = false;
  }
  circuits(in);
  phase(core);
  dead_head(in_pull_now);
  if (!in_pull_now) {
    return;
  }
  signals(in, f);
  raw_force();
  stuck(driven.advance_valve && core.state != State::slack);
  channels();
  break_of_strand();
  motion(driven);
  pull_limits(core, pull);
}

// ---- circuits: emergency stop, barrier, enables ---------------------------------------------------

void Detectors::circuits(const Inputs& in) {
  const bool one = in.is.emergency_stop_1;
  const bool two = in.is.emergency_stop_2;
  set(Cause::emergency_stop, !one || !two, 0.0F, 0.0F);
  set(Cause::h47_barrier_open, !in.is.barrier_1 || !in.is.barrier_2, 0.0F, 0.0F);
  count(differ_ms_, one != two);
  if (differ_ms_ >= s_.stop_circuit_ms) {
    circuit_fault_ = true;
    circuit_opened_ = false;
  }
  // The fault goes only after both channels have been seen open, and closed again.
  circuit_opened_ = circuit_opened_ || (!one && !two);
  if (circuit_fault_ && circuit_opened_ && one && two) {
    circuit_fault_ = false;
  }
  set(Cause::h16_stop_circuit, circuit_fault_, static_cast<float>(differ_ms_),
      static_cast<float>(s_.stop_circuit_ms));
  count(enable_ms_, in.is.enable_1 || in.is.enable_2);
  set(Cause::h17_enable_held, enable_ms_ > s_.enable_max_ms, static_cast<float>(enable_ms_),
      static_cast<float>(s_.enable_max_ms));
}

// ---- signals ---------------------------------------------------------------------------------------

void Detectors::signals(const Inputs& in, const ForcePair& f) {
  const bool lost = !m_.a_good() || !m_.b_good() || m_.stroke.signal().failed();
  set(Cause::h04_signal_lost, lost,
      static_cast<float>(!lost          ? 0
                         : !m_.a_good() ? 1
                         : !m_.b_good() ? 2
                                        : 3),
      0.0F);
  const bool bad = (f.any() && !units::is_finite(f.mean())) || !units::is_finite(m_.stroke_mean64()) ||
                   !units::is_finite(m_.pressure_now());
  set(Cause::h44_not_a_number, bad, 0.0F, 0.0F);
  set(Cause::h20_table_changed, in.table_changed || f.a.changed || f.b.changed, 0.0F, 0.0F);
}

void Detectors::raw_force() {
  count(over_a_, m_.a.signal().age() == 0 && m_.a.counts() > limits_.a_force);
  count(over_b_, m_.b.signal().age() == 0 && m_.b.counts() > limits_.b_force);
  const float margin = s_.filtered_allowance * i_.jack.si() -
                       s_.raw_allowance * LoopSignal::span_counts * limits_.newton_per_count_a;
  const float over_a =
      (m_.a.mean64() - static_cast<float>(limits_.a_force)) * limits_.newton_per_count_a - margin;
  const float over_b =
      (m_.b.mean64() - static_cast<float>(limits_.b_force)) * limits_.newton_per_count_b - margin;
  const float over = over_a > over_b ? over_a : over_b;
  set(Cause::h01_over_force, over_a_ >= 2 || over_b_ >= 2 || !(over <= 0.0F), i_.limit.si() + over,
      i_.limit.si());
}

void Detectors::dead_head(bool in_pull_now) {
  const bool frame = m_.a.counts() > to_counts(m_.pressure_counts(jack_.pressure_limit)) ||
                     m_.b.counts() > to_counts(m_.pressure_counts(jack_.pressure_limit));
  count(over_frame_, frame);
  bool steep = false;
  float rise = 0.0F;
  units::Pressure allowed = driven_ms_ < s_.starting_ms ? s_.dead_head_rise_starting : s_.dead_head_rise;
  if (in_pull_now) {
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
  set(Cause::h02_dead_headed, over_frame_ >= 2 || steep, rise / 100.0F, allowed.si() / 100.0F);
}

// A live channel never shows the same count for 50 ms: it carries noise. One that does while the others
// say that it should have moved by ten counts is stuck.
void Detectors::watch(Still& still, std::uint16_t counts, float other, float stroke) {
  const int d = static_cast<int>(counts) - static_cast<int>(still.counts);
  if (d > 1 || d < -1) {
    still = {.counts = counts, .ticks = 0, .other = other, .stroke = stroke};
  } else if (still.ticks < UINT16_MAX) {
    ++still.ticks;
  }
}

void Detectors::stuck(bool moving_under_load) {
  const float a = m_.a.mean64();
  const float b = m_.b.mean64();
  const float x = m_.stroke.mean64();
  watch(still_a_, m_.a.counts(), b, x);
  watch(still_b_, m_.b.counts(), a, x);
  watch(still_stroke_, m_.stroke.counts(), 0.5F * (a + b), x);
  if (!moving_under_load) {
    still_a_.stroke = still_b_.stroke = x;
    still_stroke_.other = 0.5F * (a + b);
  }
  // Counts of pressure that the stiffness gives for a count of stroke.
  const float metre_per_count = jack_.stroke_span.si() / LoopSignal::span_counts;
  const float gain = i_.stiffness.si() * metre_per_count / limits_.newton_per_count_a;
  const auto expected = [&](const Still& s, float other_now) {
    const float by_channel = other_now - s.other;
    const float by_stroke = gain * (x - s.stroke);
    return by_channel > by_stroke ? by_channel : by_stroke;
  };
  const float due_a = expected(still_a_, b);
  const float due_b = expected(still_b_, a);
  const float due_x = (0.5F * (a + b) - still_stroke_.other) / gain;
  const auto is_stuck = [&](const Still& s, float due) {
    return s.ticks >= s_.stuck_ticks && due >= s_.stuck_counts;
  };
  const bool stuck_a = is_stuck(still_a_, due_a);
  const bool stuck_b = is_stuck(still_b_, due_b);
  const bool stuck_x = moving_under_load && is_stuck(still_stroke_, due_x);
  const auto due_while_still = [&](const Still& s, float due) {
    return s.ticks >= s_.stuck_ticks ? due : 0.0F;
  };
  const float due = stuck_a   ? due_a
                    : stuck_b ? due_b
                    : stuck_x ? due_x
                              : larger(due_while_still(still_a_, due_a), due_while_still(still_b_, due_b));
  set(Cause::h05_signal_stuck, stuck_a || stuck_b || stuck_x, due, s_.stuck_counts);
}

void Detectors::channels() {
  const float a = m_.a.mean200() - LoopSignal::zero_counts;
  const float b = m_.b.mean200() - LoopSignal::zero_counts;
  const float apart = a > b ? a - b : b - a;
  const float by_reading = s_.trip_of_reading * 0.5F * (a + b);
  const float by_span = s_.trip_of_span * LoopSignal::span_counts;
  const float limit = by_reading > by_span ? by_reading : by_span;
  set(Cause::h06_channels_disagree, !(apart <= limit), apart, limit);
}

// ---- strand -----------------------------------------------------------------------------------------

// Full break: both channels fall together by more than any command of our own makes them fall.
void Detectors::break_of_strand() {
  struct Fall {
    float drop, limit;
    bool armed;
    [[nodiscard]] bool breaks() const { return armed && !(drop <= limit); }
  };
  const auto fall_of = [&](const Channel& c) {
    const float before = c.before() - LoopSignal::zero_counts;
    return Fall{.drop = before + LoopSignal::zero_counts - c.mean_ago(0, 3),
                .limit = larger(s_.break_drop * before, s_.break_drop_counts),
                .armed = before > s_.break_armed_counts};
  };
  const Fall a = fall_of(m_.a);
  const Fall b = fall_of(m_.b);
  const bool now = a.breaks() && b.breaks() && m_.a_good() && m_.b_good();
  broken_ = broken_ || now;
  const Fall& less = a.drop < b.drop ? a : b;  // both must fall
  set(Cause::h14_strand_break, now, less.drop, less.limit, a.armed && b.armed);
}

void Detectors::motion(const Commands& driven) {
  if (!driven.advance_valve) {
    idle_motion_ms_ = 0;
    set(Cause::h11_no_motion, false, 0.0F, 0.0F, false);
    return;
  }
  const float x = m_.stroke.mean64();
  const float p = 0.5F * (m_.a.mean64() + m_.b.mean64());
  const bool moved = (m_.length(x) - m_.length(motion_stroke_)) > s_.motion_min ||
                     (m_.pressure(p) - m_.pressure(motion_pressure_)) > s_.motion_pressure_min;
  if (moved) {
    motion_stroke_ = x;
    motion_pressure_ = p;
  }
  count(idle_motion_ms_, !moved);
  set(Cause::h11_no_motion, idle_motion_ms_ >= s_.no_motion_ms, static_cast<float>(idle_motion_ms_),
      static_cast<float>(s_.no_motion_ms));
}

void Detectors::pull_limits(const CoreState& core, const Pull& pull) {
  constexpr float um = 1.0e6F;
  const bool extending = core.state == State::main_pull || core.state == State::slow_pull;
  const float e = pull.elongation().si();
  set(Cause::elongation_high, extending && !(e <= i_.elongation_max.si()), e * um,
      i_.elongation_max.si() * um, extending);
  const bool settled = core.state == State::settle && pull.report().settled;
  set(Cause::elongation_low, settled && !(e >= i_.elongation_min.si()), e * um, i_.elongation_min.si() * um,
      settled);
  const units::Length x = m_.stroke_mean64();
  const bool forward = extending || core.state == State::slack;
  set(Cause::stroke_end, forward && !(x <= jack_.stroke_usable), x.si() * um, jack_.stroke_usable.si() * um,
      forward);
  const float slack = pull.slack_used().si();
  const bool in_slack = core.state == State::slack;
  set(Cause::slack_limit, in_slack && !(slack <= i_.slack_max.si()), slack * um, i_.slack_max.si() * um,
      in_slack);
  const bool resting = core.state == State::settle && pull.resting();
  set(Cause::settle_fall, resting && pull.fell_too_far(), pull.fallen().si(), pull.fall_allowed().si(),
      resting);
}

void Detectors::phase(const CoreState& core) {
  count(phase_ms_, core.state == phase_state_);
  phase_state_ = core.state;
  std::uint32_t limit = 0;
  switch (core.state) {
    case State::slack:
      limit = s_.slack_max_ms;
      break;
    case State::main_pull:
      limit = s_.main_max_ms;
      break;
    case State::slow_pull:
      limit = s_.slow_max_ms;
      break;
    case State::seat:
      limit = s_.seat_max_ms;
      break;
    case State::lowering:
      limit = s_.lower_max_ms;
      break;
    default:
      set(Cause::phase_time, false, 0.0F, 0.0F, false);
      return;
  }
  set(Cause::phase_time, phase_ms_ > limit, static_cast<float>(phase_ms_), static_cast<float>(limit));
}

}  // namespace strandproof::control
