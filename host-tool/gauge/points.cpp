#include "host-tool/gauge/points.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::gauge {
namespace {

constexpr int density_steps = 256;

double curvature(const Fit& fit, double x) {
  double value = 0.0;
  for (std::size_t power = fit.coefficient.size() - 1; power > 1; --power) {
    value = value * x + static_cast<double>(power * (power - 1)) * fit.coefficient[power];
  }
  return std::abs(value);
}

// Running integral of sqrt(curvature / allowance) over the range, from 0 to 1: a chord of width h leaves a
// curve by curvature h^2 / 8, so equal shares are equal errors against what is allowed. A tenth of an even
// spread keeps points where the curve is straight.
std::vector<double> bend_shares(const Fit& fit, const PointsWanted& w) {
  std::vector<double> sum{0.0};
  const double step = (w.high_mbar - w.low_mbar) / density_steps;
  for (int i = 0; i < density_steps; ++i) {
    const double x = w.low_mbar + (i + 0.5) * step;
    sum.push_back(sum.back() + std::sqrt(curvature(fit, x) / w.allowed_n(x)));
  }
  const double bent = sum.back();
  for (int i = 0; i <= density_steps; ++i) {
    const double even = static_cast<double>(i) / density_steps;
    auto& share = sum[static_cast<std::size_t>(i)];
    share = bent > 0.0 ? 0.9 * share / bent + 0.1 * even : even;
  }
  return sum;
}

// Pressures at equal shares.
std::vector<double> spread(const std::vector<double>& shares, const PointsWanted& w, int count) {
  const double step = (w.high_mbar - w.low_mbar) / density_steps;
  std::vector<double> pressures;
  std::size_t at = 0;
  for (int i = 0; i < count; ++i) {
    const double share = static_cast<double>(i) / (count - 1);
    while (at + 2 < shares.size() && shares[at + 1] < share) ++at;
    const double part = (share - shares[at]) / (shares[at + 1] - shares[at]);
    pressures.push_back(w.low_mbar + (static_cast<double>(at) + std::clamp(part, 0.0, 1.0)) * step);
  }
  return pressures;
}

std::vector<Point> on_curve(const Fit& fit, const PointsWanted& w, const std::vector<double>& pressures) {
  std::vector<Point> points;
  const double first = std::ceil(w.low_mbar);
  const double last = std::floor(w.high_mbar);
  for (const double wanted : pressures) {
    const double pressure = std::clamp(std::round(wanted), first, last);
    const double force = std::round(fit.at(pressure));
    const bool in_range = pressure >= 0.0 && force >= 1.0 && pressure <= 2e6 && force <= 1e8;
    const bool rises = points.empty() ||
                       (in_range && pressure > points.back().pressure_mbar && force > points.back().force_n);
    if (!in_range || !rises) {
      throw refused(
          fmt::format("{}: the fitted table does not rise at {} mbar ({} N); look at the runs, or use "
                      "--degree 1",
                      w.where, pressure, force));
    }
    points.push_back({static_cast<std::uint32_t>(pressure), static_cast<std::uint32_t>(force)});
  }
  return points;
}

// Looked for at 32 places in each step.
Points judged(const Fit& fit, const PointsWanted& w, const std::vector<double>& pressures) {
  constexpr int places = 32;
  Points p{on_curve(fit, w, pressures), 0.0, 0.0};
  for (std::size_t i = 0; i + 1 < p.points.size(); ++i) {
    const double low = p.points[i].pressure_mbar;
    const double width = p.points[i + 1].pressure_mbar - low;
    for (int k = 0; k <= places; ++k) {
      const double pressure = low + width * k / places;
      const double error = std::abs(*interpolate(p.points, pressure) - fit.at(pressure));
      p.error_n = std::max(p.error_n, error);
      p.error_share = std::max(p.error_share, error / w.allowed_n(pressure));
    }
  }
  return p;
}

}  // namespace

std::optional<double> interpolate(const std::vector<Point>& points, double pressure_mbar) {
  if (points.empty() || !(pressure_mbar >= points.front().pressure_mbar)) return std::nullopt;
  for (std::size_t i = 1; i < points.size(); ++i) {
    const auto& a = points[i - 1];
    const auto& b = points[i];
    if (pressure_mbar > b.pressure_mbar) continue;
    const double part = (pressure_mbar - a.pressure_mbar) / (b.pressure_mbar - a.pressure_mbar);
    return a.force_n + part * (b.force_n - a.force_n);
  }
  return std::nullopt;
}

Points choose_points(const Fit& fit, const PointsWanted& w) {
  const auto shares = bend_shares(fit, w);
  if (w.count) return judged(fit, w, spread(shares, w, *w.count));
  for (int count = points_min; count <= points_max; ++count) {
    Points p = judged(fit, w, spread(shares, w, count));
    if (p.error_share < 1.0) return p;
  }
  throw refused(
      fmt::format("{}: {} points leave the curve by more than a tenth of the uncertainty; take a lower "
                  "--degree, or force the count with --points",
                  w.where, points_max));
}

}  // namespace strandproof::host::gauge
