// The sequence and interlock core: enumerated predicates and saturating counters in, the next state and
// the outputs out. No floats, no clock, no memory but CoreState: the same object file is flown and
// explored state by state (tests/control/exploration_test.cpp).
#pragma once

#include <algorithm>
#include <cstdint>

#include "firmware/control/inputs.hpp"
#include "firmware/control/interlocks.hpp"
#include "firmware/control/names.hpp"

namespace strandproof::control {

// What a tick brought. Exactly one is taken a tick, the first that applies in this order.
enum class Event : std::uint8_t {
  nothing,
  trip,            // an interlock row is active; the cause rides along
  released,        // an enable or the moving key was let go
  target_reached,  // the stop: force predicted to end at the jack force
  near_target,
  bite_reached,  // as far as this stroke goes: the chuck holds the strand for the next one
  initial_reached,
  datum_taken,
  top_up,
  no_load,
  bitten,           // no load on the jack, the chuck holds, strokes are left
  ram_back,         // for the next stroke
  lifted_off,       // the strand has come off the chuck
  ready_horn_done,  // horn has sounded its time under a fresh press
  go,               // fresh enables and advance
  go_lower,         // fresh enables and lower
  arm,              // confirm on PULL, all arming conditions met
  arm_refused,
  enter_set_up,
  enter_rig,
  leave_mode,
  bed_detensioned,  // confirm on BED DETENSIONED
  confirm_other,    // confirm with another meaning, handled inside the state
  select,
  reset,
  reset_refused,
  abandon,  // reset after a stop before anything was loaded
};
inline constexpr unsigned event_count = 27;

// The idle menu and the choice after a stop, one cursor each.
enum class Menu : std::uint8_t {
  pull,
  set_up,
  rig,
  pair_host,
  bed_detensioned,
  enrol_key,
  revoke_key,
  part_changed,
  log_copies,
};
inline constexpr unsigned menu_count = 9;
enum class Choice : std::uint8_t { none, go_on, seat, lower };

struct Predicates {
  // Levels at the pendant; the core finds the edges.
  bool enable = false;  // both held
  bool any_enable = false;
  bool advance = false, lower = false, select = false, confirm = false, reset = false;
  // The first active interlock row for the present state, or none; and whether the latched cause is
  // still there.
  Cause active = Cause::none;
  bool cause_remains = false;
  // Measures of the pull, computed by the shell with their own hysteresis.
  bool initial_reached = false, near_target = false, target_reached = false, top_up_due = false;
  bool bite_reached = false, ram_back = false, lifted_off = false;
  bool turned = false;            // in the take-up: the ram moves or pulls
  bool chuck_holds = false;       // as the release of the jack has shown
  bool no_load = false;           // pressure of the jack gone
  bool jack_loaded = false;       // and this the other way, for some time
  bool pressure_cap = false;      // of set-up or rig: advance is not driven
  bool strand_broken = false;     // H14 seen in this pull, whatever stopped it
  bool signal_plausible = false;  // one pressure or the stroke: permissive of seat and lower
  Refusal arm = Refusal::none;    // result of the arming conditions
  bool ask_again = false;         // H23: the force differs from the like strand before
};

// Hold-to-run without an instruction.
[[nodiscard]] constexpr bool in_mode(State s) {
  return s == State::set_up || s == State::rig;
}

// Slack, datum, main pull, slow pull, and the tail's take-up of a further stroke.
[[nodiscard]] constexpr bool pulls(State s) {
  return s == State::slack || s == State::datum || s == State::main_pull || s == State::slow_pull ||
         s == State::take_up;
}

// Ticks. A test explores with small numbers; the machine flies flight_timing.
struct CoreTiming {
  std::uint16_t horn, datum, settle, push;
  std::uint16_t longest = std::max({static_cast<std::uint16_t>(3 * horn), datum, settle, push});
};
inline constexpr CoreTiming flight_timing{1000, 600, 2000, 1500};

struct CoreState {
  State state = State::idle;
  State resume = State::idle;  // where a fresh press goes on
  Cause cause = Cause::none;
  LoadState load = LoadState::no_load;
  Menu menu = Menu::pull;
  Choice choice = Choice::none;  // cursor after a stop
  bool chosen = false;           // the choice was confirmed
  bool latched = false;
  bool clear_needed = false;  // "bed searched and clear" still to be confirmed
  bool asked = false;         // the second question of H23 was shown
  bool fresh = false;         // enables and moving keys seen released since the last stop or entry
  bool seat_begun = false;    // the chuck may already carry part of the load
  bool wedges_pushed = false;
  bool biting = false;    // from the end of a stroke that is not the last, to the lift-off of the next
  bool ram_back = false;  // in the re-stroke: nothing moves until a fresh press
  bool replace_strand = false;
  bool bed_loaded = false;  // a strand of this bed was seated since the bed was last detensioned
  std::uint8_t allow = 0;   // what may still be chosen; causes only ever take away
  std::uint16_t timer = 0;  // ticks in this phase, saturating
  std::uint8_t top_ups = 0;
  bool was_select = false, was_confirm = false, was_reset = false;
  friend bool operator==(const CoreState&, const CoreState&) = default;
};

enum class Note : std::uint8_t {  // what the shell has to record or do
  none,
  moved,
  refused,
  reset_done,
  clear_confirmed,
  pairing_asked,
  enrol_asked,  // of a table key
  revoke_asked,
  part_asked,
  copies_asked,
  ask_again,
  load_gone,
};

struct CoreStep {
  Event event = Event::nothing;
  Note note = Note::none;
  Refusal refusal = Refusal::none;
  State from = State::idle;
  [[nodiscard]] constexpr bool nothing() const { return event == Event::nothing && note == Note::none; }
};

inline constexpr std::uint8_t top_ups_max = 3;

// Advances the core by one tick.
[[nodiscard]] CoreStep core_step(CoreState& s, const Predicates& p, const CoreTiming& t);

// Outputs of a state: a function of state and predicates only.
[[nodiscard]] Commands core_outputs(const CoreState& s, const Predicates& p, const CoreTiming& t);

// What is kept for a restart: between two strokes the chuck holds a force that no record says, so that it
// comes back as not known.
[[nodiscard]] constexpr LoadState load_to_keep(const CoreState& s) {
  return s.biting && s.load == LoadState::on_chuck ? LoadState::not_known : s.load;
}

// Which group of the interlock table a state belongs to.
[[nodiscard]] constexpr std::uint8_t group_of(State s) {
  switch (s) {
    case State::slack:
    case State::datum:
    case State::main_pull:
    case State::slow_pull:
    case State::take_up:
    case State::settle:
      return in_pull;
    case State::seat:
    case State::re_stroke:
      return in_seat;
    case State::lowering:
      return in_lower;
    case State::set_up:
    case State::rig:
      return in_modes;
    case State::ready:
      return in_ready;
    case State::ended:
    case State::stopped:
      return in_rest;
    default:
      return 0;
  }
}
[[nodiscard]] constexpr std::uint8_t where_of(const CoreState& s) {
  const bool loaded_stop = s.state == State::stopped && s.load == LoadState::on_jack && pulls(s.resume);
  return loaded_stop ? std::uint8_t{in_pull} : group_of(s.state);
}

// ---- the table, public for its tests and for the manual ------------------------------------------
enum class Action : std::uint8_t { ignore, move, refuse };
struct Row {
  Action action = Action::ignore;
  State to = State::idle;
  Refusal why = Refusal::none;
};
[[nodiscard]] Row table_row(State s, Event e);

}  // namespace strandproof::control
