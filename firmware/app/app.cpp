#include "firmware/app/app.hpp"

#include "firmware/app/from_wire.hpp"

namespace strandproof::app {
namespace {

constexpr units::Ticks pairing_window = 60'000;
constexpr units::Ticks clock_save_period =
    10 * 60 * units::ticks_per_second;        // lost at a power cut at the most
constexpr std::uint8_t display_period = 100;  // ticks
constexpr std::uint8_t service_pause = 16;    // ticks until flash that had nothing to do is asked again
static_assert(clock_save_period % display_period == 0, "it is looked at once in a display's period");

template <class E>
std::uint32_t number(E e) {
  return static_cast<std::uint32_t>(e);
}

}  // namespace

App::App(const port::Device& device, port::Flash& flash, port::Serial& serial)
    : device_{device},
      vault_{flash, device_},
      checkpointer_{vault_.chain(), device_},
      controller_{jack_of(device_), control::default_settings},
      session_{serial, device_, *this} {}

// ---- power on --------------------------------------------------------------------------------------------

void App::start() {
  vault_.mount();
  copies_.restore();  // before there is room to make
  retired_said_ = vault_.log().retired_pages();
  vault_.make_room();
  (void)vault_.load(record::CellId::boot_counter, boot_);
  ++boot_;
  (void)vault_.save(record::CellId::boot_counter, boot_);
  restore();
  event(EventCode::boot, boot_, record::Priority::fault);
  vault_.chain().flush();
  count_pulls_left();
  checkpointer_.due();
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
  shelf_.restore();
  if (vault_.load(record::CellId::load_state, kept_)) {
    controller_.restart(static_cast<control::LoadState>(kept_.load), kept_.seat_begun != 0,
                        kept_.bed_loaded != 0);
  } else if (!vault_.cells_good()) {
    controller_.restart(control::LoadState::not_known, true, true);  // nothing can be read: nothing is known
  }
  keep_load_state();
}

// ---- the tick --------------------------------------------------------------------------------------------

AppAnswer App::tick(const port::RawSample& sample) {
  ++now_;
  if (sample.digital != digital_) {  // contacts change far less often than they are looked at
    digital_ = sample.digital;
    switches_ = switches_of(digital_);
  }
  control::Inputs in{
      .now = now_, .analog = analog_of(sample), .is = switches_, .table_changed = shelf_.changed()};
  oil_counts_ = sample.oil_temperature;
  answer_questions(in);
  if (in.is.confirm && controller_.core().state == control::State::idle) {  // asked for at arming alone
    controller_.gates({.clock = clock_.table_gate(controller_.table().due_s, now_),
                       .store = vault_.gate(),
                       .bed = marks_.gate(controller_.instruction().bed, controller_.instruction().position),
                       .table = shelf_.bar()});
  }
  const control::Commands& c = controller_.tick(in);
  if (!(c == commands_)) {  // outputs change far less often than they are driven
    commands_ = c;
    outputs_ = bits_of(c);
  }
  snapshots_.sample(sample, static_cast<port::OutputBits>(outputs_), now_);
  record_tick();
  session_.poll(now_);
  write_records();
  housekeeping();
  const control::CoreState& core = controller_.core();
  return {.outputs = static_cast<port::OutputBits>(outputs_),
          .state = static_cast<std::uint8_t>(core.state),
          .cause = static_cast<std::uint8_t>(core.cause),
          .load_state = static_cast<std::uint8_t>(core.load)};
}

inline void App::record_tick() {
  const control::TickReport& r = controller_.report();
  if (r.step.nothing()) {
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
    append_pull();
    checkpointer_.due();
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
    case Note::enrol_asked:
      key_open_until_ = now_ + pairing_window;
      return;
    case Note::revoke_asked:
      chooser_.open(Chooser::List::revoke_key, now_);
      return;
    case Note::part_asked:
      chooser_.open(Chooser::List::part_changed, now_);
      return;
    case Note::copies_asked:
      chooser_.open(Chooser::List::copies, now_);
      return;
    case Note::ask_again:
      return;
    case Note::none:
      break;
    case Note::moved:
      break;
  }
  if (now == State::ready &&
      r.step.from == State::idle) {  // before the horn: a tick that moves oil has no time for it
    shelf_.pull_begun();
  }
  if (r.step.event == control::Event::trip) {
    const control::Cause cause = controller_.core().cause;
    event({trip_event(cause), number(cause), r.finding.value, r.finding.limit}, record::Priority::fault);
    snapshots_.trip(controller_, now_);
  } else if (r.step.event == control::Event::released && now != r.step.from) {
    event(EventCode::stop, number(r.step.from));
  } else if (r.step.event == control::Event::top_up && now != r.step.from) {
    event(EventCode::top_up, controller_.core().top_ups);
  } else if (r.step.event == control::Event::bitten) {
    const control::PullReport& p = controller_.pull().report();
    event(EventCode::seated, static_cast<std::uint32_t>(micrometres(p.stroke[p.re_bites - 1U].draw_in)));
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

// The curve first: a pull's record that is in the log has its curve before it. Its parts leave the reserve to
// the figures.
void App::append_pull() {
  RecordBytes bytes;
  for (unsigned next = 0; next < controller_.pull().curve().size();) {  // each part takes some points
    const std::size_t size = encode_curve(stamp(), next, bytes);
    append(bytes, size, record::Priority::routine);
  }
  append(bytes, encode_pull(stamp(), bytes), record::Priority::fault);
}

void App::event(EventCode code, std::uint32_t detail, record::Priority priority) {
  event({.code = code, .detail = detail}, priority);
}

void App::event(const EventNote& note, record::Priority priority) {
  RecordBytes bytes;
  append(bytes, encode_event(stamp(), note, bytes), priority);
}

// A table that the jack itself finds bad, at power on or in memory, is said once.
inline void App::watch_table() {
  const control::Refusal bar = shelf_.bar();
  const bool bad = bar == control::Refusal::table_damaged || bar == control::Refusal::table_key_gone ||
                   bar == control::Refusal::table_rolled_back || bar == control::Refusal::table_serial ||
                   bar == control::Refusal::table_origin;
  if (bad && !table_was_bad_) {
    event({.code = EventCode::table_bad,
           .detail = number(bar),
           .value = static_cast<std::int32_t>(shelf_.revision())},
          record::Priority::fault);
  }
  table_was_bad_ = bad;
}

void App::count_pulls_left() {
  if (at_rest()) {  // a pull under way does not ask
    extra_.pulls_left = vault_.pulls_left();
    extra_.log_wearing = vault_.log_wearing();
    extra_.copies_needed = copies_.needed();
    extra_.copies_named = copies_.count();
  }
}

// What the pendant says of the log, and the first that anybody hears of a page that has failed.
void App::watch_log() {
  count_pulls_left();
  if (at_rest() && vault_.log().retired_pages() != retired_said_) {
    retired_said_ = vault_.log().retired_pages();
    event({.code = EventCode::page_retired,
           .detail = retired_said_,
           .value = static_cast<std::int32_t>(Vault::spare_pages)},
          record::Priority::fault);
  }
}

// A record that the store refuses is lost to the log, never a reason to stop holding: the next arming is
// refused by the store's gate.
void App::append(const RecordBytes& bytes, std::size_t size, record::Priority priority) {
  if (size != 0) {
    vault_.chain().add({bytes.data(), size}, {boot_, now_, priority});
    record_made_ = true;
  }
}

// At the end of a pull and in idle a whole record is sealed a tick. Else, also while a stopped jack holds its
// load, a record is sealed in steps, and none in a moving tick that has made it. The signature of a
// checkpoint takes its time from ticks in which nothing moves and no record waits.
inline void App::write_records() {
  const bool made = record_made_;
  record_made_ = false;
  const control::State s = controller_.core().state;
  const bool idle = s == control::State::idle || s == control::State::ended;
  if (at_rest() && idle ? vault_.chain().seal_one() : made || vault_.chain().step()) {
    return;
  }
  if (at_rest()) {
    checkpointer_.step(stamp(), boot_);
  }
}

void App::keep_load_state() {
  const control::CoreState& core = controller_.core();
  const LoadCell cell{.load = static_cast<std::uint8_t>(control::load_to_keep(core)),
                      .seat_begun = static_cast<std::uint8_t>(core.seat_begun ? 1 : 0),
                      .bed_loaded = static_cast<std::uint8_t>(core.bed_loaded ? 1 : 0),
                      .unused = 0};
  if (cell != kept_ && vault_.save(record::CellId::load_state, cell)) {
    kept_ = cell;
  }
}

// What may wait a tick waits while a record is made: that is the longest tick that moves oil.
inline void App::housekeeping() {
  const control::CoreStep& step = controller_.report().step;
  const bool period =
      ++display_ms_ == display_period;  // a division of 64 bits takes the target a hundred steps
  if (period) {
    display_ms_ = 0;
    display_due_ = true;
  }
  if (step.nothing()) {
    shelf_.scrub();
    watch_table();
    if (snapshots_.waiting()) {
      record_made_ = snapshots_.step(stamp(), boot_) || record_made_;
    }
    if (display_due_) {
      watch_log();
      show_list();
      compose(display_, controller_, extra_);
      display_due_ = false;
    }
  }
  if (!at_rest()) {
    return;
  }
  if (period && now_ % clock_save_period == 0 && clock_.known()) {
    (void)vault_.save(record::CellId::clock, clock_.lower_bound(now_));
  }
  if (++served_ >= service_pause) {
    const bool more = vault_.log().service() || vault_.cells().service();
    served_ = more ? service_pause : std::uint8_t{0};
  }
}

}  // namespace strandproof::app
