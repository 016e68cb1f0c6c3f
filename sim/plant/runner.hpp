// Tick after tick of the scheme: fine steps where something moves fast, one step a tick in steady running,
// and one step for many ticks while nothing changes. Running ahead needs no foresight: if a command changes
// or something is done to the machine within such a stretch, it is run again from its start as far as it has
// come.
#pragma once

#include <array>

#include "sim/plant/plant.hpp"
#include "sim/plant/scheme.hpp"

namespace strandproof::plant {

class Runner {
 public:
  explicit Runner(const Parameters& p);
  Runner(const Runner&) = delete;
  Runner& operator=(const Runner&) = delete;

  // One tick in which these commands act; brings what moves up to date. True if the state is its end, false
  // if the tick lies within a stretch.
  bool tick(const Acting& acting, Moving& moving);

  // What can be changed between two ticks: first the state of the last one, then the change, then its load.
  void come_back();
  void reload() { state().load = model.load(state().y[Model::x], state().memory, state().x_grip); }
  [[nodiscard]] State& state() { return *now_; }
  [[nodiscard]] Moving moving(const State& s) const;

  Model model;

 private:
  void run_tick(const Acting& acting);
  bool run_whole(const Acting& acting);
  bool run_ahead(const Acting& acting, const Moving& from);

  StepLength whole_, fine_, far_;
  std::array<State, 2> states_;
  State* now_ = &states_[0];   // at the start of a stretch
  State* next_ = &states_[1];  // at its end
  Moving over_, each_;         // what is at its end, and what each tick adds
  int done_ = 0;               // ticks of it that have been; 0: there is none
  bool calm_ = false;          // the last tick changed no speed
};

}  // namespace strandproof::plant
