// Seal friction on the ram: bristles that bend before they slide (Dahl's model with a Stribeck curve and
// relaxation). At rest they hold without creeping, unlike a friction law smoothed by speed alone.
#pragma once

#include "sim/plant/math.hpp"
#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

// N. p: gauge pressures that press the seals, not below zero.
inline double sliding_friction(const Friction& f, const Ram& ram, double p_cap, double p_rod, double v) {
  const double loaded = f.fraction * (at_least(0.0, p_cap) * ram.A_cap + at_least(0.0, p_rod) * ram.A_rod);
  const double share = v / f.v_stribeck;
  return (1.0 + f.scatter) * (f.F_seal + loaded) * (1.0 + f.stribeck / (1.0 + share * share));
}

// dz/dt of the bristles' bend z in m; the force is sigma z.
inline double bristle_rate(const Friction& f, double F_slide, double v, double z) {
  return v - f.sigma * magnitude(v) / F_slide * z - f.relaxation * z;
}

// The bend after h seconds at the speed v (backward Euler, closed form), the force and its tangents.
struct Bristles {
  double z = 0.0;          // m
  double dF_dv = 0.0;      // N s/m
  double dF_dslide = 0.0;  // N of force per N of sliding friction
};
inline Bristles bristles_after(const Friction& f, double F_slide, double v, double z, double h) {
  const double per_slide = f.sigma / F_slide;
  const double rub = h * per_slide * magnitude(v);
  const double inverse = 1.0 / (1.0 + rub + h * f.relaxation);
  const double after = (z + h * v) * inverse;
  const double sign = v < 0.0 ? -1.0 : 1.0;
  const double slope = f.sigma * h * inverse * (1.0 - sign * after * per_slide);
  return {after, at_least(0.0, slope), after * inverse * rub * per_slide};
}

}  // namespace strandproof::plant
