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
  bool tick(const Acting& acting, Moving& moving) {
    const bool within = done_ > 0 && done_ < last_ && acting == next_->acting;  // nearly every tick
    return within ? go_on(moving) : turn(acting, moving);
  }

  // What can be changed between two ticks: first the state of the last one, then the change, then its load.
  void come_back();
  void reload() { state().load = model.load(state().y[Model::x], state().memory, state().x_grip); }
  [[nodiscard]] State& state() { return *now_; }
  [[nodiscard]] Moving moving(const State& s) const;

  Model model;

 private:
  // One by one, for g++ to join them in pairs: a loop over them, or a copy, costs three times as much.
  static void add(Moving& __restrict to, const Moving& __restrict by) {
    to.p_cap += by.p_cap;
    to.p_rod += by.p_rod;
    to.p_pump += by.p_pump;
    to.x_ram += by.x_ram;
    to.v_ram += by.v_ram;
    to.F_strand_live += by.F_strand_live;
    to.F_jack += by.F_jack;
    to.F_chuck += by.F_chuck;
    to.F_friction += by.F_friction;
    to.elongation += by.elongation;
    to.draw_in += by.draw_in;
    to.dead_draw_in += by.dead_draw_in;
    to.slack_left += by.slack_left;
    to.wedges_pushed += by.wedges_pushed;
    to.W_pump += by.W_pump;
    to.W_oil += by.W_oil;
    to.W_friction += by.W_friction;
    to.W_load += by.W_load;
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
