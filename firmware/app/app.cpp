#include "firmware/app/app.hpp"

#include <algorithm>
#include <cstring>

#include "firmware/app/from_wire.hpp"

namespace strandproof::app {
namespace {

constexpr units::Ticks pairing_window = 60'000;
constexpr units::Ticks clock_save_period =
    10 * 60 * units::ticks_per_second;  // lost at a power cut at the most
constexpr units::Ticks display_period = 100;
constexpr const char* build_name = "0.1.0";

link::Code code_of(control::Refusal r) {
  return static_cast<link::Code>(r);
}

template <class E>
std::uint32_t number(E e) {
  return static_cast<std::uint32_t>(e);
}

std::uint32_t millibar(units::Pressure p) {
  const float mbar = p.si() / 100.0F;
  return mbar > 0.0F ? static_cast<std::uint32_t>(mbar) : 0U;
}

}  // namespace

App::App(const port::Device& device, port::Flash& flash, port::Serial& serial)
    : device_{device},
      vault_{flash},
      controller_{jack_of(device_), control::default_settings},
      session_{serial, device_, *this} {}

// ---- power on --------------------------------------------------------------------------------------------

void App::start() {
  vault_.mount();
  vault_.make_room();
  (void)vault_.load(record::CellId::boot_counter, boot_);
  ++boot_;
  (void)vault_.save(record::CellId::boot_counter, boot_);
  restore();
  event(EventCode::boot, boot_, record::Priority::fault);
}

void App::restore() {
  std::uint64_t trusted = 0;
  (void)vault_.load(record::CellId::clock, trusted);
  clock_.restart(trusted);
  (void)vault_.load(record::CellId::bed_marks, marks_.all());
  link::Pairing pairing;
  if (!vault_.load(record::CellId::pairing, pairing)) {
    pairing = link::Pairing{};
  }
  session_.start(boot_, pairing);
  restore_table();
  if (vault_.load(record::CellId::load_state, kept_)) {
    controller_.restart(static_cast<control::LoadState>(kept_.load), kept_.seat_begun != 0,
                        kept_.bed_loaded != 0);
  } else if (!vault_.cells_good()) {
    controller_.restart(control::LoadState::not_known, true, true);  // nothing can be read: nothing is known
  }
  keep_load_state();
}

void App::restore_table() {
  std::uint8_t slot = 0;
  if (!vault_.load(record::CellId::active_table, slot)) {
    return;
  }
  std::array<std::uint8_t, link::TableTransfer::table_max> bytes{};
  const std::uint16_t n =
      vault_.cells().read(slot == 0 ? record::CellId::table_slot_a : record::CellId::table_slot_b, bytes);
  strandproof_wire_GaugeTable message = strandproof_wire_GaugeTable_init_zero;
  control::GaugeTable table;
  if (n != 0 && decode_table({bytes.data(), n}, message) &&
      from_wire(message, table) == control::Refusal::none) {
    (void)controller_.install(table);
  }
}

// ---- the tick --------------------------------------------------------------------------------------------

AppAnswer App::tick(const port::RawSample& sample) {
  ++now_;
  control::Inputs in = inputs_of(sample, now_);
  answer_pairing(in);
  controller_.gates({.clock = clock_.table_gate(controller_.table().due_s, now_),
                     .store = vault_.log_error() != record::Error::none ? control::Refusal::store_fault
                              : !vault_.room_for_a_pull()               ? control::Refusal::store_full
                                                                        : control::Refusal::none,
                     .bed = marks_.gate(controller_.instruction().bed, controller_.instruction().position)});
  const control::Commands c = controller_.tick(in);
  outputs_ = bits_of(c);
  record_tick();
  session_.poll(now_);
  housekeeping();
  const control::CoreState& core = controller_.core();
  return {.outputs = static_cast<port::OutputBits>(outputs_),
          .state = static_cast<std::uint8_t>(core.state),
          .cause = static_cast<std::uint8_t>(core.cause),
          .load_state = static_cast<std::uint8_t>(core.load)};
}

// While a host waits to be paired, confirm and reset answer that question and nothing else.
void App::answer_pairing(control::Inputs& in) {
  const bool confirm = in.is.confirm && !was_confirm_;
  const bool reset = in.is.reset && !was_reset_;
  was_confirm_ = in.is.confirm;
  was_reset_ = in.is.reset;
  if (confirm || reset || in.is.select || in.is.advance || in.is.lower) {
    extra_.refusal = control::Refusal::none;
  }
  if (!session_.pairing_waits()) {
    return;
  }
  in.is.confirm = in.is.reset = false;
  if (confirm) {
    session_.confirm_pairing();
  } else if (reset) {
    session_.refuse_pairing();
  }
}

void App::record_tick() {
  const control::TickReport& r = controller_.report();
  if (r.step.event == control::Event::nothing && r.step.note == control::Note::none) {
    return;
  }
  record_step(r);
  if (r.step.event == control::Event::trip && controller_.core().replace_strand &&
      controller_.pull_active()) {
    const control::PullInstruction& i = controller_.pull().instruction();
    marks_.broken(i.bed, i.position);
    (void)vault_.save(record::CellId::bed_marks, marks_.all());
  }
  if (r.pull_ended) {
    RecordBytes bytes;
    append(bytes, encode_pull(stamp(), bytes), record::Priority::fault);
  }
  keep_load_state();
}

void App::record_step(const control::TickReport& r) {
  using control::Note;
  using control::State;
  const State now = controller_.core().state;
  switch (r.step.note) {
    case Note::refused:
      extra_.refusal = r.step.refusal;
      event(EventCode::refused, number(r.step.refusal));
      return;
    case Note::reset_done:
      event(EventCode::reset, number(r.was));
      return;
    case Note::clear_confirmed:
      event(EventCode::clear_confirmed);
      return;
    case Note::load_gone:
      event(EventCode::detensioned);
      return;
    case Note::pairing_asked:
      pairing_open_until_ = now_ + pairing_window;
      return;
    case Note::ask_again:
      return;
    case Note::none:
      break;
    case Note::moved:
      break;
  }
  if (r.step.event == control::Event::trip) {
    RecordBytes bytes;
    const EventNote note{EventCode::trip, number(controller_.core().cause), r.finding.value, r.finding.limit};
    append(bytes, encode_event(stamp(), note, bytes), record::Priority::fault);
  } else if (r.step.event == control::Event::released && now != r.step.from) {
    event(EventCode::stop, number(r.step.from));
  } else if (r.step.event == control::Event::top_up && now != r.step.from) {
    event(EventCode::top_up, controller_.core().top_ups);
  } else if (now == State::ended) {
    const float um = controller_.pull().report().draw_in.si() * 1.0e6F;
    const bool seated = r.step.from == State::seat;
    event(seated ? EventCode::seated : EventCode::lowered, seated ? static_cast<std::uint32_t>(um) : 0U);
  } else if (now != r.step.from) {
    event(now == State::ready                         ? EventCode::armed
          : now == State::set_up || now == State::rig ? EventCode::mode
                                                      : EventCode::state,
          now == State::ready ? controller_.instruction().id : number(r.step.from));
  }
}

void App::event(EventCode code, std::uint32_t detail, record::Priority priority) {
  RecordBytes bytes;
  append(bytes, encode_event(stamp(), {.code = code, .detail = detail}, bytes), priority);
}

// A record that the store refuses is lost to the log, never a reason to stop holding: the next arming is
// refused by the store's gate.
void App::append(const RecordBytes& bytes, std::size_t size, record::Priority priority) {
  if (size != 0) {
    (void)vault_.log().append({bytes.data(), size}, boot_, now_, priority);
  }
}

void App::keep_load_state() {
  const control::CoreState& core = controller_.core();
  const LoadCell cell{.load = static_cast<std::uint8_t>(core.load),
                      .seat_begun = static_cast<std::uint8_t>(core.seat_begun ? 1 : 0),
                      .bed_loaded = static_cast<std::uint8_t>(core.bed_loaded ? 1 : 0),
                      .unused = 0};
  if (cell != kept_ && vault_.save(record::CellId::load_state, cell)) {
    kept_ = cell;
  }
}

void App::housekeeping() {
  if (now_ % display_period == 0) {
    compose(display_, controller_, extra_);
  }
  if (!at_rest()) {
    return;
  }
  if (now_ % clock_save_period == 0 && clock_.known()) {
    (void)vault_.save(record::CellId::clock, clock_.lower_bound(now_));
  }
  if (!vault_.log().service()) {
    (void)vault_.cells().service();
  }
}

// ---- what the link asks
// ------------------------------------------------------------------------------------

bool App::at_rest() const {
  const control::State s = controller_.core().state;
  return outputs_ == 0 || ((s == control::State::idle || s == control::State::ended) &&
                           (outputs_ & ~std::uint32_t{port::bit(port::Output::lamp)}) == 0);
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

// Into the idle slot, read back by the cell, then switched by one committed write: at any power cut the old
// or the new table is active.
link::Code App::install_table(const strandproof_wire_GaugeTable& t, std::span<const std::uint8_t> bytes) {
  control::GaugeTable table;
  if (const control::Refusal r = from_wire(t, table); r != control::Refusal::none) {
    return code_of(r);
  }
  if (controller_.table().valid() && table.revision <= controller_.table().revision) {
    return link::Code::table_older;
  }
  if (clock_.lower_bound(now_) > table.due_s) {
    return link::Code::table_overdue;
  }
  if (const control::Refusal r = controller_.check_install(table); r != control::Refusal::none) {
    return code_of(r);
  }
  std::uint8_t active = 1;
  (void)vault_.load(record::CellId::active_table, active);
  const std::uint8_t idle = active == 0 ? 1 : 0;
  const auto slot = idle == 0 ? record::CellId::table_slot_a : record::CellId::table_slot_b;
  if (!vault_.cells().write(slot, bytes) || !vault_.save(record::CellId::active_table, idle)) {
    return link::Code::store_fault;
  }
  (void)controller_.install(table);
  event(EventCode::table_loaded, table.revision);
  return link::Code::none;
}

link::Code App::release_records(std::uint64_t up_to) {
  if (up_to > vault_.log().last()) {
    return link::Code::no_such_record;
  }
  vault_.log().release(up_to);
  return link::Code::none;
}

bool App::pairing_open() const {
  return now_ < pairing_open_until_ && at_rest();
}

bool App::store_pairing(const link::Pairing& p) {
  if (!vault_.save(record::CellId::pairing, p)) {
    return false;
  }
  pairing_open_until_ = 0;
  event(EventCode::paired, static_cast<std::uint32_t>(p.host_id));
  return true;
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
  to.elongation_um = datum ? units::to_integer(controller_.pull().elongation().si() * 1.0e6F) : 0;
  to.stroke_um = units::to_integer(m.stroke_mean64().si() * 1.0e6F);
  to.outputs = outputs_;
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
