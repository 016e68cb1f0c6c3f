// One step of the plant: linearly implicit Euler for oil and ram with the derivatives written out, lags
// exact. Fluxes are added to one chamber and taken from the other as they were solved, so that oil is
// conserved to round-off. Where the tangents do not hold over the step, Newton's method searches the end of
// it.
#pragma once

#include "sim/plant/model.hpp"

namespace strandproof::plant {

// What a step starts from and leaves behind. The sensors' places in y are not the scheme's.
struct State {
  Model::Vector y{};
  Nodes at;  // pressures of y
  StrandMemory memory;
  double x_grip = 0.0;  // m, stroke at which the grip took the strand
  Load load;            // at y
  Openings open;        // means over the last step
  Acting acting;        // in the last step
  bool lags_rest = false;
  double F_friction = 0.0;
  double W_pump = 0.0, W_oil = 0.0, W_friction = 0.0, W_load = 0.0;
};

// At rest, without load.
State rest(const Model& model);

// A step's length and what its lags keep: exp(-h/tau), and on the mean over the step.
struct Keep {
  double end = 0.0, mean = 0.0;
  Keep() = default;
  Keep(double h, double tau);
};
struct StepLength {
  double h = 0.0;
  Keep spool, motor, stage;
  StepLength() = default;
  StepLength(const Parameters& p, double seconds);
};

// How far the end of a step lies from where its tangents pointed.
struct Miss {
  double F = 0.0;  // N, of the load
  double p = 0.0;  // Pa, the largest of the three pressures
  [[nodiscard]] constexpr bool within(const Miss& bound) const { return F < bound.F && p < bound.p; }
};

// One step along the tangents at its start.
Miss follow(const Model& model, const State& from, State& to, const Acting& acting, const StepLength& step);
// One step, searched. False if the search did not end; `to` is then its last, conservative iterate.
bool search(const Model& model, const State& from, State& to, const Acting& acting, const StepLength& step);
// Along the tangents where they hold, else searched.
bool advance(const Model& model, const State& from, State& to, const Acting& acting, const StepLength& step);

}  // namespace strandproof::plant
