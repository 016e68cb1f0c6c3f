// Stress-strain curve of prestressing strand: Devalapura and Tadros, PCI Journal 37(2), 1992 (trade.md 4.4).
#pragma once

#include <array>

#include "sim/plant/math.hpp"

namespace strandproof::plant {

// f = eps (A + B / [1 + (C eps)^D]^(1/D)), at most f_pu; A + B is the modulus.
struct SteelCurve {
  double A = 0.0, B = 0.0;  // Pa
  double C = 0.0, D = 0.0;  // -
  double f_pu = 0.0;        // Pa
  [[nodiscard]] double stress(double eps) const;
};

// The paper's rule for any strand: f_so = 1.04 f_1, A = E (f_pu - f_so)/(eps_u E - f_so), B = E - A,
// C = E/f_so, D from f(0.01) = f_1. Needs f_1 < f_pu/1.04 and below 0.0096 E.
SteelCurve fit_curve(double E, double f_pu, double f_1, double eps_u);

struct Stress {
  double f = 0.0;  // Pa
  double E = 0.0;  // Pa, tangent
};

// The curve as cubics, for speed, and the steel's memory: unloading is elastic with the first modulus.
class Steel {
 public:
  Steel() = default;
  Steel(const SteelCurve& curve, double eps_u);
  // eps_max: the largest strain there has been.
  [[nodiscard]] Stress stress(double eps, double eps_max) const { return stress(eps, eps_max, set(eps_max)); }
  // The same, where set(eps_max) is known.
  [[nodiscard]] Stress stress(double eps, double eps_max, double set) const {
    if (eps >= eps_max) {
      return curve(eps);
    }
    const double f = E_ * (eps - set);
    return f > 0.0 ? Stress{f, E_} : Stress{};
  }
  // Strain left when the stress is gone.
  [[nodiscard]] double set(double eps_max) const { return eps_max - curve(eps_max).f / E_; }
  [[nodiscard]] double modulus() const { return E_; }

 private:
  static constexpr int pieces = 256;
  [[nodiscard]] Stress curve(double eps) const {
    const double at =
        within(0.0, eps * inverse_width_, pieces);  // flat past its end: the strand is broken there
    const int i = at >= pieces ? pieces - 1 : static_cast<int>(at);
    const double t = at - i;
    const Cubic& c = cubic_[static_cast<unsigned>(i)];
    return {c[0] + t * (c[1] + t * (c[2] + t * c[3])),
            (c[1] + t * (2.0 * c[2] + 3.0 * t * c[3])) * inverse_width_};
  }
  using Cubic = std::array<double, 4>;
  std::array<Cubic, pieces> cubic_{};
  double inverse_width_ = 0.0, E_ = 0.0;
};

}  // namespace strandproof::plant
