// Every state that the core can get into, under every key of the pendant and every predicate, one or two
// at a time: the same object that flies. Counters are shortened, nothing else. What must never happen is
// checked on every step, not only at the end; the oracle keeps its own book of what was released when.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <deque>
#include <string>
#include <unordered_map>
#include <vector>

#include "firmware/control/core.hpp"

namespace strandproof::control {
namespace {

constexpr CoreTiming short_timing{1, 1, 1, 1};

struct Node {
  CoreState core;
  bool released = false;  // oracle: all keys and enables seen released since the last stop or arming
  friend bool operator==(const Node&, const Node&) = default;
};

struct Hash {
  std::size_t operator()(const Node& n) const {
    const CoreState& c = n.core;
    std::uint64_t h = 1469598103934665603ULL;
    const auto mix = [&](std::uint64_t v) { h = (h ^ v) * 1099511628211ULL; };
    for (const auto v :
         {static_cast<unsigned>(c.state), static_cast<unsigned>(c.resume), static_cast<unsigned>(c.cause),
          static_cast<unsigned>(c.load), static_cast<unsigned>(c.menu), static_cast<unsigned>(c.choice),
          static_cast<unsigned>(c.timer), static_cast<unsigned>(c.top_ups), static_cast<unsigned>(c.allow)}) {
      mix(v);
    }
    for (const bool b : {c.chosen, c.latched, c.clear_needed, c.asked, c.fresh, c.seat_begun, c.wedges_pushed,
                         c.replace_strand, c.bed_loaded, c.biting, c.ram_back, c.was_select, c.was_confirm,
                         c.was_reset, n.released}) {
      mix(b ? 2 : 1);
    }
    return h;
  }
};

std::vector<Predicates> pendant() {
  std::vector<Predicates> all;
  for (int enables = 0; enables < 3; ++enables) {
    for (int keys = 0; keys < 9; ++keys) {
      Predicates p;
      p.signal_plausible = true;
      p.any_enable = enables > 0;
      p.enable = enables == 2;
      p.advance = keys == 1 || keys == 6 || keys == 8;
      p.lower = keys == 2 || keys == 7 || keys == 8;
      p.select = keys == 3;
      p.confirm = keys == 4 || keys == 6 || keys == 7;
      p.reset = keys == 5;
      all.push_back(p);
    }
  }
  return all;
}

std::vector<Predicates> alphabet() {
  std::vector<Predicates> all;
  for (const Predicates& keys : pendant()) {
    const auto add = [&](auto&& change) {
      Predicates p = keys;
      change(p);
      all.push_back(p);
    };
    add([](Predicates&) {});
    add([](Predicates& p) { p.initial_reached = true; });
    add([](Predicates& p) { p.near_target = true; });
    add([](Predicates& p) { p.near_target = p.target_reached = true; });
    add([](Predicates& p) { p.top_up_due = true; });
    add([](Predicates& p) { p.no_load = true; });
    add([](Predicates& p) { p.no_load = p.chuck_holds = true; });
    add([](Predicates& p) { p.jack_loaded = true; });
    add([](Predicates& p) { p.bite_reached = true; });
    add([](Predicates& p) { p.ram_back = true; });
    add([](Predicates& p) { p.lifted_off = true; });
    add([](Predicates& p) { p.pressure_cap = true; });
    add([](Predicates& p) { p.strand_broken = true; });
    add([](Predicates& p) { p.signal_plausible = false; });
    add([](Predicates& p) { p.arm = Refusal::no_table; });
    add([](Predicates& p) { p.ask_again = true; });
    for (const Interlock& row : interlocks) {
      for (const bool remains : {false, true}) {
        add([&](Predicates& p) { p.active = row.cause, p.cause_remains = remains; });
      }
    }
  }
  return all;
}

bool moves(const Commands& c) {
  return c.advance_valve || c.lower_valve || c.seat_valve || c.motor;
}

// A row is only looked at where the interlock table says: the shell's rule, repeated here.
bool presentable(const CoreState& c, const Predicates& p) {
  return p.active == Cause::none || (interlock_of(p.active).where & where_of(c)) != 0;
}

class Explorer {
 public:
  explicit Explorer(const CoreTiming& timing) : timing_{timing}, letters_{alphabet()} {}

  void run(std::vector<CoreState> starts) {
    for (const CoreState& s : starts) {
      intern({s, false});
    }
    while (!frontier_.empty() && first_fault_.empty()) {
      const std::size_t id = frontier_.front();
      frontier_.pop_front();
      expand(id);
    }
  }

  // Nodes from which "no load" cannot be reached by any keys.
  [[nodiscard]] std::size_t cannot_unload() const {
    std::vector<char> good(nodes_.size(), 0);
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      good[i] = nodes_[i].core.load == LoadState::no_load;
    }
    for (bool changed = true; changed;) {
      changed = false;
      for (std::size_t i = nodes_.size(); i-- > 0;) {
        if (good[i] == 0) {
          for (const std::size_t to : edges_[i]) {
            if (good[to] != 0) {
              good[i] = 1;
              changed = true;
              break;
            }
          }
        }
      }
    }
    return nodes_.size() - static_cast<std::size_t>(std::count(good.begin(), good.end(), 1));
  }

  [[nodiscard]] std::size_t states() const { return nodes_.size(); }
  [[nodiscard]] std::size_t steps() const { return steps_; }
  [[nodiscard]] bool frontier_empty() const { return frontier_.empty(); }
  [[nodiscard]] const std::string& fault() const { return first_fault_; }

 private:
  std::size_t intern(const Node& n) {
    const auto [at, fresh] = index_.try_emplace(n, nodes_.size());
    if (fresh) {
      nodes_.push_back(n);
      edges_.emplace_back();
      frontier_.push_back(at->second);
    }
    return at->second;
  }

  void expand(std::size_t id) {
    for (const Predicates& p : letters_) {
      Node n = nodes_[id];
      if (!presentable(n.core, p)) {
        continue;
      }
      const CoreState before = n.core;
      const CoreStep step = core_step(n.core, p, timing_);
      const Commands out = core_outputs(n.core, p, timing_);
      ++steps_;
      keep_book(n, before, p);
      check(before, n, p, step, out);
      const std::size_t to = intern(n);
      auto& out_edges = edges_[id];
      if (std::find(out_edges.begin(), out_edges.end(), to) == out_edges.end()) {
        out_edges.push_back(to);
      }
    }
  }

  // The oracle's own book: a stop or an arming asks for a release before anything may move again.
  static void keep_book(Node& n, const CoreState& before, const Predicates& p) {
    const bool all_up = !p.any_enable && !p.advance && !p.lower;
    const bool stopped_now = n.core.state == State::stopped && before.state != State::stopped;
    const bool entered =
        n.core.state != before.state &&
        (n.core.state == State::idle || n.core.state == State::set_up || n.core.state == State::rig);
    n.released = (n.released || all_up) && !stopped_now && !entered;
  }

  void check(const CoreState& before, const Node& n, const Predicates& p, const CoreStep&,
             const Commands& out) {
    const CoreState& c = n.core;
    const auto fault = [&](const char* what) {
      if (first_fault_.empty()) {
        first_fault_ = std::string{what} + ": state " + std::to_string(static_cast<int>(before.state)) +
                       " -> " + std::to_string(static_cast<int>(c.state)) + ", active " +
                       std::to_string(static_cast<int>(p.active));
      }
    };
    if (moves(out) && !p.enable) {
      fault("motion without both enables");
    }
    if (moves(out) && !p.advance && !p.lower) {
      fault("motion without a moving key");
    }
    if (moves(out) && !n.released) {
      fault("motion after a stop or an arming without a fresh press");
    }
    if (moves(out) && (c.latched || c.state == State::stopped || c.state == State::idle ||
                       c.state == State::ended || c.state == State::ready)) {
      fault("motion in a state that has none");
    }
    const bool circuit = p.active == Cause::emergency_stop || p.active == Cause::h47_barrier_open ||
                         p.active == Cause::h16_stop_circuit;
    if (moves(out) && circuit) {
      fault("motion against the emergency stop or the barrier");
    }
    if (out.advance_valve && c.replace_strand && c.state != State::set_up && c.state != State::rig) {
      fault("pulled on after a strand break");
    }
    if (out.advance_valve && (out.lower_valve || out.seat_valve)) {
      fault("two directions at once");
    }
    if (out.lower_valve && c.state != State::lowering && c.state != State::set_up && c.state != State::rig &&
        !(c.state == State::seat && c.wedges_pushed) && !(c.state == State::re_stroke && !c.ram_back)) {
      fault("lowering that nobody chose");
    }
    if (c.load == LoadState::no_load &&
        (out.advance_valve && c.state != State::set_up && c.state != State::rig)) {
      fault("NO LOAD shown while pulling");
    }
  }

  CoreTiming timing_;
  std::vector<Predicates> letters_;
  std::vector<Node> nodes_;
  std::vector<std::vector<std::size_t>> edges_;
  std::unordered_map<Node, std::size_t, Hash> index_;
  std::deque<std::size_t> frontier_;
  std::size_t steps_ = 0;
  std::string first_fault_;
};

std::vector<CoreState> starts() {
  CoreState fresh;
  CoreState after_power_loss;
  after_power_loss.state = State::stopped;
  after_power_loss.cause = Cause::power_returned;
  after_power_loss.load = LoadState::not_known;
  after_power_loss.allow = power_returned_row.allow;
  CoreState after_seating = after_power_loss;
  after_seating.seat_begun = true;
  return {fresh, after_power_loss, after_seating};
}

TEST(Exploration, NothingMovesThatMustNotAndEveryLoadCanBeTakenOff) {
  Explorer e{short_timing};
  e.run(starts());
  EXPECT_EQ(e.fault(), "");
  EXPECT_TRUE(e.frontier_empty());
  RecordProperty("states", static_cast<int>(e.states()));
  std::printf("explored %zu states, %zu steps\n", e.states(), e.steps());
  EXPECT_EQ(e.cannot_unload(), 0U);
  EXPECT_EQ(e.states(), 553617U) << "pinned: a change of the core changes this number on purpose";
}

}  // namespace
}  // namespace strandproof::control
