// Which points of a fitted curve the controller holds: straight lines between them must stay near the curve.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "host-tool/gauge/fit.hpp"

namespace strandproof::host::gauge {

inline constexpr int points_min = 5;
inline constexpr int points_max = 24;

struct Point {
  std::uint32_t pressure_mbar;
  std::uint32_t force_n;
  friend bool operator==(const Point&, const Point&) = default;
};

struct PointsWanted {
  double low_mbar, high_mbar;               // of the readings: the points lie inside
  std::optional<int> count;                 // nothing: the fewest that keep the allowance
  std::function<double(double)> allowed_n;  // how far the lines may leave the curve at a pressure
  std::string where;                        // for messages
};

struct Points {
  std::vector<Point> points;
  double error_n;      // largest distance of the lines from the curve, rounding to whole N included
  double error_share;  // largest ratio of distance to allowance; above 1: not kept
};

// Whole mbar and N on the curve, both strictly rising, 5 to 24. Throws Problem (refused) if the curve does
// not rise, or if even 24 points do not keep the allowance although the count was left open.
Points choose_points(const Fit& fit, const PointsWanted& wanted);

// Force of the points at a pressure, by straight lines between them; nothing outside them: never an
// extrapolation.
std::optional<double> interpolate(const std::vector<Point>& points, double pressure_mbar);

}  // namespace strandproof::host::gauge
