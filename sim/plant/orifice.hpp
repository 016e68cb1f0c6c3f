// Flow through openings.
#pragma once

#include "sim/plant/math.hpp"

namespace strandproof::plant {

// A flow and its derivative by the pressure drop.
struct Flow {
  double Q = 0.0;  // m3/s
  double G = 0.0;  // m3/s/Pa
};

// Below this drop the flow turns laminar: the square root alone has an infinite slope at rest.
inline constexpr double p_laminar = 2.0e4;  // Pa; assumed

// C = C_d a sqrt(2/rho) in m3/s/sqrt(Pa): Q = C sqrt(dp) for dp well above p_laminar (1e-4 low at 1 MPa).
inline double orifice_coefficient(double C_d, double area, double rho) {
  return C_d * area * root(2.0 / rho);
}

inline Flow orifice(double C, double dp) {
  const double r2 = dp * dp + p_laminar * p_laminar;
  const double g = C / root(root(r2));
  return {g * dp, g * (1.0 - 0.5 * dp * dp / r2)};
}

// Laminar pipe (Hagen-Poiseuille): pressure drop per flow in Pa s/m3; right for Reynolds numbers below 2,000.
inline double laminar_resistance(double nu, double rho, double L, double D) {
  constexpr double pi = 3.14159265358979323846;
  return 128.0 * nu * rho * L / (pi * D * D * D * D);
}

// A laminar pipe of resistance R > 0 and an orifice in series: dp = R Q + (Q/C)^2.
inline Flow pipe_and_orifice(double R, double C, double dp) {
  const double over = 1.0 / (C * C);
  const double Q = 2.0 * dp / (R + root(R * R + 4.0 * magnitude(dp) * over));
  return {Q, 1.0 / (R + 2.0 * magnitude(Q) * over)};
}

// A pressure compensator behind an orifice: no more than Q_max passes.
inline Flow compensated(const Flow& f, double Q_max) {
  const double share = f.Q / Q_max;
  const double r2 = 1.0 + share * share;
  const double limit = 1.0 / root(r2);
  return {f.Q * limit, f.G * limit / r2};
}

// Two openings in series, each with the coefficient C when fully open.
inline double in_series(double C, double a, double b) {
  const double r2 = a * a + b * b;
  return r2 > 0.0 ? C * a * b / root(r2) : 0.0;
}

}  // namespace strandproof::plant
