// What the link asks of the firmware (link::Handler).
#include <algorithm>
#include <cstring>

#include "firmware/app/app.hpp"
#include "firmware/app/from_wire.hpp"

namespace strandproof::app {
namespace {

constexpr const char* build_name = "0.1.0";

link::Code code_of(control::Refusal r) {
  return static_cast<link::Code>(r);
}

template <class E>
std::uint32_t number(E e) {
  return static_cast<std::uint32_t>(e);
}

// The oil's transmitter has -20 degC at 4 mA and 100 degC at 20 mA (port/sample.hpp).
std::int32_t oil_tenths(std::uint16_t counts) {
  constexpr float low = -200.0F;
  constexpr float span = 1200.0F;
  return units::to_integer(low + span * (static_cast<float>(counts) - control::LoopSignal::zero_counts) /
                                     control::LoopSignal::span_counts);
}

}  // namespace

bool App::moving() const {
  return (outputs_ & ~(std::uint32_t{port::bit(port::Output::horn)} |
                       std::uint32_t{port::bit(port::Output::lamp)})) != 0;
}

link::Code App::load_instruction(const strandproof_wire_PullInstruction& m) {
  const control::PullInstruction i = from_wire(m);
  if (i.id == 0) {
    return link::Code::malformed;
  }
  const control::Refusal bed = marks_.gate(i.bed, i.position);
  const control::Refusal r = bed != control::Refusal::none ? bed : controller_.load(i);
  if (r == control::Refusal::none) {
    event(EventCode::instruction, i.id);
  }
  return code_of(r);
}

link::Code App::set_clock(std::uint64_t utc_s) {
  const control::Refusal r = clock_.set(utc_s, now_);
  if (r == control::Refusal::none) {
    (void)vault_.save(record::CellId::clock, utc_s);
    event(EventCode::clock_set);
  }
  return code_of(r);
}

link::Code App::enter_bed(const strandproof_wire_BedEntry& e) {
  const control::Refusal r = marks_.enter(e.bed, e.position, e.kind);
  if (r == control::Refusal::none) {
    (void)vault_.save(record::CellId::bed_marks, marks_.all());
    event(EventCode::bed_entry, e.kind);
  }
  return code_of(r);
}

link::Code App::install_table(const strandproof_wire_GaugeTable& t, std::span<const std::uint8_t> bytes,
                              std::span<const std::uint8_t, 64> signature) {
  const link::Code code = shelf_.install(t, bytes, signature, clock_.lower_bound(now_));
  if (code == link::Code::none) {
    event(EventCode::table_loaded, t.revision);
  }
  return code;
}

link::Code App::withdraw_table(const strandproof_wire_TableWithdraw& w) {
  const link::Code code = shelf_.withdraw(w);
  if (code == link::Code::none) {  // each one: a second reason is news too
    event({.code = EventCode::table_withdrawn,
           .detail = w.reason,
           .value = static_cast<std::int32_t>(w.revision)},
          record::Priority::fault);
  }
  return code;
}

link::Code App::undo_table(const strandproof_wire_TableUndo& u) {
  const link::Code code = shelf_.undo(u);
  if (code == link::Code::none) {
    event({.code = EventCode::table_undone, .detail = u.to, .value = static_cast<std::int32_t>(u.from)},
          record::Priority::fault);
  }
  return code;
}

// A cell is written: at rest alone. What a host holds it holds a minute later too. While a person at the
// pendant has the list of copies before them it does not change: the copy that they forget is the one that
// they read.
link::Code App::release_records(const strandproof_wire_RecordRelease& r) {
  return at_rest() && chooser_.list() != Chooser::List::copies ? copies_.acknowledge(r) : link::Code::busy;
}

bool App::pairing_open() const {
  return now_ < pairing_open_until_ && at_rest();
}

bool App::store_pairing(const link::Pairing& p, const link::ChainKey& chain_key) {
  if (!vault_.chain().take_pairing(p.host_id, chain_key) || !vault_.save(record::CellId::pairing, p)) {
    return false;
  }
  pairing_open_until_ = 0;
  event(EventCode::paired, static_cast<std::uint32_t>(p.host_id));
  checkpointer_.due();
  return true;
}

link::Code App::may_enrol() const {
  if (!(now_ < key_open_until_ && at_rest())) {
    return link::Code::key_closed;
  }
  return shelf_.keys_full() ? link::Code::keys_full : link::Code::none;
}

void App::show_key(const link::TableKey* k) {
  key_open_until_ = 0;  // one question a window
  extra_.ask = k == nullptr ? DisplayExtra::Ask::nothing : DisplayExtra::Ask::key;
  if (k != nullptr) {
    extra_.subject = k->name.data();
    extra_.fingerprint = link::fingerprint_of(k->key);
  }
}

bool App::enrol_key(const link::TableKey& k) {
  if (!shelf_.enrol(k)) {
    return false;
  }
  event(EventCode::key_enrolled, first_four(k), record::Priority::fault);
  return true;
}

// A host that tries the same again and again makes one record a second of it, not a full log. One that
// follows the log and comes too early makes none: the record of it would be the next that it acknowledges.
void App::note_refused(std::uint32_t kind, link::Code code) {
  if (kind == number(proto::FrameType::record_release) && code == link::Code::busy) {
    return;
  }
  const bool again =
      kind == refused_kind_ && number(code) == refused_code_ && now_ - refused_at_ < units::ticks_per_second;
  if (again) {
    return;
  }
  refused_kind_ = kind;
  refused_code_ = number(code);
  refused_at_ = now_;
  event({.code = EventCode::link_refused, .detail = number(code), .value = static_cast<std::int32_t>(kind)});
}

void App::note_forged(std::uint32_t count) {
  event(EventCode::forged, count, record::Priority::fault);
}

void App::fill(strandproof_wire_Identity& to) {
  to.jack_serial = device_.jack_serial;
  to.origin = number(device_.origin);
  std::strncpy(to.build, build_name, sizeof to.build - 1);
  to.table_revision = controller_.table().revision;
  to.settings_revision = controller_.settings().revision;
  to.sensor_a_serial = device_.sensor_a_serial;
  to.sensor_b_serial = device_.sensor_b_serial;
  to.stroke_sensor_serial = device_.stroke_sensor_serial;
  to.first_record = vault_.log().first();
  to.last_record = vault_.log().last();
  count_pulls_left();  // a release may have come since
  to.pulls_left = extra_.pulls_left;
}

void App::fill(strandproof_wire_Status& to) {
  const control::CoreState& core = controller_.core();
  to.state = number(core.state);
  to.load_state = number(core.load);
  to.cause = number(core.cause);
  to.refusal = number(extra_.refusal);
  to.instruction =
      controller_.pull_active() ? controller_.pull().instruction().id : controller_.instruction().id;
  to.table_revision = controller_.table().revision;
  to.utc_s = clock_.lower_bound(now_);
  to.clock_quality = number(clock_.quality());
  to.last_record = vault_.log().last();
  count_pulls_left();  // a release may have come since
  to.pulls_left = extra_.pulls_left;
  copies_.fill(to);
  compose(display_, controller_, extra_);
  to.display_count = static_cast<pb_size_t>(display_.size());
  for (std::size_t i = 0; i < display_.size(); ++i) {
    std::strncpy(to.display[i], display_[i].c_str(), sizeof to.display[i] - 1);
  }
}

void App::fill(strandproof_wire_Telemetry& to) {
  const control::CoreState& core = controller_.core();
  const control::Measures& m = controller_.measures();
  const control::ForcePair f = controller_.force();
  to.state = number(core.state);
  to.load_state = number(core.load);
  to.cause = number(core.cause);
  to.force_valid = f.any();
  to.force_n = f.any() ? units::to_integer(f.mean().si()) : 0;
  to.pressure_a_mbar = millibar(m.pressure(m.a.mean16()));
  to.pressure_b_mbar = millibar(m.pressure(m.b.mean16()));
  const bool datum = controller_.pull_active() && controller_.pull().datum_taken();
  to.elongation_um = datum ? units::to_integer(controller_.pull().elongation_held().si() * 1.0e6F) : 0;
  to.stroke_um = units::to_integer(m.stroke_mean64().si() * 1.0e6F);
  to.outputs = outputs_;
  to.oil_tenths_degc = oil_tenths(oil_counts_);
}

bool App::record_from(std::uint64_t from, strandproof_wire_LogRecord& to) {
  record::RecordHeader header;
  const record::Fetched got = vault_.log().read_from(from, header, {to.body.bytes, sizeof to.body.bytes});
  if (got.error != record::Error::none) {
    return false;
  }
  to.sequence = header.sequence;
  to.boot = header.boot;
  to.tick_ms = header.tick;
  to.body.size = got.size;
  return true;
}

}  // namespace strandproof::app
