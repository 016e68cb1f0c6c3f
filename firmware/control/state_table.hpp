// The state table: every (state, event) has exactly one row, proven below by the compiler. Rows that
// share an answer are written together; a pair written twice or forgotten does not compile.
#pragma once

#include <array>
#include <initializer_list>

#include "firmware/control/core.hpp"

namespace strandproof::control::state_table {

struct Entry {
  State state;
  std::initializer_list<Event> events;
  Row row;
};

constexpr Row move(State to) {
  return {Action::move, to, Refusal::none};
}
constexpr Row refuse(Refusal why) {
  return {Action::refuse, State::idle, why};
}
inline constexpr Row ignore{};

struct Table {
  std::array<std::array<Row, event_count>, state_count> row{};
  std::array<std::array<unsigned char, event_count>, state_count> written{};

  constexpr void set(State s, std::initializer_list<Event> events, Row r) {
    for (const Event e : events) {
      row[static_cast<unsigned>(s)][static_cast<unsigned>(e)] = r;
      ++written[static_cast<unsigned>(s)][static_cast<unsigned>(e)];
    }
  }
  [[nodiscard]] constexpr bool exactly_once() const {
    for (const auto& state : written) {
      for (const auto n : state) {
        if (n != 1) {
          return false;
        }
      }
    }
    return true;
  }
};

using enum Event;

constexpr Table build() {
  Table t;
  const Row busy = refuse(Refusal::busy);
  // Progress of a pull means nothing where no pull is; keys that do nothing here are refused with a reason.
  t.set(State::idle,
        {nothing, trip, released, target_reached, near_target, initial_reached, datum_taken, top_up, no_load,
         ready_horn_done, confirm_other, select, reset, reset_refused, abandon},
        ignore);
  t.set(State::idle, {go, go_lower}, refuse(Refusal::no_instruction));
  t.set(State::idle, {arm}, move(State::ready));
  t.set(State::idle, {arm_refused}, ignore);  // the refusal itself rides on the event
  t.set(State::idle, {enter_set_up}, move(State::set_up));
  t.set(State::idle, {enter_rig}, move(State::rig));
  t.set(State::idle, {leave_mode}, ignore);
  t.set(State::idle, {bed_detensioned}, move(State::idle));

  t.set(State::ready,
        {nothing, released, target_reached, near_target, initial_reached, datum_taken, top_up, no_load, go,
         confirm_other, select, reset_refused, abandon},
        ignore);
  t.set(State::ready, {trip}, move(State::stopped));
  t.set(State::ready, {ready_horn_done}, move(State::slack));
  t.set(State::ready, {reset}, move(State::idle));
  t.set(State::ready, {go_lower, arm, arm_refused, enter_set_up, enter_rig, leave_mode, bed_detensioned},
        busy);

  const std::array moving{State::slack, State::datum, State::main_pull, State::slow_pull, State::take_up};
  for (const State s : moving) {
    t.set(
        s,
        {nothing, top_up, no_load, ready_horn_done, go, select, confirm_other, reset, reset_refused, abandon},
        ignore);
    t.set(s, {trip, released}, move(State::stopped));
    t.set(s, {go_lower, arm, arm_refused, enter_set_up, enter_rig, leave_mode, bed_detensioned}, busy);
  }
  t.set(State::slack, {initial_reached}, move(State::datum));
  t.set(State::slack, {target_reached, near_target, datum_taken}, ignore);
  t.set(State::datum, {datum_taken}, move(State::main_pull));
  t.set(State::datum, {target_reached, near_target, initial_reached}, ignore);
  t.set(State::main_pull, {near_target}, move(State::slow_pull));
  t.set(State::main_pull, {target_reached}, move(State::settle));
  t.set(State::main_pull, {initial_reached, datum_taken}, ignore);
  t.set(State::slow_pull, {target_reached}, move(State::settle));
  t.set(State::slow_pull, {near_target, initial_reached, datum_taken}, ignore);
  t.set(State::take_up, {target_reached, near_target, initial_reached, datum_taken}, ignore);

  // Of a pull in several strokes: each of these has one state in which it means something.
  for (unsigned s = 0; s < state_count; ++s) {
    const auto of = static_cast<State>(s);
    t.set(of, {bite_reached}, of == State::main_pull ? move(State::settle) : ignore);
    t.set(of, {bitten}, of == State::seat ? move(State::re_stroke) : ignore);
    t.set(of, {ram_back}, ignore);  // what it does in the re-stroke stays there: core.cpp
    t.set(of, {lifted_off}, of == State::take_up ? move(State::main_pull) : ignore);
  }

  // Nothing moves in the settle, so letting go is no stop; the seat needs its own confirm.
  t.set(State::settle,
        {nothing, released, target_reached, near_target, initial_reached, datum_taken, no_load,
         ready_horn_done, select, confirm_other, reset, reset_refused, abandon},
        ignore);
  t.set(State::settle, {trip}, move(State::stopped));
  t.set(State::settle, {top_up}, move(State::slow_pull));
  t.set(State::settle, {go}, move(State::seat));
  t.set(State::settle, {go_lower}, move(State::lowering));
  t.set(State::settle, {arm, arm_refused, enter_set_up, enter_rig, leave_mode, bed_detensioned}, busy);

  for (const State s : {State::seat, State::lowering}) {
    t.set(s,
          {nothing, target_reached, near_target, initial_reached, datum_taken, top_up, ready_horn_done, go,
           go_lower, select, confirm_other, reset, reset_refused, abandon},
          ignore);
    t.set(s, {trip, released}, move(State::stopped));
    t.set(s, {no_load}, move(State::ended));
    t.set(s, {arm, arm_refused, enter_set_up, enter_rig, leave_mode, bed_detensioned}, busy);
  }

  t.set(State::re_stroke,
        {nothing, target_reached, near_target, initial_reached, datum_taken, top_up, no_load, ready_horn_done,
         select, confirm_other, reset, reset_refused, abandon},
        ignore);
  t.set(State::re_stroke, {trip, released}, move(State::stopped));
  t.set(State::re_stroke, {go}, move(State::take_up));
  t.set(State::re_stroke, {go_lower, arm, arm_refused, enter_set_up, enter_rig, leave_mode, bed_detensioned},
        busy);

  t.set(State::ended,
        {nothing, released, target_reached, near_target, initial_reached, datum_taken, top_up, no_load,
         ready_horn_done, select, confirm_other, reset_refused, abandon},
        ignore);
  t.set(State::ended, {trip}, move(State::stopped));
  t.set(State::ended, {reset}, move(State::idle));
  t.set(State::ended, {go, go_lower, arm, arm_refused, enter_set_up, enter_rig, leave_mode, bed_detensioned},
        busy);

  t.set(State::stopped,
        {nothing, released, target_reached, near_target, initial_reached, datum_taken, top_up, no_load,
         ready_horn_done, select, confirm_other, reset_refused},
        ignore);
  t.set(State::stopped, {trip, reset}, move(State::stopped));
  t.set(State::stopped, {abandon}, move(State::idle));
  t.set(State::stopped, {go}, move(State::stopped));  // to the chosen state: core.cpp, go_from_stop
  t.set(State::stopped, {go_lower}, move(State::lowering));
  t.set(State::stopped, {arm, arm_refused, enter_set_up, enter_rig, leave_mode, bed_detensioned}, busy);

  for (const State s : {State::set_up, State::rig}) {
    t.set(s,
          {nothing, released, target_reached, near_target, initial_reached, datum_taken, top_up, no_load,
           ready_horn_done, go, go_lower, select, confirm_other, reset, reset_refused, abandon},
          ignore);
    t.set(s, {trip}, move(State::stopped));
    t.set(s, {leave_mode}, move(State::idle));
    t.set(s, {arm, arm_refused, enter_set_up, enter_rig, bed_detensioned}, busy);
  }
  return t;
}

inline constexpr Table table = build();
static_assert(table.exactly_once(), "a (state, event) pair is missing from the table or stands in it twice");

constexpr bool nothing_is_ignored() {
  for (const auto& row : table.row) {
    if (row[static_cast<unsigned>(Event::nothing)].action != Action::ignore) {
      return false;
    }
  }
  return true;
}
static_assert(nothing_is_ignored(), "a tick without an event must change nothing");

}  // namespace strandproof::control::state_table
