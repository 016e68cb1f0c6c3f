// Oil with entrained air. Everything that holds oil keeps N, the volume that its oil would fill at
// atmospheric pressure: N is conserved exactly, whatever the valves do, and pressure is read from it.
#pragma once

#include "sim/plant/math.hpp"
#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

inline constexpr double p_atmosphere = 101325.0;  // Pa

// Volume of one unit of N at a pressure, and how it changes.
struct Specific {
  double volume = 1.0;     // -
  double stiffness = 0.0;  // 1/K_e: relative volume lost per Pa
};

class Mixture {
 public:
  Mixture() = default;
  explicit Mixture(const Oil& oil) : K_{oil.K}, air_{oil.air}, n_{oil.n} {}

  // p: gauge pressure, above -1 atmosphere. trade.md 6.2: V_l = (1 - a) exp(-p/K), V_g = a (p0/p)^(1/n).
  [[nodiscard]] Specific at(double p) const {
    const double liquid = (1.0 - air_) * exp_small(-p / K_);
    const double absolute = p + p_atmosphere;
    const double ratio = p_atmosphere / absolute;
    const double gas = air_ * (n_ == 1.0 ? ratio : power(ratio, 1.0 / n_));
    const double volume = liquid + gas;
    return {volume, (liquid / K_ + gas / (n_ * absolute)) / volume};
  }
  // The pressure at which one unit of N fills this volume; near is where to start looking.
  [[nodiscard]] double pressure(double volume, double near) const;
  // Energy stored in one unit of N on its way from atmospheric pressure to p, J/m3 of N (n = 1 only): the
  // integral of gauge pressure over the volume given up.
  [[nodiscard]] double energy(double p) const;
  [[nodiscard]] double bulk_modulus(double p) const { return 1.0 / at(p).stiffness; }

 private:
  double K_ = 1.5e9, air_ = 0.0, n_ = 1.0;
};

// Oil in one closed space.
struct Chamber {
  double N = 0.0;  // m3
  double p = 0.0;  // Pa, gauge
  Specific oil;    // at p
};

}  // namespace strandproof::plant
