#include "firmware/control/core.hpp"

#include "firmware/control/core_event.hpp"
#include "firmware/control/state_table.hpp"

namespace strandproof::control {
namespace {

using namespace core_event;

constexpr std::uint8_t allow_all = go_on | seat_it | lower_it;

Edges take_edges(CoreState& s, const Predicates& p) {
  const Edges e{p.select && !s.was_select, p.confirm && !s.was_confirm, p.reset && !s.was_reset};
  s.was_select = p.select;
  s.was_confirm = p.confirm;
  s.was_reset = p.reset;
  return e;
}

// Saturates where nothing looks any further: the explored states stay finite.
void count(std::uint16_t& timer, const CoreTiming& t) {
  if (timer < t.longest) {
    ++timer;
  }
}

// ---- what an event does beyond the move of the table ---------------------------------------------

void stop_with(CoreState& s, Cause cause) {
  const Interlock& row = interlock_of(cause);
  if (s.state != State::stopped) {
    s.resume = s.state;
  }
  if (s.state == State::seat && s.seat_begun) {
    s.load = LoadState::not_known;
  }
  s.cause = cause;
  s.latched = row.latched;
  s.clear_needed = row.search_bed;
  s.replace_strand = s.replace_strand || row.replace_strand;
  s.allow = static_cast<std::uint8_t>(s.allow & row.allow);
  s.fresh = false;
  s.chosen = false;
  s.choice = Choice::none;
  if (!s.latched) {  // a fresh press simply goes on with what was going on
    s.choice = s.resume == State::seat       ? Choice::seat
               : s.resume == State::lowering ? Choice::lower
                                             : Choice::go_on;
    s.chosen = true;
  }
}

// After the reset, and the search where the row asks for it: go on is offered where it is allowed.
void offer_choices(CoreState& s) {
  s.chosen = (s.allow & go_on) != 0;
  s.choice = s.chosen ? Choice::go_on : Choice::none;
}

void next_choice(CoreState& s) {
  s.chosen = false;
  for (unsigned step = 1; step <= 3; ++step) {
    const auto c = static_cast<Choice>((static_cast<unsigned>(s.choice) + step) % 4U);
    if (offered(s, c)) {
      s.choice = c;
      return;
    }
  }
}

void on_select(CoreState& s) {
  if (s.state == State::idle) {
    s.menu = static_cast<Menu>((static_cast<unsigned>(s.menu) + 1U) % menu_count);
    s.asked = false;
  } else if (s.state == State::settle || (s.state == State::stopped && !s.latched && !s.clear_needed)) {
    next_choice(s);
  }
}

Note on_confirm(CoreState& s, const CoreTiming& t) {
  if (s.state == State::idle) {
    switch (s.menu) {
      case Menu::pair_host:
        return Note::pairing_asked;
      case Menu::enrol_key:
        return Note::enrol_asked;
      case Menu::revoke_key:
        return Note::revoke_asked;
      case Menu::part_changed:
        return Note::part_asked;
      case Menu::log_copies:
        return Note::copies_asked;
      default:
        s.asked = true;
        return Note::ask_again;
    }
  }
  if (s.state == State::stopped && !s.latched && s.clear_needed) {
    s.clear_needed = false;
    offer_choices(s);
    return Note::clear_confirmed;
  }
  if (s.state == State::settle && s.timer >= t.settle && !s.chosen) {
    s.choice = s.choice == Choice::none ? Choice::seat : s.choice;
    s.chosen = true;
  } else if (s.state == State::stopped && s.choice != Choice::none && !s.latched) {
    s.chosen = true;
    s.fresh = false;  // the press that carries the choice out comes after it
  }
  return Note::none;
}

// Where a fresh press goes from a stop: the table says "stopped"; the choice says which way out.
State way_out(const CoreState& s) {
  return s.choice == Choice::seat ? State::seat : s.resume;
}

void on_enter(CoreState& s, State to) {
  s.timer = 0;
  s.ram_back = false;
  if (to != State::stopped) {
    s.chosen = false;
    s.choice = Choice::none;
  }
  switch (to) {
    case State::idle:
      s.asked = false;
      s.fresh = false;
      s.menu = Menu::pull;
      break;
    case State::ready:
      s.allow = allow_all;
      s.cause = Cause::none;
      s.top_ups = 0;
      s.replace_strand = s.seat_begun = s.wedges_pushed = s.biting = false;
      break;
    case State::slack:
      s.load = LoadState::on_jack;
      break;
    case State::seat:
      if (!s.biting) {
        s.allow = static_cast<std::uint8_t>(s.allow & (seat_it | lower_it));
      }
      break;
    case State::re_stroke:
      s.load = LoadState::on_chuck;
      s.bed_loaded = true;
      s.wedges_pushed = false;
      break;
    case State::lowering:
      s.allow = lower_it;
      break;
    case State::set_up:
    case State::rig:
      s.allow = allow_all;
      s.fresh = false;
      break;
    default:
      break;
  }
  s.state = to;
}

void end_with_no_load(CoreState& s) {
  if (s.state == State::seat) {
    s.load = LoadState::on_chuck;
    s.bed_loaded = true;
  } else if (s.seat_begun && !s.replace_strand) {
    s.load = LoadState::not_known;  // the chuck may have taken part of it
  } else {
    s.load = s.bed_loaded ? LoadState::on_chuck : LoadState::no_load;
  }
}

Refusal refusal_of(const CoreState& s, const Predicates& p) {
  if (in_mode(s.state)) {
    return Refusal::pressure_left;
  }
  if (p.any_enable) {
    return Refusal::enable_held;
  }
  if (under_load(s)) {
    return Refusal::under_load;
  }
  return p.arm;
}

// Set-up and rig know no sequence to tell them, and the frame of a rig holds what a strand holds: what is not
// seen to be without load is said to be on the jack.
void load_in_modes(CoreState& s, const Predicates& p) {
  if (!p.no_load) {
    s.load = LoadState::on_jack;
  } else if (s.load == LoadState::on_jack) {
    s.load = s.bed_loaded ? LoadState::on_chuck : LoadState::no_load;
  }
}

// Carries the timers and the things that are levels, not events.
void advance_counters(CoreState& s, const Predicates& p, const CoreTiming& t) {
  if (!p.any_enable && !p.advance && !p.lower) {
    s.fresh = true;
  }
  if (p.strand_broken && (where_of(s) & in_pull) != 0) {
    s.replace_strand = true;
    s.allow = static_cast<std::uint8_t>(s.allow & lower_it);
  }
  if (s.state == State::ready) {
    if (s.fresh && p.enable && p.advance) {
      count(s.timer, t);
    } else {
      s.timer = 0;
    }
    return;
  }
  count(s.timer, t);
  if (in_mode(s.state)) {
    load_in_modes(s, p);
  }
  if (s.biting && s.load == LoadState::on_chuck &&
      (p.jack_loaded || (s.state == State::take_up && !p.no_load))) {
    s.load = LoadState::on_jack;
  }
  if (s.state == State::seat && !s.wedges_pushed && s.timer >= t.push) {
    s.wedges_pushed = s.seat_begun = true;
  }
}

void do_reset(CoreState& s) {
  s.latched = false;
  if (!s.clear_needed) {
    offer_choices(s);
  }
}

constexpr Commands forward_slow{.motor = true, .advance_valve = true, .shut_off_open = true};
constexpr Commands forward_fast{
    .motor = true, .fast_stage = true, .advance_valve = true, .shut_off_open = true};
constexpr Commands back{.motor = true, .lower_valve = true, .shut_off_open = true};
constexpr Commands push{.motor = true, .seat_valve = true, .shut_off_open = true};

// Motor, stage and valves; none of them: the load is held.
Commands drive(const CoreState& s, const Predicates& p) {
  switch (s.state) {
    case State::slack:
    case State::main_pull:
      return forward_fast;
    case State::slow_pull:
      return forward_slow;
    case State::take_up:  // quick until the ram turns: oil with air in it takes its time
      return p.turned ? forward_slow : forward_fast;
    case State::seat:
      return s.wedges_pushed ? back : push;
    case State::re_stroke:
      return s.ram_back ? Commands{} : back;
    case State::lowering:
      return back;
    case State::set_up:
    case State::rig:
      if (!s.fresh || !p.enable || (p.advance && p.pressure_cap)) {
        return {};
      }
      return p.advance ? (p.select ? forward_fast : forward_slow) : p.lower ? back : Commands{};
    default:
      return {};
  }
}

// An event that stays in its state, or whose move is decided by more than the table.
void apply(CoreState& s, const Predicates& p, const CoreTiming& t, CoreStep& step, const Row& row) {
  switch (step.event) {
    case Event::trip:
      stop_with(s, tripping(s, p));
      on_enter(s, State::stopped);
      return;
    case Event::released:
      if (row.action == Action::move) {
        stop_with(s, Cause::enable_released);
        on_enter(s, State::stopped);
      }
      return;
    case Event::select:
      on_select(s);
      return;
    case Event::confirm_other:
      step.note = on_confirm(s, t);
      return;
    case Event::arm_refused:
      step.note = Note::refused;
      step.refusal = refusal_of(s, p);
      return;
    case Event::reset_refused:
      step.note = Note::refused;
      step.refusal = Refusal::cause_remains;
      return;
    case Event::bed_detensioned:
      s.load = LoadState::no_load;
      s.bed_loaded = s.seat_begun = false;
      step.note = Note::load_gone;
      return;
    case Event::ram_back:
      s.ram_back = true;
      s.fresh = false;  // the next stroke has a press of its own
      return;
    default:
      break;
  }
  if (s.state == State::stopped && step.event == Event::reset) {
    do_reset(s);
    step.note = Note::reset_done;
    return;
  }
  if (s.state == State::idle && step.event == Event::reset) {  // the menu from its beginning
    s.menu = Menu::pull;
    s.asked = false;
    return;
  }
  if (row.action == Action::refuse) {
    step.note = Note::refused;
    step.refusal = row.why;
    s.fresh = false;  // a held key is refused once, not every tick
    return;
  }
  if (row.action == Action::ignore) {
    return;
  }
  State to = row.to;
  if (s.state == State::stopped && (step.event == Event::go || step.event == Event::go_lower)) {
    if (!p.signal_plausible) {
      step.note = Note::refused;
      step.refusal = Refusal::signals_bad;
      s.fresh = false;
      return;
    }
    to = step.event == Event::go ? way_out(s) : row.to;
    s.cause = Cause::none;
  }
  if (step.event == Event::no_load) {
    end_with_no_load(s);
  }
  if (step.event == Event::top_up) {
    ++s.top_ups;
  }
  if (step.event == Event::bite_reached) {
    s.biting = true;
  } else if (step.event == Event::lifted_off || to == State::ended) {
    s.biting = false;
  }
  on_enter(s, to);
}

}  // namespace

Row table_row(State s, Event e) {
  return state_table::table.row[static_cast<unsigned>(s)][static_cast<unsigned>(e)];
}

CoreStep core_step(CoreState& s, const Predicates& p, const CoreTiming& t) {
  const Edges edges = take_edges(s, p);
  advance_counters(s, p, t);
  CoreStep step{
      .event = event_of(s, p, t, edges), .note = Note::none, .refusal = Refusal::none, .from = s.state};
  if (step.event == Event::nothing) {  // nearly every tick; ignored in every state (state_table.hpp)
    return step;
  }
  apply(s, p, t, step, table_row(s.state, step.event));
  if (step.note == Note::none && s.state != step.from) {
    step.note = Note::moved;
  }
  return step;
}

Commands core_outputs(const CoreState& s, const Predicates& p, const CoreTiming& t) {
  const bool lamp = s.load != LoadState::no_load || s.state == State::ready;
  const bool horn = (s.state == State::ready && s.timer > 0) ||
                    (s.state == State::stopped && s.latched && s.timer < 3 * t.horn);
  return drive(s, p) | Commands{.horn = horn, .lamp = lamp};
}

}  // namespace strandproof::control
