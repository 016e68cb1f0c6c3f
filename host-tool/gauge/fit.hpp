// Least squares of a polynomial, with what a calibration report needs to judge it: standard errors, residual
// standard deviation, and lack of fit against pure error. No files, no text, no clock.
//
// Method: Householder QR on inputs scaled to [-1, 1] (NIST/SEMATECH e-Handbook 4.6.1 is the case it is tested
// on). The normal equations are never formed: with raw loads their sums reach 1e27.
#pragma once

#include <span>
#include <vector>

namespace strandproof::host::gauge {

// One reading. group: readings of the same set point share a number; pure error is judged within groups.
struct Observation {
  double x;
  double y;
  int group;
};

// F test of the group means about the curve against the scatter within the groups.
// Where the x of a group differ a little (a pressure is read, not set) the scatter is that of the residuals,
// which is the classical pure error when the x are equal.
struct LackOfFit {
  bool available;  // false: no repeats, or no more groups than coefficients
  double f;        // ratio of the two mean squares
  double f_limit;  // its 95 % quantile
  int groups_dof;  // groups less coefficients
  int pure_dof;    // readings less groups
  double pure_sd;  // in units of y
  bool rejected;   // f > f_limit: the curve does not describe the means
};

struct Fit {
  std::vector<double> coefficient;     // of x^0, x^1, ... in the units of x and y
  std::vector<double> standard_error;  // of each
  double residual_sd;                  // sqrt(sum of squared residuals / residual_dof)
  int residual_dof;
  double largest_residual;  // absolute, in units of y
  LackOfFit lack_of_fit;

  // Value of the polynomial and of its slope at x.
  [[nodiscard]] double at(double x) const;
  [[nodiscard]] double slope(double x) const;
};

// degree: 1 to 5. Throws Problem (refused) with fewer readings than coefficients and one, fewer distinct x
// than coefficients, or a reading that is not finite.
Fit fit_polynomial(std::span<const Observation> readings, int degree);

// The 95 % quantile of the F distribution (Boost.Math).
double f_quantile_95(int numerator_dof, int denominator_dof);

}  // namespace strandproof::host::gauge
