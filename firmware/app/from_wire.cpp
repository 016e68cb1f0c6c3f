#include "firmware/app/from_wire.hpp"

#include <pb_decode.h>

namespace strandproof::app {
namespace {

units::Force newton(std::uint32_t n) {
  return units::Force::from_si(static_cast<float>(n));
}
units::Length micrometre(std::uint32_t um) {
  return units::Length::from_si(static_cast<float>(um) * 1.0e-6F);
}
float millionths(std::uint32_t ppm) {
  return static_cast<float>(ppm) * 1.0e-6F;
}

template <std::size_t N>
control::Name name(const char (&from)[N]) {
  control::Name to{};
  for (std::size_t i = 0; i + 1 < to.size() && i < N && from[i] != '\0'; ++i) {
    to[i] = from[i];
  }
  return to;
}

control::Refusal column(const strandproof_wire_GaugeColumn& m, bool optional, control::GaugeColumn& into) {
  if (optional && m.pressure_mbar_count == 0 && m.force_n_count == 0) {
    into = control::GaugeColumn{};
    return control::Refusal::none;
  }
  if (m.pressure_mbar_count != m.force_n_count) {
    return control::Refusal::table_points;
  }
  return into.set(m.pressure_mbar, m.force_n, m.force_n_count);
}

}  // namespace

control::PullInstruction from_wire(const strandproof_wire_PullInstruction& m) {
  control::PullInstruction i;
  i.id = m.id;
  i.bed = m.bed;
  i.position = m.position;
  i.reel = m.reel;
  i.jack_serial = m.jack_serial;
  i.bed_name = name(m.bed_name);
  i.strand_name = name(m.strand_name);
  i.initial = newton(m.initial_n);
  i.seated = newton(m.seated_n);
  i.jack = newton(m.jack_n);
  i.limit = newton(m.limit_n);
  i.stiffness = units::Stiffness::from_si(static_cast<float>(m.stiffness_n_per_m));
  i.stiffness_uncertainty = millionths(m.stiffness_ppm);
  i.elongation = micrometre(m.elongation_um);
  i.elongation_min = micrometre(m.elongation_min_um);
  i.elongation_max = micrometre(m.elongation_max_um);
  i.draw_in = micrometre(m.draw_in_um);
  i.draw_in_max = micrometre(m.draw_in_max_um);
  i.slack_max = micrometre(m.slack_max_um);
  i.force_window = millionths(m.force_window_ppm);
  return i;
}

control::Refusal from_wire(const strandproof_wire_GaugeTable& m, control::GaugeTable& into) {
  into = control::GaugeTable{};
  into.revision = m.revision;
  into.jack_serial = m.jack_serial;
  into.sensor_a_serial = m.sensor_a_serial;
  into.sensor_b_serial = m.sensor_b_serial;
  into.calibrated_s = m.calibrated_s;
  into.due_s = m.due_s;
  into.uncertainty_ppm = m.uncertainty_ppm;
  into.origin = m.origin;
  for (const control::Refusal r :
       {column(m.a_increasing, false, into.a_increasing), column(m.b_increasing, false, into.b_increasing),
        column(m.a_decreasing, true, into.a_decreasing), column(m.b_decreasing, true, into.b_decreasing)}) {
    if (r != control::Refusal::none) {
      return r;
    }
  }
  return m.revision == 0 || m.due_s == 0 ? control::Refusal::malformed : control::Refusal::none;
}

bool decode_table(std::span<const std::uint8_t> bytes, strandproof_wire_GaugeTable& into) {
  pb_istream_t stream = pb_istream_from_buffer(bytes.data(), bytes.size());
  return pb_decode(&stream, strandproof_wire_GaugeTable_fields, &into);
}

control::Jack jack_of(const port::Device& d) {
  return {.serial = d.jack_serial,
          .sensor_a_serial = d.sensor_a_serial,
          .sensor_b_serial = d.sensor_b_serial,
          .origin = static_cast<std::uint32_t>(d.origin),
          .pressure_span = d.pressure_span,
          .pressure_rig_rating = d.pressure_rig_rating,
          .pressure_limit = d.pressure_limit,
          .stroke_span = d.stroke_span,
          .stroke_usable = d.stroke_usable};
}

control::Switches switches_of(std::uint16_t digital) {
  using enum port::Input;
  const auto is = [&](port::Input i) { return (digital & port::bit(i)) != 0; };
  return {.emergency_stop_1 = is(emergency_stop_1),
          .emergency_stop_2 = is(emergency_stop_2),
          .barrier_1 = is(barrier_1),
          .barrier_2 = is(barrier_2),
          .enable_1 = is(enable_1),
          .enable_2 = is(enable_2),
          .advance = is(advance),
          .lower = is(lower),
          .select = is(select),
          .confirm = is(confirm),
          .reset = is(reset),
          .grip_closed = is(grip_closed),
          .contactor_mirror = is(contactor_mirror),
          .shut_off_mirror = is(shut_off_mirror),
          .oil_level_ok = is(oil_level_ok),
          .supply_ok = is(supply_ok)};
}

control::Inputs inputs_of(const port::RawSample& s, units::Ticks now) {
  return {.now = now, .analog = analog_of(s), .is = switches_of(s.digital)};
}

port::OutputBits bits_of(const control::Commands& c) {
  using enum port::Output;
  unsigned bits = 0;
  const auto set = [&](bool on, port::Output o) { bits |= on ? port::bit(o) : 0U; };
  set(c.motor, motor);
  set(c.fast_stage, fast_stage);
  set(c.advance_valve, advance_valve);
  set(c.lower_valve, lower_valve);
  set(c.seat_valve, seat_valve);
  set(c.shut_off_open, shut_off_valve);
  set(c.horn, horn);
  set(c.lamp, lamp);
  return static_cast<port::OutputBits>(bits);
}

}  // namespace strandproof::app
