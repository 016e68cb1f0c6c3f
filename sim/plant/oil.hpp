// Oil with entrained air. Everything that holds oil keeps N, the volume that its oil would fill at
// atmospheric pressure: N is conserved exactly, whatever the valves do, and pressure is read from it.
#pragma once

#include "sim/plant/math.hpp"
#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

inline constexpr double p_atmosphere = 101325.0;  // Pa

// m2/s of an oil of this ISO VG grade (32 to 68) at a temperature in degC, by Walther's equation (ASTM D341)
// with the constants of trade.md 6.1, B between the grades along the logarithm of the grade.
double viscosity(double grade, double T);

// Volume of one unit of N at a pressure, and how it changes.
struct Specific {
  double volume = 1.0;     // -
  double stiffness = 0.0;  // 1/K_e: relative volume lost per Pa
  double density = 1.0;    // 1/volume
};

// What a chamber's content reads as.
struct Reading {
  double p = 0.0;
  Specific oil;
};

class Mixture {
 public:
  Mixture() = default;
  explicit Mixture(const Oil& oil)
      : K_{oil.K}, air_{oil.air}, n_{oil.n}, per_K_{1.0 / oil.K}, per_n_{1.0 / oil.n} {}

  // p: gauge pressure, above -1 atmosphere. trade.md 6.2: V_l = (1 - a) exp(-p/K), V_g = a (p0/p)^(1/n).
  [[nodiscard]] Specific at(double p) const {
    const Curve c = curve(p);
    const double density = 1.0 / c.volume;
    return {c.volume, c.slope * density, density};
  }
  // The pressure at which one unit of N fills this volume; near is where to start looking.
  [[nodiscard]] double pressure(double volume, double near) const;
  // The pressure of N in V. From a good guess one step of Newton's is enough: what it leaves is the square of
  // the correction over the absolute pressure.
  [[nodiscard]] Reading read(double N, double V, double near) const {
    constexpr double good = 1e-4;  // of the absolute pressure
    const Curve c = curve(near);
    const double off = (c.volume * N - V) / (c.slope * N);
    if (!(magnitude(off) <= good * (near + p_atmosphere))) {
      const double p = pressure(V / N, near);
      return {p, at(p)};
    }
    const double density = N / V;
    return {near + off, {c.volume - c.slope * off, c.slope * density, density}};
  }
  // Energy stored in one unit of N on its way from atmospheric pressure to p, J/m3 of N (n = 1 only): the
  // integral of gauge pressure over the volume given up.
  [[nodiscard]] double energy(double p) const;
  [[nodiscard]] double bulk_modulus(double p) const { return 1.0 / at(p).stiffness; }

 private:
  // Volume of one unit of N, and its loss per Pa.
  struct Curve {
    double volume, slope;
  };
  [[nodiscard]] Curve curve(double p) const {
    const double liquid = (1.0 - air_) * exp_small(-p * per_K_);
    const double per_absolute = 1.0 / (p + p_atmosphere);
    const double ratio = p_atmosphere * per_absolute;
    const double gas = air_ * (n_ == 1.0 ? ratio : power(ratio, per_n_));
    return {liquid + gas, liquid * per_K_ + gas * per_n_ * per_absolute};
  }
  double K_ = 1.5e9, air_ = 0.0, n_ = 1.0, per_K_ = 1.0 / 1.5e9, per_n_ = 1.0;
};

// Oil in one closed space.
struct Chamber {
  double N = 0.0;  // m3
  double p = 0.0;  // Pa, gauge
  Specific oil;    // at p
};

}  // namespace strandproof::plant
