// Tick after tick of the scheme: fine steps where something moves fast, one step a tick in steady running,
// and one step for many ticks while nothing changes. Running ahead needs no foresight: if a command changes
// or something is done to the machine within such a stretch, it is run again from its start as far as it has
// come.
#pragma once

#include <array>
#include <cstddef>
#include <cstring>
#include <type_traits>

#include "sim/plant/lanes.hpp"
#include "sim/plant/plant.hpp"
#include "sim/plant/scheme.hpp"

namespace strandproof::plant {

class Runner {
 public:
  explicit Runner(const Parameters& p);
  Runner(const Runner&) = delete;
  Runner& operator=(const Runner&) = delete;

  // One tick in which these commands act, the last tick's where they have not `changed`; brings what moves up
  // to date. True if the state is its end, false if the tick lies within a stretch.
  bool tick(const Acting& acting, bool changed, Moving& moving) {
    const bool within = done_ > 0 && done_ < last_ && !changed;  // nearly every tick
    return within ? go_on(moving) : turn(acting, moving);
  }

  // What can be changed between two ticks: first the state of the last one, then the change, then its load.
  void come_back();
  void reload() { state().load = model.load(state().y[Model::x], state().memory, state().x_grip); }
  [[nodiscard]] State& state() { return *now_; }
  [[nodiscard]] Moving moving(const State& s) const;

  Model model;

 private:
  // In place, not by a copy of the whole.
  static void add(Moving& to, const Moving& by) {
    using Four = Lanes<4>::Vector;
    using Two = Lanes<2>::Vector;
    constexpr std::size_t fours = sizeof(Moving) - sizeof(Two);
    static_assert(fours % sizeof(Four) == 0 && std::is_trivially_copyable_v<Moving>);
    auto* const into = reinterpret_cast<char*>(&to);
    const auto* const from = reinterpret_cast<const char*>(&by);
    for (std::size_t at = 0; at < fours; at += sizeof(Four)) {
      add_lanes<Four>(into + at, from + at);
    }
    add_lanes<Two>(into + fours, from + fours);
  }
  template <class Vector>
  static void add_lanes(char* to, const char* by) {
    Vector sum, more;
    std::memcpy(&sum, to, sizeof sum);
    std::memcpy(&more, by, sizeof more);
    sum += more;
    std::memcpy(to, &sum, sizeof sum);
  }
  // A tick within a stretch.
  bool go_on(Moving& moving) {
    ++done_;
    add(moving, each_);
    return false;
  }
  // One at an end of it, or without any.
  bool turn(const Acting& acting, Moving& moving);
  void run_tick(const Acting& acting);
  bool run_whole(const Acting& acting);
  bool run_ahead(const Acting& acting, const Moving& from);

  StepLength whole_, fine_, far_;
  std::array<State, 2> states_;
  State* now_ = &states_[0];   // at the start of a stretch
  State* next_ = &states_[1];  // at its end
  Moving over_, each_;         // what is at its end, and what each tick adds
  int done_ = 0;               // ticks of it that have been; 0: there is none
  int last_ = 0;               // ticks of it before its last
  bool calm_ = false;          // the last tick changed no speed
};

}  // namespace strandproof::plant
