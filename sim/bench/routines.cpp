#include "sim/bench/routines.hpp"

#include <utility>

#include "sim/bench/names.hpp"
#include "sim/board/brain.hpp"

namespace strandproof::sim {
namespace {

// The pace of a person [common practice, no source]: a key is pressed for a fifth of a second, and a
// third of a second passes between two things.
constexpr double press_s = 0.2;
constexpr double pause_s = 0.3;
constexpr double look_s = 1.0;  // looking at the display before doing the next thing

}  // namespace

void Moves::start(std::vector<Move> moves, double now_s) {
  moves_ = std::move(moves);
  next_ = 0;
  until_s_ = now_s;
}

bool Moves::play(double now_s, Pendant& hands) {
  while (now_s >= until_s_) {
    if (next_ == moves_.size()) {
      return false;
    }
    hands = moves_[next_].hands;
    until_s_ += moves_[next_].seconds;
    ++next_;
  }
  return true;
}

Pendant nothing() {
  return {};
}
Pendant confirm() {
  return {.confirm = true};
}
Pendant select() {
  return {.select = true};
}
Pendant reset() {
  return {.reset = true};
}
Pendant pull_keys() {
  return {.enable_1 = true, .enable_2 = true, .advance = true};
}
Pendant lower_keys() {
  return {.enable_1 = true, .enable_2 = true, .lower = true};
}

namespace {

std::vector<Move> press(Pendant key) {
  return {{key, press_s}, {nothing(), pause_s}};
}

std::vector<Move> press_each(const std::vector<Pendant>& keys) {
  std::vector<Move> moves{{nothing(), look_s}};
  for (const Pendant& key : keys) {
    for (const Move& move : press(key)) {
      moves.push_back(move);
    }
  }
  return moves;
}

// From holding the keys in ready (or going on from a stop) to idle again after the end, or to a stop.
class HeldPull {
 public:
  Routine::Progress step(const View& view, Pendant& hands, std::string& why) {
    if (view.state != seen_) {
      seen_ = view.state;
      since_s_ = view.time_s;
    }
    const double here_s = view.time_s - since_s_;
    switch (view.state) {
      case state::stopped:
        hands = nothing();
        return Routine::Progress::done;
      case state::ended:
        hands = here_s > look_s && here_s < look_s + press_s ? reset() : nothing();
        break;
      case state::idle:
        hands = nothing();
        return Routine::Progress::done;
      case state::settle: {
        // Wait for the settle of 2 s, then confirm that the force may be seated, keys held.
        hands = pull_keys();
        hands.confirm = here_s > 2.5 && here_s < 2.5 + press_s;
        break;
      }
      case state::re_stroke:
        hands = fresh_press(view) ? pull_keys() : nothing();
        break;
      default:
        hands = pull_keys();
    }
    return here_s > 900.0 ? give_up(hands, why) : Routine::Progress::going;
  }

 private:
  // Kept out of step(): inlined it has every tick save its registers.
  [[gnu::noinline]] static Routine::Progress give_up(Pendant& hands, std::string& why) {
    hands = nothing();
    why = "the pull made no progress in 900 s";
    return Routine::Progress::failed;
  }
  // The keys are held while the ram goes back; where it stands they are let go and pressed again.
  bool fresh_press(const View& view) {
    if (view.time_s == since_s_ || view.stroke_m < ram_m_ - moving_m || view.stroke_m > ram_m_ + moving_m) {
      ram_m_ = view.stroke_m;
      moved_s_ = view.time_s;
    }
    const double stood_s = view.time_s - moved_s_;
    return stood_s < patience_s || stood_s > patience_s + pause_s;
  }

  static constexpr double moving_m = 0.5e-3;
  static constexpr double patience_s = 5.0;  // with a ram whose oil has air in it
  std::uint8_t seen_ = 0xFF;
  double since_s_ = 0.0, ram_m_ = 0.0, moved_s_ = 0.0;
};

// The menu's cursor stands elsewhere: read off the display as a person does. Without a display it is taken
// to stand on PULL, where it is after every end of a pull.
bool menu_elsewhere(const View& view) {
  if (view.brain == nullptr) {
    return false;
  }
  const std::string line = view.brain->display()[1];
  return line.starts_with("IDLE >") && line != "IDLE > PULL";
}

class PullRoutine final : public Routine {
 public:
  Progress step(const View& view, Pendant& hands) override {
    return pulling_ ? pull_.step(view, hands, why_) : start(view, hands);
  }
  [[nodiscard]] std::string why_failed() const override { return why_; }

 private:
  // From idle to holding the keys. Kept out of step(): inlined it has every tick save its registers.
  [[gnu::noinline]] Progress start(const View& view, Pendant& hands) {
    if (view.state == state::ready) {
      pulling_ = !moves_.play(view.time_s, hands);
      return Progress::going;
    }
    if (view.state != state::idle) {
      why_ = "the controller is not idle but in " + std::string(state_name(view.state));
      return Progress::failed;
    }
    if (!started_ || !moves_.play(view.time_s, hands)) {
      started_ = true;
      if (selects_ < 5 && menu_elsewhere(view)) {
        ++selects_;
        moves_.start(press_each({select()}), view.time_s);
        return Progress::going;
      }
      if (tries_++ == 3) {  // the second confirm answers the second question of a differing force
        why_ = "the pull was refused at the pendant";
        return Progress::failed;
      }
      moves_.start({{nothing(), look_s}, {confirm(), press_s}, {nothing(), look_s}}, view.time_s);
    }
    return Progress::going;
  }

  Moves moves_;
  HeldPull pull_;
  bool started_ = false, pulling_ = false;
  int tries_ = 0, selects_ = 0;
  std::string why_;
};

// After a stop: reset, confirm what is asked, then hold. Tried again while the cause remains.
class GoOnRoutine final : public Routine {
 public:
  Progress step(const View& view, Pendant& hands) override {
    if (gone_on_ && view.state != state::stopped) {
      return pull_.step(view, hands, why_);
    }
    if (view.state != state::stopped) {
      if (!started_) {
        why_ = "nothing is stopped";
        return Progress::failed;
      }
      gone_on_ = true;
      return Progress::going;
    }
    if (gone_on_) {
      hands = nothing();
      return Progress::done;  // stopped again
    }
    if (!started_ || !moves_.play(view.time_s, hands)) {
      if (tries_++ == 12) {
        why_ = "the stop could not be left by going on";
        return Progress::failed;
      }
      started_ = true;
      std::vector<Move> moves = press_each({reset(), confirm()});
      moves.push_back({pull_keys(), 0.5});
      moves_.start(std::move(moves), view.time_s);
    }
    return Progress::going;
  }
  [[nodiscard]] std::string why_failed() const override { return why_; }

 private:
  Moves moves_;
  HeldPull pull_;
  bool started_ = false, gone_on_ = false;
  int tries_ = 0;
  std::string why_;
};

// Each try moves the cursor on by one choice and tries the lowering keys: with another choice they do
// nothing, so the order of the choices need not be known here.
class LowerRoutine final : public Routine {
 public:
  Progress step(const View& view, Pendant& hands) override {
    switch (view.state) {
      case state::lowering:
        hands = lower_keys();
        lowered_ = true;
        return Progress::going;
      case state::ended:
        return after_end(view, hands);
      case state::idle:
        hands = nothing();
        return Progress::done;
      case state::stopped:
      case state::settle:
        return choose(view, hands);
      default:
        why_ = "lowering is chosen from a stop or the settle";
        return Progress::failed;
    }
  }
  [[nodiscard]] std::string why_failed() const override { return why_; }

 private:
  Progress after_end(const View& view, Pendant& hands) {
    if (!ended_) {
      ended_ = true;
      moves_.start(press_each({reset()}), view.time_s);
    }
    if (!moves_.play(view.time_s, hands)) {
      why_ = "the end could not be reset";
      return Progress::failed;
    }
    return Progress::going;
  }
  Progress choose(const View& view, Pendant& hands) {
    if (!started_ || !moves_.play(view.time_s, hands)) {
      if (tries_++ == 16) {
        why_ = "lowering could not be chosen";
        return Progress::failed;
      }
      started_ = true;
      std::vector<Move> moves = press_each({reset(), confirm(), select(), confirm()});
      moves.push_back({lower_keys(), 0.5});
      moves_.start(std::move(moves), view.time_s);
    }
    return Progress::going;
  }

  Moves moves_;
  bool started_ = false, lowered_ = false, ended_ = false;
  int tries_ = 0;
  std::string why_;
};

class EnterRoutine final : public Routine {
 public:
  EnterRoutine(unsigned selects, std::uint8_t wanted) : selects_{selects}, wanted_{wanted} {}
  Progress step(const View& view, Pendant& hands) override {
    if (!started_) {
      std::vector<Pendant> keys(selects_, select());
      keys.push_back(confirm());
      moves_.start(press_each(keys), view.time_s);
      started_ = true;
    }
    if (moves_.play(view.time_s, hands)) {
      return Progress::going;
    }
    return view.state == wanted_ ? Progress::done : Progress::failed;
  }
  [[nodiscard]] std::string why_failed() const override {
    return "the controller did not go to " + std::string(state_name(wanted_));
  }

 private:
  unsigned selects_;
  std::uint8_t wanted_;
  Moves moves_;
  bool started_ = false;
};

// Presses keys in idle, one after the other; done after the last.
class IdleKeysRoutine final : public Routine {
 public:
  explicit IdleKeysRoutine(std::vector<Pendant> keys) : keys_{std::move(keys)} {}
  Progress step(const View& view, Pendant& hands) override {
    if (view.state != state::idle) {
      return Progress::failed;
    }
    if (!started_) {
      moves_.start(press_each(keys_), view.time_s);
      started_ = true;
    }
    return moves_.play(view.time_s, hands) ? Progress::going : Progress::done;
  }
  [[nodiscard]] std::string why_failed() const override { return "the menu is there in idle only"; }

 private:
  std::vector<Pendant> keys_;
  Moves moves_;
  bool started_ = false;
};

// Set-up, the lowering keys until the ram is home, and out again.
class RetractRoutine final : public Routine {
 public:
  Progress step(const View& view, Pendant& hands) override {
    if (phase_ == 0) {
      const Progress entered = enter_.step(view, hands);
      phase_ = entered == Progress::done ? 1 : 0;
      since_s_ = view.time_s;
      return entered == Progress::failed ? entered : Progress::going;
    }
    if (phase_ == 1) {
      hands = lower_keys();
      if (view.time_s - since_s_ > 300.0) {
        return Progress::failed;
      }
      phase_ = view.stroke_m <= home_m ? 2 : 1;
      return Progress::going;
    }
    return leave_.step(view, hands);
  }
  [[nodiscard]] std::string why_failed() const override { return "the ram could not be run home"; }

 private:
  static constexpr double home_m =
      0.012;  // clear of the end stop, with room for the slack of the next strand
  EnterRoutine enter_{1, state::set_up};
  EnterRoutine leave_{0, state::idle};
  int phase_ = 0;
  double since_s_ = 0.0;
};

}  // namespace

std::unique_ptr<Routine> make_pull() {
  return std::make_unique<PullRoutine>();
}
std::unique_ptr<Routine> make_go_on() {
  return std::make_unique<GoOnRoutine>();
}
std::unique_ptr<Routine> make_lower() {
  return std::make_unique<LowerRoutine>();
}
std::unique_ptr<Routine> make_enter(unsigned selects, std::uint8_t wanted) {
  return std::make_unique<EnterRoutine>(selects, wanted);
}
std::unique_ptr<Routine> make_leave() {
  return std::make_unique<EnterRoutine>(0, state::idle);
}
std::unique_ptr<Routine> make_pair() {
  return std::make_unique<IdleKeysRoutine>(std::vector<Pendant>{select(), select(), select(), confirm()});
}
std::unique_ptr<Routine> make_menu_pull() {
  return std::make_unique<IdleKeysRoutine>(std::vector<Pendant>{reset()});
}
std::unique_ptr<Routine> make_menu(unsigned entry, unsigned choice) {
  std::vector<Pendant> keys{reset()};
  keys.insert(keys.end(), entry, select());
  keys.push_back(confirm());
  if (choice != 0) {
    keys.insert(keys.end(), choice, select());
    keys.push_back(confirm());
  }
  return std::make_unique<IdleKeysRoutine>(std::move(keys));
}
std::unique_ptr<Routine> make_retract() {
  return std::make_unique<RetractRoutine>();
}

}  // namespace strandproof::sim
