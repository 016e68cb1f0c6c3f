#include "sim/plant/oil.hpp"

namespace strandproof::plant {

double Mixture::pressure(double volume, double near) const {
  double p = near;
  for (int i = 0; i < 60; ++i) {
    const Specific s = at(p);
    const double next = p + (s.volume - volume) / (s.volume * s.stiffness);
    // Newton's step may leave the air's range on the way down; then a quarter of the absolute pressure is
    // tried.
    const double kept = next > -p_atmosphere ? next : 0.25 * (p + p_atmosphere) - p_atmosphere;
    const double change = magnitude(kept - p);
    p = kept;
    // What is left after a step is its square over the absolute pressure: 1e-14 of it.
    if (change <= 1e-7 * (p + p_atmosphere)) {
      break;
    }
  }
  return p;
}

double Mixture::energy(double p) const {
  const double q = p / K_;
  const double shrunk = exp_small(-q);
  // Liquid: integral of p dV, V = (1 - a) exp(-p/K). Air: isothermal, less the atmosphere's push.
  const double liquid = (1.0 - air_) * (K_ * (1.0 - shrunk) - p * shrunk);
  const double ratio = p_atmosphere / (p + p_atmosphere);
  const double gas = air_ * p_atmosphere * (-logarithm(ratio) - (1.0 - ratio));
  return liquid + gas;
}

}  // namespace strandproof::plant
