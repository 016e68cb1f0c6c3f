#include "sim/plant/steel.hpp"

#include "sim/plant/math.hpp"

namespace strandproof::plant {

double SteelCurve::stress(double eps) const {
  if (!(eps > 1e-12)) {
    return (A + B) * eps;
  }
  const double bend = power(1.0 + power(C * eps, D), 1.0 / D);
  return at_most(f_pu, eps * (A + B / bend));
}

SteelCurve fit_curve(double E, double f_pu, double f_1, double eps_u) {
  const double f_so = 1.04 * f_1;
  SteelCurve c;
  c.f_pu = f_pu;
  c.A = E * (f_pu - f_so) / (eps_u * E - f_so);
  c.B = E - c.A;
  c.C = E / f_so;
  double low = 2.0, high = 60.0;  // the stress at 1 % rises with D
  for (int i = 0; i < 60; ++i) {
    c.D = 0.5 * (low + high);
    (c.stress(0.01) < f_1 ? low : high) = c.D;
  }
  return c;
}

// Cubics through the curve's values with its slopes (central differences) at the knots. The plateau at
// f_pu may fall inside a piece; strand breaks there anyway.
Steel::Steel(const SteelCurve& curve, double eps_u) : inverse_width_{pieces / eps_u}, E_{curve.A + curve.B} {
  const double width = eps_u / pieces;
  const double small = 1e-4 * width;
  const auto slope = [&](double eps) {
    return eps <= 0.0 ? E_ : (curve.stress(eps + small) - curve.stress(eps - small)) / (2.0 * small);
  };
  double f0 = curve.stress(0.0), d0 = slope(0.0) * width;
  for (int i = 0; i < pieces; ++i) {
    const double to = (i + 1) * width;
    const double f1 = curve.stress(to), d1 = slope(to) * width;
    cubic_[static_cast<unsigned>(i)] = {f0, d0, 3.0 * (f1 - f0) - 2.0 * d0 - d1, d0 + d1 - 2.0 * (f1 - f0)};
    f0 = f1;
    d0 = d1;
  }
}

}  // namespace strandproof::plant
