#include "sim/bench/operator.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <stdexcept>
#include <utility>

#include "sim/bench/names.hpp"
#include "sim/bench/routines.hpp"
#include "sim/bench/unit_text.hpp"
#include "sim/fault/nearest.hpp"

namespace strandproof::sim {
namespace {

using Words = std::vector<std::string>;

Words split(std::string_view line) {
  Words words;
  std::string word;
  for (const char c : line) {
    if (c == ' ' || c == '\t') {
      if (!word.empty()) {
        words.push_back(std::exchange(word, {}));
      }
    } else {
      word += c;
    }
  }
  if (!word.empty()) {
    words.push_back(word);
  }
  return words;
}

struct Key {
  std::string_view name;
  void (*set)(Pendant&, bool);
};

constexpr std::array<Key, 9> keys{{
    {"enable", [](Pendant& p, bool on) { p.enable_1 = p.enable_2 = on; }},
    {"enable-1", [](Pendant& p, bool on) { p.enable_1 = on; }},
    {"enable-2", [](Pendant& p, bool on) { p.enable_2 = on; }},
    {"advance", [](Pendant& p, bool on) { p.advance = on; }},
    {"lower", [](Pendant& p, bool on) { p.lower = on; }},
    {"select", [](Pendant& p, bool on) { p.select = on; }},
    {"confirm", [](Pendant& p, bool on) { p.confirm = on; }},
    {"reset", [](Pendant& p, bool on) { p.reset = on; }},
    {"all",
     [](Pendant& p, bool on) { p = on ? Pendant{true, true, true, true, true, true, true} : Pendant{}; }},
}};

template <class Names>
[[noreturn]] void unknown(std::string_view kind, std::string_view name, const Names& known) {
  const std::vector<std::string_view> list(known.begin(), known.end());
  throw std::invalid_argument("unknown " + std::string(kind) + " \"" + std::string(name) +
                              "\"; did you mean \"" + std::string(nearest(name, list)) + "\"?");
}

const Key& key_of(std::string_view name) {
  for (const Key& key : keys) {
    if (key.name == name) {
      return key;
    }
  }
  std::array<std::string_view, keys.size()> names;
  std::transform(keys.begin(), keys.end(), names.begin(), [](const Key& k) { return k.name; });
  unknown("key", name, names);
}

// A duration of one or two words: "200ms" or "200 ms".
double duration(const Words& words, std::size_t first) {
  std::string text;
  for (std::size_t i = first; i < words.size(); ++i) {
    text += (text.empty() ? "" : " ") + words[i];
  }
  const double seconds = parse_quantity(text, Dimension::time);
  if (seconds < 0.0) {
    throw UnitError("\"" + text + "\" is negative; time goes forward");
  }
  return seconds;
}

// Sets keys at once; nothing to wait for.
class SetKeys final : public Routine {
 public:
  SetKeys(std::vector<const Key*> which, bool on) : which_{std::move(which)}, on_{on} {}
  Progress step(const View&, Pendant& hands) override {
    for (const Key* key : which_) {
      key->set(hands, on_);
    }
    return Progress::done;
  }

 private:
  std::vector<const Key*> which_;
  bool on_;
};

// Times are compared half a tick early: n * dt is not exact, and a press of 200 ms is 200 ticks.
constexpr double half_tick = 0.5e-3;

class PressKey final : public Routine {
 public:
  PressKey(const Key& key, double seconds) : key_{key}, seconds_{seconds} {}
  Progress step(const View& view, Pendant& hands) override {
    if (!until_) {
      until_ = view.time_s + seconds_ - half_tick;
    }
    const bool pressed = view.time_s < *until_;
    key_.set(hands, pressed);
    return pressed ? Progress::going : Progress::done;
  }

 private:
  const Key& key_;
  double seconds_;
  std::optional<double> until_;
};

class WaitTime final : public Routine {
 public:
  explicit WaitTime(double seconds) : seconds_{seconds} {}
  Progress step(const View& view, Pendant&) override {
    if (!until_) {
      until_ = view.time_s + seconds_ - half_tick;
    }
    return view.time_s < *until_ ? Progress::going : Progress::done;
  }

 private:
  double seconds_;
  std::optional<double> until_;
};

class WaitState final : public Routine {
 public:
  WaitState(std::vector<std::uint8_t> wanted, double seconds)
      : wanted_{std::move(wanted)}, seconds_{seconds} {}
  Progress step(const View& view, Pendant&) override {
    if (!until_) {
      until_ = view.time_s + seconds_ - half_tick;
    }
    if (std::find(wanted_.begin(), wanted_.end(), view.state) != wanted_.end()) {
      return Progress::done;
    }
    return view.time_s < *until_ ? Progress::going : Progress::failed;
  }
  [[nodiscard]] std::string why_failed() const override { return "the state did not come in its time"; }

 private:
  std::vector<std::uint8_t> wanted_;
  double seconds_;
  std::optional<double> until_;
};

std::unique_ptr<Routine> make_wait(const Words& words) {
  if (words.size() < 2) {
    throw std::invalid_argument("wait for what? write for example \"wait 2 s\" or \"wait state settle\"");
  }
  if (words[1] != "state") {
    return std::make_unique<WaitTime>(duration(words, 1));
  }
  std::vector<std::uint8_t> wanted;
  std::size_t i = 2;
  for (; i < words.size() && words[i] != "within"; ++i) {
    const auto number = state_number(words[i]);
    if (!number) {
      unknown("state", words[i], state_names());
    }
    wanted.push_back(*number);
  }
  if (wanted.empty()) {
    throw std::invalid_argument("wait for which state? write for example \"wait state settle\"");
  }
  return std::make_unique<WaitState>(std::move(wanted), i < words.size() ? duration(words, i + 1) : 900.0);
}

std::unique_ptr<Routine> make_keys(const Words& words, bool on) {
  if (words.size() < 2) {
    throw std::invalid_argument(words[0] + " which key? write for example \"hold enable advance\"");
  }
  std::vector<const Key*> which;
  for (std::size_t i = 1; i < words.size(); ++i) {
    which.push_back(&key_of(words[i]));
  }
  return std::make_unique<SetKeys>(std::move(which), on);
}

std::unique_ptr<Routine> make_press(const Words& words) {
  if (words.size() < 2) {
    throw std::invalid_argument("press which key? write for example \"press confirm 200 ms\"");
  }
  return std::make_unique<PressKey>(key_of(words[1]), words.size() > 2 ? duration(words, 2) : 0.2);
}

// The force of "up-to 30 kN".
double force(const Words& words) {
  if (words.size() != 3) {
    throw std::invalid_argument(words[0] + " which force? write for example \"" + words[0] + " 30 kN\"");
  }
  return parse_quantity(words[1] + " " + words[2], Dimension::force);
}

// Entries of the controller's menu, counted from PULL.
constexpr unsigned enrol_entry = 5, revoke_entry = 6, part_entry = 7, copies_entry = 8;
constexpr unsigned listed_max = 4;  // table keys, and copies of the log

// The n of "forget-copy 1".
unsigned nth(const Words& words, std::string_view of_what) {
  const unsigned n =
      words.size() == 2 && words[1].size() == 1 ? static_cast<unsigned>(words[1][0] - '0') : 0U;
  if (n < 1 || n > listed_max) {
    throw std::invalid_argument(words[0] + " which " + std::string(of_what) + "? write for example \"" +
                                words[0] + " 1\"");
  }
  return n;
}

std::unique_ptr<Routine> make_part(const Words& words) {
  constexpr std::array<std::string_view, 5> parts{"sensor-a", "sensor-b", "seal", "hose", "jack"};
  const auto* const at = words.size() == 2 ? std::find(parts.begin(), parts.end(), words[1]) : parts.end();
  if (at == parts.end()) {
    throw std::invalid_argument("which part? sensor-a, sensor-b, seal, hose or jack");
  }
  return make_menu(part_entry, static_cast<unsigned>(at - parts.begin()) + 1U);
}

struct Verb {
  std::string_view name;
  std::unique_ptr<Routine> (*make)(const Words&);
};

const std::array<Verb, 21> verbs{{
    {"press", make_press},
    {"hold", [](const Words& w) { return make_keys(w, true); }},
    {"release", [](const Words& w) { return make_keys(w, false); }},
    {"wait", make_wait},
    {"pull", [](const Words&) { return make_pull(); }},
    {"go-on", [](const Words&) { return make_go_on(); }},
    {"lower-to-no-load", [](const Words&) { return make_lower(); }},
    {"pair", [](const Words&) { return make_pair(); }},
    {"menu-pull", [](const Words&) { return make_menu_pull(); }},
    {"enrol-table-key", [](const Words&) { return make_menu(enrol_entry, 0); }},
    {"revoke-table-key", [](const Words& w) { return make_menu(revoke_entry, nth(w, "table key")); }},
    {"part-changed", make_part},
    {"change-copies-needed", [](const Words&) { return make_menu(copies_entry, 1); }},
    {"forget-copy", [](const Words& w) { return make_menu(copies_entry, nth(w, "copy of the log") + 1U); }},
    {"retract", [](const Words&) { return make_retract(); }},
    {"set-up", [](const Words&) { return make_enter(1, state::set_up); }},
    {"rig", [](const Words&) { return make_enter(2, state::rig); }},
    {"bed-detensioned", [](const Words&) { return make_enter(4, state::idle); }},
    {"leave", [](const Words&) { return make_leave(); }},
    {"up-to", [](const Words& w) { return make_up_to(force(w)); }},
    {"down-to", [](const Words& w) { return make_down_to(force(w)); }},
}};

}  // namespace

std::unique_ptr<Routine> make_routine(std::string_view line) {
  const Words words = split(line);
  if (words.empty()) {
    throw std::invalid_argument("empty command; write for example \"pull\"");
  }
  for (const Verb& verb : verbs) {
    if (verb.name == words[0]) {
      return verb.make(words);
    }
  }
  std::array<std::string_view, verbs.size()> names;
  std::transform(verbs.begin(), verbs.end(), names.begin(), [](const Verb& v) { return v.name; });
  unknown("command", words[0], names);
}

void Operator::command(std::string_view line) {
  queue_.push_back({std::string(line), make_routine(line)});
}

const Pendant& Operator::tick(const View& view) {
  if (!current_ && !queue_.empty()) {
    begin();
  }
  if (current_) {
    const Routine::Progress progress = current_->step(view, hands_);
    if (progress != Routine::Progress::going) {
      end(progress);
    }
  }
  return hands_;
}

void Operator::begin() {
  current_ = std::move(queue_.front().routine);
  line_ = std::move(queue_.front().line);
  queue_.pop_front();
}

void Operator::end(Routine::Progress how) {
  if (how == Routine::Progress::failed) {
    failure_ = line_ + ": " + current_->why_failed();
    abandon();
  } else {
    current_.reset();
  }
}

void Operator::abandon() {
  queue_.clear();
  current_.reset();
  hands_ = {};
}

}  // namespace strandproof::sim
