// The tube that pushes the live-end wedges in: a small single-acting piston with a return spring.
#pragma once

#include "sim/plant/math.hpp"
#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

struct SeatPressure {
  double p = 0.0;      // Pa that holds the tube at its place
  double dp_dV = 0.0;  // Pa/m3
};

inline SeatPressure seat_pressure(const SeatTube& s, double x) {
  const double touch = at_least(0.0, x - s.gap);
  const double stop = at_least(0.0, x - s.gap - s.travel);
  const double k = s.k_return + (touch > 0.0 ? s.k_push : 0.0) + (stop > 0.0 ? s.k_stop : 0.0);
  const double F = s.F_return + s.k_return * x + s.k_push * touch + s.k_stop * stop;
  return {F / s.A, k / (s.A * s.A)};
}

// How far the wedges are pushed, 0 to 1.
inline double seat_push(const SeatTube& s, double x) {
  return within(0.0, (x - s.gap) / s.travel, 1.0);
}

}  // namespace strandproof::plant
