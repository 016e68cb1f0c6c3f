#include "firmware/control/arming.hpp"

#include "firmware/control/bites.hpp"

namespace strandproof::control {
namespace {

Refusal table_fits(const PullInstruction& i, const GaugeTable& t, const Jack& jack, const Settings& s) {
  if (!t.valid()) {
    return Refusal::no_table;
  }
  if (const Refusal r = made_for(t, jack); r != Refusal::none) {  // before each pull, not at loading alone
    return r;
  }
  // The stop is approached from below and may be topped up: the settle floor must be readable as well.
  const units::Force floor = i.jack * (1.0F - s.settle_fall_max);
  return t.covers(i.initial) && t.covers(i.jack) && t.covers(floor) ? Refusal::none : Refusal::outside_table;
}

Refusal stroke_fits(const PullInstruction& i, const Jack& jack, const Settings& s, const Measures& m) {
  const units::Length at = m.stroke_mean64();
  if (in_one_stroke(i, jack.stroke_usable, at)) {
    return Refusal::none;
  }
  // A ram that is not in makes more strokes of it than there have to be.
  const unsigned strokes = plan_pull(i, jack.stroke_usable, at, s).strokes;
  const bool fewer = in_one_stroke(i, jack.stroke_usable, units::Length{}) ||
                     plan_pull(i, jack.stroke_usable, s.back_min, s).strokes != strokes;
  if (fewer && (at > s.ram_in || strokes == 0)) {
    return Refusal::ram_not_in;
  }
  return strokes != 0 ? Refusal::none : Refusal::stroke_too_short;
}

// H06: a channel that does not read zero at rest is wrong by as much under load.
Refusal zero_check(const Measures& m, const Settings& s) {
  const auto off = [&](const Channel& c) {
    const float counts = c.mean200() - LoopSignal::zero_counts;
    const float limit = s.zero_of_span * LoopSignal::span_counts;
    return !(counts <= limit && counts >= -limit);
  };
  return off(m.a) ? Refusal::zero_a : off(m.b) ? Refusal::zero_b : Refusal::none;
}

Refusal machine_ready(const Measures& m, const Switches& is, const Settings& s) {
  if (!m.a_good() || !m.b_good() || m.stroke.signal().failed()) {
    return Refusal::signals_bad;
  }
  if (!is.emergency_stop_1 || !is.emergency_stop_2 || !is.barrier_1 || !is.barrier_2) {
    return Refusal::not_ready;
  }
  if (!is.oil_level_ok) {
    return Refusal::oil_cold;
  }
  if (!(abs(m.pressure_now()) <= s.no_load_pressure)) {
    return Refusal::pressure_left;
  }
  return zero_check(m, s);
}

}  // namespace

Refusal made_for(const GaugeTable& t, const Jack& jack) {
  if (t.jack_serial != jack.serial || t.sensor_a_serial != jack.sensor_a_serial ||
      t.sensor_b_serial != jack.sensor_b_serial) {
    return Refusal::table_serial;
  }
  return t.origin == jack.origin ? Refusal::none : Refusal::table_origin;
}

Refusal may_load(const PullInstruction& i, const Jack& jack) {
  return i.jack_serial != jack.serial ? Refusal::wrong_jack : check(i);
}

Refusal may_arm(const PullInstruction& i, const GaugeTable& t, const Jack& jack, const Settings& s,
                const Measures& m, const Switches& is, const Gates& gates) {
  if (i.id == 0) {
    return Refusal::no_instruction;
  }
  for (const Refusal r : {may_load(i, jack), gates.table, table_fits(i, t, jack, s), gates.clock, gates.store,
                          gates.bed, machine_ready(m, is, s), stroke_fits(i, jack, s, m)}) {
    if (r != Refusal::none) {
      return r;
    }
  }
  return Refusal::none;
}

}  // namespace strandproof::control
