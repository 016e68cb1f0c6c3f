// A gauge table made of calibration runs: for each channel a fit of force over pressure on the increasing
// branch (pulling) and, where runs go down, on the decreasing one (lowering, lift-off), and its points as the
// controller holds them. In memory only; table_file.hpp keeps it on disk.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "host-tool/gauge/fit.hpp"
#include "host-tool/gauge/iso_class.hpp"
#include "host-tool/gauge/runs.hpp"

namespace strandproof::host::gauge {

struct Point {
  std::uint32_t pressure_mbar;
  std::uint32_t force_n;
  friend bool operator==(const Point&, const Point&) = default;
};

struct Column {
  std::vector<Point> points;  // 5 to 24, both strictly rising; empty: the branch was not calibrated
  int degree;                 // 1 or 2, of the fit that the points lie on
  bool forced;                // the degree was asked for, not chosen by lack of fit
  Fit line;
  std::optional<Fit> quadratic;  // absent where the readings carry no second degree
  double interpolation_n;        // largest distance of the table from its curve, rounding to 1 N included
  double largest_percent;        // largest residual of the chosen fit, % of the reference at that reading

  [[nodiscard]] const Fit& chosen() const { return degree == 2 ? *quadratic : line; }
};

struct Table {
  std::uint32_t jack_serial;
  std::array<std::uint32_t, 2> sensor_serial;
  Origin origin;
  std::int64_t calibrated_s;
  std::int64_t due_s;
  std::array<Column, 2> increasing;  // channels A and B
  std::array<Column, 2> decreasing;
  IsoClass iso_class;             // worse of the two channels, increasing branch
  std::uint32_t uncertainty_ppm;  // expanded, k = 2, of the reading; what it holds is in expanded_uncertainty
};

struct TableOptions {
  std::optional<int> degree = std::nullopt;  // 1 or 2; nothing: the lowest that lack of fit does not reject
  int points = 12;                           // 5 to 24 for a quadratic; a straight line takes the same
  std::int64_t valid_s = 182LL * 86400;      // from the last reading to the due date (6 months: UFGS 02490)
  std::uint32_t reference_ppm =
      1000;                     // expanded uncertainty (k = 2) of the reference cell, of its certificate
  std::uint32_t other_ppm = 0;  // standard uncertainty of what the runs do not show: temperature, drift
};

// Least squares of one branch of one channel (0: A, 1: B). Throws Problem (refused) as fit_polynomial does.
Column fit_column(const Runs& runs, Direction direction, std::size_t channel, const TableOptions& options);

// The whole table. Throws Problem (refused) with fewer than five set points going up, a residual above 1 % of
// its reading at or above a fifth of the largest force, a reference cell whose zero is off by more than 0.5 %
// of the largest force (all three common practice), or points that do not rise.
Table make_table(const Runs& runs, const TableOptions& options);

// Expanded relative uncertainty (k = 2, GUM pattern) in ppm at and above a fifth of the largest force:
// reference cell, scatter about the fit, interpolation of the table, and other_ppm. Friction scatter from
// pull to pull, temperature and sensor drift are in it only as far as the runs or other_ppm show them.
std::uint32_t expanded_uncertainty(const Runs& runs, const std::array<Column, 2>& increasing,
                                   const TableOptions& options);

// Force of the points at a pressure, by straight lines between them; nothing outside them: never an
// extrapolation.
std::optional<double> interpolate(const std::vector<Point>& points, double pressure_mbar);

}  // namespace strandproof::host::gauge
