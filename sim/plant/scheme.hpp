// One step of the plant: backward Euler for oil and ram, solved by Newton's method with the derivatives
// written out; lags exact. Fluxes are added to one chamber and taken from the other as they were solved,
// so that oil is conserved to round-off.
#pragma once

#include "sim/plant/model.hpp"

namespace strandproof::plant {

// What a step starts from and leaves behind.
struct State {
  Model::Vector y{};
  Nodes at;  // pressures of y
  StrandMemory memory;
  double x_grip = 0.0;  // m, stroke at which the grip took the strand
  double rate_pump = 0.0, rate_cap = 0.0,
         rate_rod = 0.0;  // Pa/s in the last step: where the next search starts
  Load load;
  double F_friction = 0.0, Q_pump = 0.0;
  double W_pump = 0.0, W_oil = 0.0, W_friction = 0.0, W_load = 0.0;
};

// A step's length and exp(-h/tau) of every lag.
struct StepLength {
  double h = 0.0;
  double spool = 0.0, motor = 0.0, stage = 0.0, pressure = 0.0, stroke = 0.0, cell = 0.0;
  StepLength() = default;
  StepLength(const Parameters& p, double seconds);
};

// False if the search did not end; the state is then at its last, conservative iterate.
bool advance(const Model& model, State& state, const Acting& acting, const StepLength& step);

}  // namespace strandproof::plant
