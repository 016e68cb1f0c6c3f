#include "firmware/control/controller.hpp"

namespace strandproof::control {
namespace {

constexpr std::uint32_t fall_shown_ms = 300;  // of a break, on the curve
constexpr std::uint8_t force_period = 4;      // ticks, far from the end of a pull,
constexpr float near_share = 0.9F;            // which is below this share of where the force is to end

bool flow(const Commands& c) {
  return c.advance_valve || c.lower_valve || c.seat_valve;
}

bool same_drive(const Commands& a, const Commands& b) {
  return a.advance_valve == b.advance_valve && a.lower_valve == b.lower_valve &&
         a.seat_valve == b.seat_valve && a.fast_stage == b.fast_stage;
}

bool idle_like(State s) {
  return s == State::idle || s == State::ended;
}

constexpr std::uint8_t no_load_period = 4;  // ticks from one look at the load to the next

std::uint16_t one_look_on(std::uint16_t ms) {
  return ms < UINT16_MAX - no_load_period ? static_cast<std::uint16_t>(ms + no_load_period) : ms;
}

}  // namespace

Controller::Controller(const Jack& jack, const Settings& settings) : jack_{jack}, settings_{settings} {}

void Controller::restart(LoadState last, bool seat_begun, bool bed_loaded) {
  core_ = CoreState{};
  core_.bed_loaded = bed_loaded;
  if (last == LoadState::no_load || last == LoadState::on_chuck) {
    core_.load = bed_loaded ? LoadState::on_chuck : LoadState::no_load;
    return;
  }
  core_.state = State::stopped;
  core_.cause = Cause::power_returned;
  core_.load = LoadState::not_known;
  core_.seat_begun = seat_begun;
  core_.allow = power_returned_row.allow;
}

Refusal Controller::load(const PullInstruction& i) {
  if (!idle_like(core_.state)) {
    return Refusal::busy;
  }
  const Refusal r = may_load(i, jack_);
  if (r == Refusal::none) {
    instruction_ = i;
    core_.asked = false;
  }
  return r;
}

Refusal Controller::check_install(const GaugeTable& t) const {
  if (!idle_like(core_.state)) {
    return Refusal::busy;
  }
  return made_for(t, jack_);
}

Refusal Controller::install(const GaugeTable& t) {
  const Refusal r = check_install(t);
  if (r == Refusal::none) {
    table_ = t;
  }
  return r;
}

ForcePair Controller::force() const {
  return {m_.force_line(m_.a, table_.a_increasing), m_.force_line(m_.b, table_.b_increasing)};
}

inline ForcePair Controller::force_now() {
  return {m_.force_line(m_.a, table_.a_increasing, last_a_),
          m_.force_line(m_.b, table_.b_increasing, last_b_)};
}

// Each tick where the end may be near; further off a few ticks make no difference, and the raw limits (H01)
// look at every sample all the same.
inline bool Controller::force_due() {
  switch (core_.state) {
    case State::slack:
    case State::main_pull:
      if (!near_end_ && ++force_waits_ < force_period) {
        return false;
      }
      force_waits_ = 0;
      return true;
    case State::slow_pull:
      return true;
    default:
      near_end_ = false;
      return false;
  }
}

const Commands& Controller::tick(const Inputs& in) {
  m_.sample(in.analog);
  watch_no_load();
  const ForcePair f = force_due() ? force_now() : ForcePair{};
  detectors_.look(in, core_, driven_, pull_, f);
  const Predicates p = predicates(in, f);
  report_.was = core_.cause;
  report_.pull_ended = false;
  report_.step = core_step(core_, p, flight_timing);
  if (report_.step.event == Event::trip || rows_watched_) {
    looks_ = detectors_.looks(pull_);  // before books and flow change
  }
  if (report_.step.event == Event::trip) {
    report_.finding = detectors_.of(core_.cause);
    pull_cause_ = core_.cause;
  }
  if (core_.state != report_.step.from) {
    entered(report_.step.from, in.now, f);
  }
  keep_books(in.now, f);
  const Commands c = core_outputs(core_, p, flight_timing);
  if (!(c == driven_)) {
    if (!same_drive(c, driven_)) {
      m_.flow_changed();
      detectors_.flow_changed(flow(c));
    }
    driven_ = c;
  }
  return driven_;
}

inline bool Controller::ram_home() const {
  return !m_.stroke.signal().failed() && m_.stroke_mean64() < units::Length::from_si(3.0e-3F);
}

inline bool Controller::reads_low(const Channel& c) const {
  return c.has(16) ? c.sum_ago(0, 16) < low_sum16_ : m_.pressure(c.mean16()) < settings_.no_load_pressure;
}

// No load is said when every good pressure is low; when only one is (the other may be stuck high), the ram
// must be home as well. A single low channel under load is never enough: it may be the one that is stuck.
inline bool Controller::pressure_gone() const {
  const bool a_low = m_.a_good() && reads_low(m_.a);
  const bool b_low = m_.b_good() && reads_low(m_.b);
  if (m_.a_good() && m_.b_good()) {
    return (a_low && b_low) || ((a_low || b_low) && ram_home());
  }
  return m_.a_good() || m_.b_good() ? a_low || b_low : ram_home();
}

// Below the pressure's threshold the strand still holds what the threshold and the jack's friction hold: some
// kilonewtons. So the ram has to come back further than that stretches the strand, or to stand though it is
// driven (home, or its signal stuck), before no load is said.
units::Length Controller::clearing_travel() const {
  const float stiffness = pull_active_ ? pull_.instruction().stiffness.si() : 0.0F;
  const Reading first =
      table_.valid() ? table_.a_increasing.at(table_.a_increasing.first_pressure()) : Reading{};
  if (!(stiffness > 0.0F) || !first.inside) {
    return settings_.clearing_unknown;
  }
  const float held = settings_.clearing_share * settings_.no_load_pressure.si() * first.newton_per_pascal;
  const units::Length travel = units::Length::from_si(held / stiffness);
  return travel > settings_.clearing_min ? travel : settings_.clearing_min;
}

inline void Controller::watch_no_load() {
  if (++no_load_waits_ < no_load_period) {
    return;
  }
  no_load_waits_ = 0;
  const bool releasing = core_.state == State::seat || core_.state == State::lowering || in_mode(core_.state);
  const bool gone = pressure_gone();
  loaded_ms_ = gone ? std::uint16_t{0} : one_look_on(loaded_ms_);
  if (!gone) {
    no_load_ms_ = stands_ms_ = 0;
    cleared_ = false;
    return;
  }
  if (no_load_ms_ == 0) {  // the division once, not each tick: a moving tick has its budget on the target
    stands_at_ = m_.stroke_mean64();
    clear_at_ = stands_at_ - clearing_travel();
  }
  if (releasing && !driven_.lower_valve) {
    return;  // a ram that is not driven comes no further and says nothing by standing
  }
  no_load_ms_ = one_look_on(no_load_ms_);
  const units::Length at = m_.stroke_mean64();
  if (abs(at - stands_at_) > settings_.standing) {
    stands_at_ = at;
    stands_ms_ = 0;
  } else {
    stands_ms_ = one_look_on(stands_ms_);
  }
  cleared_ =
      cleared_ || at <= clear_at_ || stands_ms_ >= (ram_home() ? settings_.home_ms : settings_.stands_ms);
}

inline Predicates Controller::predicates(const Inputs& in, const ForcePair& f) {
  Predicates p;
  p.enable = in.is.enable_1 && in.is.enable_2;
  p.any_enable = in.is.enable_1 || in.is.enable_2;
  p.advance = in.is.advance;
  p.lower = in.is.lower;
  p.select = in.is.select;
  p.confirm = in.is.confirm;
  p.reset = in.is.reset;
  p.active = detectors_.any_active() ? detectors_.first_active(where_of(core_)) : Cause::none;
  p.cause_remains = detectors_.is_active(core_.cause);
  p.strand_broken = detectors_.broken() && pull_active_;
  // In the seat the wedges hold the bed: what is left on the jack is the tail, stiff and short.
  p.no_load = no_load_ms_ >= settings_.no_load_ms &&
              (cleared_ || core_.state == State::seat || core_.state == State::take_up);
  p.jack_loaded = loaded_ms_ >= settings_.loaded_ms;
  p.signal_plausible = m_.any_plausible();
  if (in_mode(core_.state)) {
    const units::Pressure cap = core_.state == State::rig ? jack_.pressure_rig_rating : settings_.set_up_cap;
    p.pressure_cap = !(m_.pressure_now() < cap);
  }
  if (core_.state == State::idle && in.is.confirm && !core_.was_confirm) {
    p.arm = may_arm(instruction_, table_, jack_, settings_, m_, in.is, gates_);
    const bool like = previous_.id != 0 && previous_.strand_name == instruction_.strand_name;
    const float apart = like ? instruction_.jack / previous_.jack - 1.0F : 0.0F;
    p.ask_again = !(apart <= settings_.ask_again_difference && apart >= -settings_.ask_again_difference);
  }
  pull_predicates(p, f);
  return p;
}

// Each channel may say stop; the mean of both only judges progress.
inline void Controller::pull_predicates(Predicates& p, const ForcePair& f) {
  const float run_on = pull_.run_on_s();
  const auto ends_at = [&](const Channel& c, const ForceLine& l, units::Force target, float lead) {
    const units::Force at_most = l.force + units::Force::from_si(l.rate * (run_on + lead));
    // The noise only ever takes away: what it takes is asked where something is left to take it from.
    return l.valid && at_most >= target &&
           predicted(l, m_.deviation(c, l), run_on + lead, settings_) >= target;
  };
  const auto either = [&](units::Force target, float lead) {
    return ends_at(m_.a, f.a, target, lead) || ends_at(m_.b, f.b, target, lead);
  };
  const auto look_near = [&](units::Force target) {
    const auto near = [&](const ForceLine& l) {
      return l.valid && l.force + units::Force::from_si(l.rate * (run_on + settings_.slow_lead_s)) >=
                            target * near_share;
    };
    near_end_ = f.any() ? near(f.a) || near(f.b) : near_end_;
  };
  switch (core_.state) {
    case State::slack:
      look_near(instruction_.initial);
      p.initial_reached = either(instruction_.initial, 0.0F);
      break;
    case State::main_pull:
      look_near(instruction_.jack);
      p.target_reached = either(instruction_.jack, 0.0F);
      p.near_target = either(instruction_.jack, settings_.slow_lead_s);
      p.bite_reached = pull_.bite_reached();
      break;
    case State::slow_pull:
      p.target_reached = either(instruction_.jack, 0.0F);
      break;
    case State::settle:
      p.top_up_due = pull_.top_up_due();
      break;
    case State::seat:
      p.chuck_holds = core_.biting && pull_.chuck_holds();
      break;
    case State::re_stroke:
      p.ram_back = pull_.ram_back();
      break;
    case State::take_up:
      p.lifted_off = pull_.lifted_off();
      p.turned = pull_.turned();
      break;
    default:
      break;
  }
}

void Controller::entered(State from, units::Ticks now, const ForcePair& f) {
  switch (core_.state) {
    case State::ready:
      if (from == State::idle) {
        pull_.arm(instruction_, jack_.stroke_usable, now);
        detectors_.arm(detectors_.limits(instruction_, table_), instruction_);
        previous_ = instruction_;
        pull_active_ = true;
        pull_cause_ = Cause::none;
      }
      break;
    case State::slack:
      if (from == State::ready) {
        pull_.enter_slack();
      }
      break;
    case State::datum:
    case State::settle:
      if (from != State::stopped) {
        pull_.cut(f.any() ? f : force());  // a stroke ends by the ram's place
      }
      break;
    case State::main_pull:
      if (from == State::datum) {
        pull_.take_datum(now);
      } else if (from == State::take_up) {
        pull_.lift_off(now);
      }
      break;
    case State::re_stroke:
      if (from == State::seat) {
        pull_.bitten();
      }
      break;
    case State::take_up:
      if (from == State::re_stroke) {
        pull_.begin_take_up();
      }
      break;
    case State::seat:
      if (from == State::settle || !pull_.seating()) {
        pull_.begin_seat();
      }
      break;
    case State::ended:
    case State::idle:
      if (pull_active_) {
        pull_active_ = false;
        report_.pull_ended = true;
        pull_.end(now, core_.replace_strand                                        ? Verdict::must_be_replaced
                       : from == State::seat || core_.load == LoadState::not_known ? Verdict::none
                                                                                   : Verdict::lowered);
        instruction_ = PullInstruction{};
      }
      break;
    default:
      break;
  }
}

inline void Controller::keep_books(units::Ticks now, const ForcePair& f) {
  settle_ms_ = core_.state == State::settle ? settle_ms_ + 1 : 0;
  stopped_ms_ = core_.state == State::stopped ? stopped_ms_ + 1 : 0;
  switch (core_.state) {
    case State::main_pull:
    case State::slow_pull:
      if (f.any()) {
        pull_.track(f, now);
      }
      break;
    case State::settle:
      pull_.settle_tick(settle_ms_);
      if (settle_ms_ == flight_timing.settle) {
        pull_.end_of_settle(now);
      }
      break;
    case State::stopped:
      if (core_.replace_strand && pull_active_ && stopped_ms_ <= fall_shown_ms) {
        pull_.track_fall(table_, now);
      }
      break;
    case State::take_up:
      pull_.take_up_tick(table_, no_load_ms_ != 0);
      break;
    case State::seat:
      if (core_.wedges_pushed) {
        pull_.seat_tick(table_);
      }
      break;
    default:
      break;
  }
}

}  // namespace strandproof::control
