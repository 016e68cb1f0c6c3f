#include "sim/plant/oil.hpp"

namespace strandproof::plant {

// log10 log10(nu + 0.7) = A - B log10 T, nu in mm2/s and T in K; A from the grade at 40 degC.
double viscosity(double grade, double T) {
  struct Walther {
    double grade, B;
  };
  constexpr Walther thin{32.0, 3.74658}, middle{46.0, 3.68444}, thick{68.0, 3.62440};
  constexpr double ln10 = 2.30258509299404568402, freezing = 273.15;
  const Walther& a = grade < middle.grade ? thin : middle;
  const Walther& b = grade < middle.grade ? middle : thick;
  const double B = a.B + (b.B - a.B) * logarithm(grade / a.grade) / logarithm(b.grade / a.grade);
  const double at_40 = logarithm(logarithm(grade + 0.7) / ln10);  // natural logarithm of the inner one
  const double inner = exponential(at_40 + B * (logarithm(40.0 + freezing) - logarithm(T + freezing)));
  return 1e-6 * (exponential(inner * ln10) - 0.7);
}

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
