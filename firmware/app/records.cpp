#include "firmware/app/records.hpp"

#include <pb_encode.h>

#include <algorithm>

#include "firmware/app/row_bytes.hpp"

namespace strandproof::app {
namespace {

std::int32_t newtons(units::Force f) {
  return units::to_integer(f.si());
}
std::uint32_t unsigned_of(std::int32_t v) {
  return v < 0 ? 0U : static_cast<std::uint32_t>(v);
}

template <class E>
std::uint32_t number(E e) {
  return static_cast<std::uint32_t>(e);
}

// The longest record of each kind fits with its seal, whatever numbers are in it.
static_assert(strandproof_wire_Record_size <= record::record_body_max);

std::size_t encode(const strandproof_wire_Record& record, RecordBytes& into) {
  pb_ostream_t stream = pb_ostream_from_buffer(into.data(), into.size());
  return pb_encode(&stream, strandproof_wire_Record_fields, &record) ? stream.bytes_written : 0;
}

template <std::size_t N>
void copy(char (&to)[N], const control::Name& from) {
  std::size_t i = 0;
  for (; i + 1 < N && i < from.size() && from[i] != '\0'; ++i) {
    to[i] = from[i];
  }
  to[i] = '\0';
}

void instruction_part(strandproof_wire_PullRecord& r, const control::PullInstruction& i) {
  r.instruction = i.id;
  r.bed = i.bed;
  r.position = i.position;
  r.reel = i.reel;
  copy(r.bed_name, i.bed_name);
  copy(r.strand_name, i.strand_name);
  r.initial_n = unsigned_of(newtons(i.initial));
  r.seated_n = unsigned_of(newtons(i.seated));
  r.jack_n = unsigned_of(newtons(i.jack));
  r.limit_n = unsigned_of(newtons(i.limit));
  r.elongation_plan_um = unsigned_of(micrometres(i.elongation));
  r.elongation_min_um = unsigned_of(micrometres(i.elongation_min));
  r.elongation_max_um = unsigned_of(micrometres(i.elongation_max));
  r.force_window_ppm = static_cast<std::uint32_t>(i.force_window * 1.0e6F + 0.5F);
}

void report_part(strandproof_wire_PullRecord& r, const control::PullReport& p) {
  r.verdict = number(p.verdict);
  r.datum_stroke_um = micrometres(p.datum_stroke);
  r.datum_n = newtons(p.datum_force);
  r.settle_n = newtons(p.settle);
  r.peak_n = newtons(p.peak);
  r.locked_n = newtons(p.locked);
  r.elongation_um = micrometres(p.elongation);
  r.draw_in_um = micrometres(p.draw_in);
  r.stiffness_seen_n_per_m = units::to_integer(p.stiffness_seen.si());
  r.run_on_ms = static_cast<std::uint16_t>(p.run_on_s * 1000.0F + 0.5F);
  r.duration_ms = static_cast<std::uint32_t>(p.ended - p.started);
  r.zero_a_mbar = millibar(p.zero_a);
  r.zero_b_mbar = millibar(p.zero_b);
  r.settle_a_n = newtons(p.settle_a);
  r.settle_b_n = newtons(p.settle_b);
}

void strokes_part(strandproof_wire_PullRecord& r, const control::PullReport& p) {
  if (p.re_bites == 0) {
    return;
  }
  r.strokes = static_cast<std::uint8_t>(p.re_bites + 1U);
  RowBytes<3, sizeof r.stroke_rows.bytes> rows;
  // Forces of a strand and lengths of a wedge lie below 2^20: three bytes a number, and there is room for
  // all.
  static_assert((control::strokes_max - 2) * 9 + rows.row_max <= sizeof r.stroke_rows.bytes);
  for (unsigned i = 0; i < p.re_bites; ++i) {
    const control::Stroke& s = p.stroke[i];
    (void)rows.put({newtons(s.end), micrometres(s.draw_in), newtons(s.lift_off)});
  }
  const auto bytes = rows.bytes();
  std::copy(bytes.begin(), bytes.end(), r.stroke_rows.bytes);
  r.stroke_rows.size = static_cast<pb_size_t>(bytes.size());
}

// Rounded up: what a reader takes for a bound has to be one.
std::uint32_t bound(float v) {
  return static_cast<std::uint32_t>(v) + 1U;
}

void curve_part(strandproof_wire_PullRecord& r, const control::Curve& curve) {
  r.curve_points = curve.size();
  r.curve_within_um = curve.size() == 0 ? 0U : bound(curve.within().um);
  r.curve_within_n = curve.size() == 0 ? 0U : bound(curve.within().n);
}

}  // namespace

EventCode trip_event(control::Cause cause) {
  constexpr std::uint32_t first_ordinary = 100;  // of CAUSE in the catalogue
  if (cause == control::Cause::emergency_stop) {
    return EventCode::emergency_stop;
  }
  return number(cause) < first_ordinary ? EventCode::trip : EventCode::ordinary_stop;
}

std::int32_t millibar(units::Pressure p) {
  return units::to_integer(p.si() / 100.0F);
}

std::int32_t micrometres(units::Length l) {
  return units::to_integer(l.si() * 1.0e6F);
}

std::size_t encode_event(const Stamp& stamp, const EventNote& note, RecordBytes& into) {
  strandproof_wire_Record record = strandproof_wire_Record_init_zero;
  record.which_what = strandproof_wire_Record_event_tag;
  strandproof_wire_EventRecord& e = record.what.event;
  const control::CoreState& core = stamp.controller.core();
  const control::ForcePair f = stamp.controller.force();
  e.code = number(note.code);
  e.cause = number(core.cause);
  e.state = number(core.state);
  e.load_state = number(core.load);
  e.instruction = stamp.controller.pull_active() ? stamp.controller.pull().instruction().id
                                                 : stamp.controller.instruction().id;
  e.force_n = f.any() ? newtons(f.mean()) : 0;
  e.stroke_um = micrometres(stamp.controller.measures().stroke_mean64());
  e.detail = note.detail;
  e.value = unsigned_of(note.value);
  e.limit = unsigned_of(note.limit);
  e.utc_s = stamp.clock.lower_bound(stamp.now);
  e.clock_quality = number(stamp.clock.quality());
  return encode(record, into);
}

std::size_t encode_pull(const Stamp& stamp, RecordBytes& into) {
  strandproof_wire_Record record = strandproof_wire_Record_init_zero;
  record.which_what = strandproof_wire_Record_pull_tag;
  strandproof_wire_PullRecord& r = record.what.pull;
  const control::Controller& c = stamp.controller;
  instruction_part(r, c.pull().instruction());
  report_part(r, c.pull().report());
  strokes_part(r, c.pull().report());
  r.table_revision = c.table().revision;
  r.uncertainty_ppm = c.table().uncertainty_ppm;
  r.settings_revision = c.settings().revision;
  r.origin = number(stamp.device.origin);
  r.jack_serial = stamp.device.jack_serial;
  r.cause = number(c.pull_cause());
  r.load_state = number(c.core().load);
  r.top_ups = c.core().top_ups;
  r.utc_s = stamp.clock.lower_bound(stamp.now);
  r.clock_quality = number(stamp.clock.quality());
  curve_part(r, c.pull().curve());
  return encode(record, into);
}

std::size_t encode_curve(const Stamp& stamp, unsigned& next, RecordBytes& into) {
  strandproof_wire_Record record = strandproof_wire_Record_init_zero;
  record.which_what = strandproof_wire_Record_curve_tag;
  strandproof_wire_CurvePart& part = record.what.curve;
  const control::Curve& curve = stamp.controller.pull().curve();
  part.instruction = stamp.controller.pull().instruction().id;
  part.first = next;
  part.total = curve.size();
  RowBytes<3, sizeof part.points.bytes> rows;
  const auto row = [&] {
    const control::CurvePoint& p = curve[next];
    return rows.put({static_cast<std::int32_t>(p.at_ms), p.elongation_um, p.force_n});
  };
  while (next < curve.size() && row()) {
    ++next;
  }
  const auto bytes = rows.bytes();
  std::copy(bytes.begin(), bytes.end(), part.points.bytes);
  part.points.size = static_cast<pb_size_t>(bytes.size());
  return encode(record, into);
}

std::size_t encode_snapshot(const strandproof_wire_Snapshot& snapshot, RecordBytes& into) {
  strandproof_wire_Record record = strandproof_wire_Record_init_zero;
  record.which_what = strandproof_wire_Record_snapshot_tag;
  record.what.snapshot = snapshot;
  return encode(record, into);
}

std::size_t encode_checkpoint(const strandproof_wire_Checkpoint& checkpoint, RecordBytes& into) {
  strandproof_wire_Record record = strandproof_wire_Record_init_zero;
  record.which_what = strandproof_wire_Record_checkpoint_tag;
  record.what.checkpoint = checkpoint;
  return encode(record, into);
}

}  // namespace strandproof::app
