#include "firmware/control/detectors.hpp"

#include <bit>

#include "firmware/control/detector_rows.hpp"

namespace strandproof::control {
namespace {

constexpr float tighter = 0.9F;  // than the row, for the bounds before it: rounding is a millionth

std::uint16_t to_counts(float c) {
  return !(c > 0.0F)    ? std::uint16_t{0}
         : c > 65535.0F ? std::uint16_t{UINT16_MAX}
                        : static_cast<std::uint16_t>(c);
}

// Of a bound before a row: what is no number bounds nothing, and the row is asked.
std::int32_t to_bound(float c) {
  return c > -1.0e9F && c < 1.0e9F ? static_cast<std::int32_t>(c) : INT32_MIN;
}

template <class Counter>
void count(Counter& c, bool up) {
  c = !up ? Counter{0} : c < static_cast<Counter>(-1) ? static_cast<Counter>(c + 1) : c;
}

constexpr Rows bit_if(bool active, Cause c) {
  return active ? row_bit(c) : 0U;
}

// Looked at in every state; all of them while a strand is pulled.
constexpr Rows rows_always = row_bit(Cause::emergency_stop) | row_bit(Cause::h47_barrier_open) |
                             row_bit(Cause::h16_stop_circuit) | row_bit(Cause::h17_enable_held) |
                             row_bit(Cause::phase_time) | row_bit(Cause::h02_dead_headed) |
                             row_bit(Cause::h11_no_motion);
constexpr Rows rows_all = (Rows{1} << interlocks.size()) - 1U;
// A tenth of it has to be more than what floats lose in a sum of 128 samples.
static_assert(default_settings.motion_pressure_min >= units::Pressure::from_si(50.0e3F));
constexpr std::uint16_t seldom = 4;  // ticks from one look at rows_seldom to the next

}  // namespace

Detectors::Detectors(const Jack& jack, const Settings& s, const Measures& m)
    : jack_{jack},
      s_{s},
      m_{m},
      frame_counts_{to_counts(m.pressure_counts(jack.pressure_limit))},
      near_{static_cast<std::int32_t>(tighter * 200.0F * s.trip_of_span * LoopSignal::span_counts)},
      small_drop_{static_cast<std::int32_t>(tighter * 3.0F * 64.0F * s.break_drop_counts)} {}

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
  over_margin_ = s_.filtered_allowance * i_.jack.si() -
                 s_.raw_allowance * LoopSignal::span_counts * limits_.newton_per_count_a;
  const auto surely_below = [&](std::uint16_t limit, float newton_per_count) {
    return to_bound(64.0F * (static_cast<float>(limit) + over_margin_ / newton_per_count - 1.0F));
  };
  below_a_ = surely_below(limits_.a_force, limits_.newton_per_count_a);
  below_b_ = surely_below(limits_.b_force, limits_.newton_per_count_b);
  // What the ram's travel explains is only ever added; where it is no number no rise is small.
  const auto small = [&](units::Pressure rise) {
    const float counts = tighter * 4.0F * LoopSignal::span_counts * (rise / jack_.pressure_span);
    return limits_.pascal_per_metre > 0.0F && counts < 262'144.0F ? static_cast<std::int32_t>(counts)
                                                                  : INT32_MIN;
  };
  small_rise_ = small(s_.dead_head_rise);
  small_rise_starting_ = small(s_.dead_head_rise_starting);
  active_ = 0;
  met_ = {};
  over_a_ = over_b_ = 0;
  still_a_ = still_b_ = still_stroke_ = Still{};
  broken_ = false;
}

void Detectors::flow_changed(bool driven) {
  driven_ms_ = 0;
  if (driven) {
    idle_motion_ms_ = 0;
    motion_seen(m_.stroke_mean64(), m_.pressure(m_.a.mean64()));
  }
}

Cause Detectors::first_active(std::uint8_t where) const {
  const Rows here = active_ & rows_in(where);
  return here == 0 ? Cause::none : interlocks[static_cast<unsigned>(std::countr_zero(here))].cause;
}

Finding Detectors::of(Cause c) const {
  const unsigned row = row_of(c);
  return row == interlocks.size()
             ? Finding{}
             : Finding{.active = is_active(c), .value = met_[row].value, .limit = met_[row].limit};
}

// ---- each tick

void Detectors::look(const Inputs& in, const CoreState& core, const Commands& driven, const Pull& pull,
                     const ForcePair& f) {
  const bool was_in_pull = in_pull_;
  in_pull_ = (where_of(core) & in_pull) != 0;
  biting_ = core.biting;
  advancing_ = driven.advance_valve;
  going_back_ = driven.lower_valve && core.state == State::re_stroke;
  count(driven_ms_, true);
  count(phase_ms_, core.state == state_ && !core.ram_back);
  state_ = core.state;
  count(over_frame_, m_.a.counts() > frame_counts_ || m_.b.counts() > frame_counts_);
  const bool entered = in_pull_ && !was_in_pull;  // what was seen before says nothing of now
  turn_ = entered || turn_ + 1U == seldom ? std::uint8_t{0} : static_cast<std::uint8_t>(turn_ + 1U);
  const Rows unseen = turn_ == 0 ? Rows{0} : rows_seldom;
  Rows now = circuits(in.is);
  if (!in_pull_) {
    if (turn_ == 0) {
      now |= bit_if(phase().active, Cause::phase_time);
    }
    if (going_back_) {
      watch_motion();
      now |= bit_if(no_motion().active, Cause::h11_no_motion);
    }
    take(rows_always & ~unseen, now | bit_if(over_frame_ >= 2, Cause::h02_dead_headed), pull);
    return;
  }
  if (entered) {
    still_a_ = still_b_ = still_stroke_ = Still{};
  }
  watch(still_a_, m_.a.counts());
  watch(still_b_, m_.b.counts());
  watch(still_stroke_, m_.stroke.counts());
  watch_motion();
  now |= pull_rows(in, pull, f);
  if (turn_ == 0) {
    watch_signals();
    now |= seldom_rows();
  }
  broken_ = broken_ || (now & row_bit(Cause::h14_strand_break)) != 0;
  take(rows_all & ~unseen, now, pull);
}

// The value that met the limit is kept while the row is active.
inline void Detectors::take(Rows looked_at, Rows active, const Pull& pull) {
  for (Rows news = active & ~active_; news != 0; news &= news - 1U) {
    const auto row = static_cast<unsigned>(std::countr_zero(news));
    const Look l = look_at(interlocks[row].cause, pull);
    met_[row] = {.value = units::to_integer(l.value), .limit = units::to_integer(l.limit)};
  }
  active_ = (active_ & ~looked_at) | active;
}

inline Rows Detectors::circuits(const Switches& is) {
  count(enable_ms_, is.enable_1 || is.enable_2);
  const Rows held = bit_if(enable_ms_ > s_.enable_max_ms, Cause::h17_enable_held);
  const bool one = is.emergency_stop_1;
  const bool two = is.emergency_stop_2;
  if (one && two && is.barrier_1 && is.barrier_2 && !circuit_fault_) {  // as nearly always
    differ_ms_ = 0;
    return held;
  }
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
  return held | bit_if(!one || !two, Cause::emergency_stop) |
         bit_if(!is.barrier_1 || !is.barrier_2, Cause::h47_barrier_open) |
         bit_if(circuit_fault_, Cause::h16_stop_circuit);
}

// A live channel never shows the same count for 50 ms: it carries noise. One that does while the others
// say that it should have moved by ten counts is stuck.
inline void Detectors::watch(Still& still, std::uint16_t counts) {
  const int d = static_cast<int>(counts) - static_cast<int>(still.counts);
  if (d > 1 || d < -1) {
    still.counts = counts;
    still.ticks = 0;
  } else {
    count(still.ticks, true);
  }
}

inline void Detectors::watch_signals() {
  const float a = m_.a.mean64();
  const float b = m_.b.mean64();
  const float x = m_.stroke.mean64();
  const auto begins = [x](Still& still, float other) {  // since the last look
    if (still.ticks < seldom) {
      still.other = other;
      still.stroke = x;
    }
  };
  begins(still_a_, b);
  begins(still_b_, a);
  begins(still_stroke_, 0.5F * (a + b));
  if (!moving_under_load()) {
    still_a_.stroke = still_b_.stroke = x;
    still_stroke_.other = 0.5F * (a + b);
  }
}

// Forward a rise of pressure counts as well; back, where a further stroke begins, only the ram's way.
inline void Detectors::watch_motion() {
  if (!advancing_ && !going_back_) {
    idle_motion_ms_ = 0;
    return;
  }
  const units::Length x = m_.stroke_mean64();
  const auto p = [&] { return m_.pressure(0.5F * (m_.a.mean64() + m_.b.mean64())); };
  const bool moved = going_back_
                         ? motion_stroke_ - x > s_.motion_min
                         : (x - motion_stroke_) > s_.motion_min ||
                               (!pressure_is_as_seen() && (p() - motion_pressure_) > s_.motion_pressure_min);
  if (moved) {
    motion_seen(x, p());
  }
  count(idle_motion_ms_, !moved);
}

void Detectors::motion_seen(units::Length x, units::Pressure p) {
  motion_stroke_ = x;
  motion_pressure_ = p;
  const float rise = tighter * LoopSignal::span_counts * (s_.motion_pressure_min / jack_.pressure_span);
  as_seen_ = to_bound(128.0F * (m_.pressure_counts(p) + rise));
}

// What counts as a rise is more than this.
inline bool Detectors::pressure_is_as_seen() const {
  return m_.a.has(64) && static_cast<std::int32_t>(m_.a.sum_ago(0, 64) + m_.b.sum_ago(0, 64)) <= as_seen_;
}

// Whether a row is active; what it costs to know its value is asked in look_at() alone.
inline Rows Detectors::pull_rows(const Inputs& in, const Pull& pull, const ForcePair& f) {
  count(over_a_, m_.a.signal().age() == 0 && m_.a.counts() > limits_.a_force);
  count(over_b_, m_.b.signal().age() == 0 && m_.b.counts() > limits_.b_force);
  const bool lost = !m_.a_good() || !m_.b_good() || m_.stroke.signal().failed();
  // Counts are finite, and none reads two spans: a span that is finite twice makes no other pressure.
  const bool bad = (f.any() && !units::is_finite(f.mean())) || !units::is_finite(m_.stroke_mean64()) ||
                   (!units::is_finite(2.0F * jack_.pressure_span) && !units::is_finite(m_.pressure_now()));
  const bool dead = over_frame_ >= 2 || (!rise_is_small() && dead_head().active);
  return bit_if(lost, Cause::h04_signal_lost) | bit_if(bad, Cause::h44_not_a_number) |
         bit_if(in.table_changed || f.a.changed || f.b.changed, Cause::h20_table_changed) |
         bit_if(dead, Cause::h02_dead_headed) |
         bit_if(!force_is_below() && over_force().active, Cause::h01_over_force) |
         bit_if(!drop_is_small() && strand_break().active, Cause::h14_strand_break) |
         bit_if(no_motion().active, Cause::h11_no_motion) | limit_rows(pull);
}

inline Rows Detectors::seldom_rows() const {
  return bit_if(phase().active, Cause::phase_time) |
         bit_if(any_still() && stuck().active, Cause::h05_signal_stuck) |
         bit_if(!channels_are_near() && channels().active, Cause::h06_channels_disagree);
}

// Of the books: which of them counts is a matter of the state.
inline Rows Detectors::limit_rows(const Pull& pull) const {
  const auto active = [&](Cause c) { return bit_if(of_pull(c, pull).active, c); };
  switch (state_) {
    case State::slack:
      return active(Cause::stroke_end) | active(Cause::slack_limit);
    case State::take_up:
      return active(Cause::stroke_end) | active(Cause::h53_force_lost);
    case State::main_pull:
    case State::slow_pull:
      return active(Cause::elongation_high) | active(Cause::stroke_end);
    case State::settle:
      return active(Cause::elongation_low) | active(Cause::settle_fall);
    default:
      return 0;
  }
}

// The row asks for both channels; one that rises by little answers it.
inline bool Detectors::rise_is_small() const {
  const auto now = static_cast<std::int32_t>(m_.a.sum_ago(0, 4));
  const auto then = static_cast<std::int32_t>(m_.a.sum_ago(24, 4));
  return now - then <= (driven_ms_ < s_.starting_ms ? small_rise_starting_ : small_rise_);
}

// A count below the row's limit, which a limit that is no number never is.
inline bool Detectors::force_is_below() const {
  return over_a_ < 2 && over_b_ < 2 && m_.a.has(64) &&
         static_cast<std::int32_t>(m_.a.sum_ago(0, 64)) <= below_a_ &&
         static_cast<std::int32_t>(m_.b.sum_ago(0, 64)) <= below_b_;
}

// The row asks for both channels, and for a drop that is never less than this.
inline bool Detectors::drop_is_small() const {
  const auto before = static_cast<std::int32_t>(3U * m_.a.sum_ago(8, 64));
  const auto now = static_cast<std::int32_t>(64U * m_.a.sum_ago(0, 3));
  return m_.a.has(72) && before - now <= small_drop_;
}

inline bool Detectors::any_still() const {
  return still_a_.ticks >= s_.stuck_ticks || still_b_.ticks >= s_.stuck_ticks ||
         still_stroke_.ticks >= s_.stuck_ticks;
}

// The row's limit is no smaller than its share of the span.
inline bool Detectors::channels_are_near() const {
  const auto apart =
      static_cast<std::int32_t>(m_.a.sum_ago(0, 200)) - static_cast<std::int32_t>(m_.b.sum_ago(0, 200));
  return m_.a.has(200) && apart <= near_ && apart >= -near_;
}

}  // namespace strandproof::control
