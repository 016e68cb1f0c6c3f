// Least squares of a polynomial, with what a calibration report needs to judge it: standard errors,
// covariance, residual standard deviation, lack of fit against pure error, leverage and outliers of each
// reading, and the inverse. No files, no text, no clock.
//
// Method: Householder QR in `long double` on inputs centred and scaled to [-1, 1]. The normal equations are
// never formed: with raw loads their sums reach 1e27. Tested on NIST StRD data, up to degree 10.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace strandproof::host::gauge {

inline constexpr int degree_max = 10;

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
  bool available;  // false: no repeats, no more groups than coefficients, or neither of both spreads
  double f;        // ratio of the two mean squares; infinite if the repeats do not scatter at all
  double f_limit;  // its 95 % quantile
  int groups_dof;  // groups less coefficients
  int pure_dof;    // readings less groups
  double pure_sd;  // in units of y
  bool rejected;   // f > f_limit: the curve does not describe the means
};

// What one reading means for the fit. Flags only: a fit never drops a reading.
struct ReadingFigure {
  double residual;     // y less the curve, in units of y
  double leverage;     // 0 to 1; their sum is the number of coefficients
  double studentised;  // residual over its standard deviation estimated without this reading; 0 if exact
  bool high_leverage;  // above 2 coefficients / readings (Hoaglin and Welsch 1978, from memory)
  bool outlier;        // |studentised| above its 5 % limit for the largest of all readings (Bonferroni)
};

// x at a value of y, and its standard uncertainty from the fit's covariance alone.
struct Inverse {
  double x;
  double standard_uncertainty;
};

// The curve as it was solved for: a polynomial in t = (x - centre) / half; through the origin, x times one.
// Values are taken from it: powers of x far from zero cancel.
struct OwnCurve {
  double centre, half;
  std::vector<double> coefficient;  // of t^0, t^1, ...
  std::vector<double> covariance;   // of these, row by row
};

struct Fit {
  int degree;
  bool through_origin;
  std::vector<double>
      coefficient;  // of x^0 ... x^degree, in the units of x and y; [0] is 0 through the origin
  std::vector<double> standard_error;  // of each; 0 for a coefficient that was not fitted
  std::vector<double> covariance;      // (degree + 1)^2, row by row; zeros where nothing was fitted
  OwnCurve own;
  double residual_sd;  // sqrt(sum of squared residuals / residual_dof)
  int residual_dof;
  double residual_ss;       // sum of squared residuals
  double r_squared;         // about the mean; through the origin: about zero (uncentred), as NIST StRD does;
                            // NaN where y has no spread
  double largest_residual;  // absolute, in units of y
  LackOfFit lack_of_fit;
  std::vector<ReadingFigure> reading;  // in the order of the readings

  // Value of the polynomial and of its slope at x.
  [[nodiscard]] double at(double x) const;
  [[nodiscard]] double slope(double x) const;
  // Standard uncertainty of the curve at x: sqrt(v' C v), v = (1, t, t^2, ...) (JCGM 100:2008, H.3.4).
  [[nodiscard]] double standard_error_at(double x) const;
  [[nodiscard]] double covariance_of(std::size_t row, std::size_t column) const;
  // -1 to 1; 0 if one of the two was not fitted or has no uncertainty.
  [[nodiscard]] double correlation(std::size_t row, std::size_t column) const;
  // The x in [low, high] where the curve takes this value; nothing if it does not, or if the curve does not
  // rise from low to high.
  [[nodiscard]] std::optional<Inverse> inverse(double value, double low, double high) const;
};

// degree: 1 to 10, else Problem (fault). Throws Problem (refused) with fewer readings than coefficients and
// one, fewer distinct x than coefficients, a reading that is not finite or outside 1e-100 to 1e100, inputs
// too close together for this degree, or coefficients that are no doubles.
Fit fit_polynomial(std::span<const Observation> readings, int degree, bool through_origin = false);

// Quantiles of the F and of Student's t distribution (Boost.Math). degrees_of_freedom may be infinite for t.
double f_quantile_95(int numerator_dof, int denominator_dof);
double t_quantile(double probability, double degrees_of_freedom);

}  // namespace strandproof::host::gauge
