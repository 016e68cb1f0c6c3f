#include "firmware/control/core_event.hpp"

namespace strandproof::control::core_event {

namespace {

// The key that has to be held with both enables in this state.
bool held(const CoreState& s, const Predicates& p) {
  return p.enable && (s.state == State::lowering ? p.lower : p.advance);
}

}  // namespace

bool offered(const CoreState& s, Choice c) {
  switch (c) {
    case Choice::go_on:
      return s.state == State::stopped && (s.allow & go_on) != 0;
    case Choice::seat:
      return (s.allow & seat_it) != 0 && under_load(s) && !in_mode(s.resume);  // a rig has no wedges to seat
    case Choice::lower:
      return (s.allow & lower_it) != 0;
    case Choice::none:
      return false;
  }
  return false;
}

namespace {

bool pulling(const CoreState& s) {
  return pulls(s.state) || s.state == State::settle;
}

}  // namespace

// What stops the machine this tick, or none. A latched cause stays the first cause, but for two that are
// worse than what they follow: the stop circuit itself is faulty, or the strand has broken meanwhile.
Cause tripping(const CoreState& s, const Predicates& p) {
  if (pulling(s) && s.replace_strand && p.active == Cause::none) {
    return Cause::h14_strand_break;
  }
  if (s.state != State::stopped || p.active == Cause::none) {
    return p.active;
  }
  if (!s.latched) {
    // A cause that a person has reset may well last (a lost signal): it must not bar seat and lower. What
    // asks to be gone, and a break, trip at any time.
    const Interlock& row = interlock_of(p.active);
    const bool was_reset = interlock_of(s.cause).latched || s.cause == Cause::power_returned;
    return !was_reset || row.until_gone || row.replace_strand ? p.active : Cause::none;
  }
  const bool worse = (p.active == Cause::h16_stop_circuit && s.cause == Cause::emergency_stop) ||
                     (p.active == Cause::h14_strand_break && s.cause != p.active);
  return worse ? p.active : Cause::none;
}

namespace {

Event measured_event(const CoreState& s, const Predicates& p, const CoreTiming& t) {
  switch (s.state) {
    case State::slack:
      return p.initial_reached ? Event::initial_reached : Event::nothing;
    case State::datum:
      return s.timer >= t.datum ? Event::datum_taken : Event::nothing;
    case State::main_pull:
      return p.target_reached ? Event::target_reached
             : p.near_target  ? Event::near_target
             : p.bite_reached ? Event::bite_reached
                              : Event::nothing;
    case State::take_up:
      return p.lifted_off ? Event::lifted_off : Event::nothing;
    case State::re_stroke:
      return p.ram_back && !s.ram_back ? Event::ram_back : Event::nothing;
    case State::slow_pull:
      return p.target_reached ? Event::target_reached : Event::nothing;
    case State::settle:
      return s.timer >= t.settle && p.top_up_due && s.top_ups < top_ups_max && held(s, p) && !s.chosen &&
                     !s.biting
                 ? Event::top_up
                 : Event::nothing;
    case State::seat:
      return !s.wedges_pushed || !p.no_load                        ? Event::nothing
             : s.biting && p.chuck_holds && (s.allow & go_on) != 0 ? Event::bitten
                                                                   : Event::no_load;
    case State::lowering:
      return p.no_load ? Event::no_load : Event::nothing;
    default:
      return Event::nothing;
  }
}

Event idle_confirm(const CoreState& s, const Predicates& p) {
  switch (s.menu) {
    case Menu::pull:
      if (p.any_enable || p.arm != Refusal::none || under_load(s)) {
        return Event::arm_refused;
      }
      return p.ask_again && !s.asked ? Event::confirm_other : Event::arm;
    case Menu::set_up:
      return p.any_enable || under_load(s) ? Event::arm_refused : Event::enter_set_up;
    case Menu::rig:
      return p.any_enable || under_load(s) ? Event::arm_refused : Event::enter_rig;
    case Menu::pair_host:
    case Menu::enrol_key:
    case Menu::revoke_key:
    case Menu::part_changed:
    case Menu::log_copies:
      return Event::confirm_other;
    case Menu::bed_detensioned:
      return s.load == LoadState::on_jack ? Event::arm_refused : Event::bed_detensioned;
  }
  return Event::nothing;
}

Event confirm_event(const CoreState& s, const Predicates& p) {
  switch (s.state) {
    case State::idle:
      return idle_confirm(s, p);
    case State::set_up:
    case State::rig:
      return p.no_load ? Event::leave_mode : Event::arm_refused;
    default:
      return Event::confirm_other;
  }
}

Event reset_event(const CoreState& s, const Predicates& p) {
  if (s.state != State::stopped || s.latched) {
    return s.state == State::stopped && interlock_of(s.cause).until_gone && p.cause_remains
               ? Event::reset_refused
               : Event::reset;
  }
  return s.resume == State::ready ? Event::abandon : Event::nothing;
}

Event press_event(const CoreState& s, const Predicates& p, const CoreTiming& t) {
  const bool lowering_chosen = s.chosen && s.choice == Choice::lower;
  switch (s.state) {
    case State::ready:
      return s.timer >= t.horn ? Event::ready_horn_done : Event::nothing;
    case State::idle:
      return !s.fresh || !p.enable ? Event::nothing
             : p.advance           ? Event::go
             : p.lower             ? Event::go_lower
                                   : Event::nothing;
    case State::settle:
      if (lowering_chosen) {
        return s.fresh && p.enable && p.lower ? Event::go_lower : Event::nothing;
      }
      return s.chosen && s.choice == Choice::seat && p.enable && p.advance ? Event::go : Event::nothing;
    case State::re_stroke:
      return s.ram_back && s.fresh && p.enable && p.advance ? Event::go : Event::nothing;
    case State::stopped:
      if (s.latched || s.clear_needed || !s.chosen || !offered(s, s.choice) || !s.fresh || !p.enable) {
        return Event::nothing;
      }
      if (lowering_chosen) {
        return p.lower ? Event::go_lower : Event::nothing;
      }
      return p.advance ? Event::go : Event::nothing;
    default:
      return Event::nothing;
  }
}

}  // namespace

Event event_of(const CoreState& s, const Predicates& p, const CoreTiming& t, const Edges& e) {
  if (tripping(s, p) != Cause::none) {
    return Event::trip;
  }
  const bool moving = pulls(s.state) || s.state == State::seat || s.state == State::lowering ||
                      (s.state == State::re_stroke && !s.ram_back);
  if (moving && !held(s, p)) {
    return Event::released;
  }
  if (const Event m = measured_event(s, p, t); m != Event::nothing) {
    return m;
  }
  if (e.reset) {
    return reset_event(s, p);
  }
  if (e.confirm) {
    return confirm_event(s, p);
  }
  return e.select ? Event::select : press_event(s, p, t);
}

}  // namespace strandproof::control::core_event
