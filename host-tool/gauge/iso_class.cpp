#include "host-tool/gauge/iso_class.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace strandproof::host::gauge {

LevelErrors level_errors(const Level& level) {
  const auto& r = level.reference_n;
  const double mean = std::accumulate(r.begin(), r.end(), 0.0) / static_cast<double>(r.size());
  const auto [low, high] = std::minmax_element(r.begin(), r.end());
  const auto q = [&](double reference) { return 100.0 * (level.indicated_n - reference) / reference; };
  LevelErrors e{q(mean), q(*low) - q(*high), std::nullopt, 100.0 * level.resolution_n / level.indicated_n};
  if (level.decreasing_n) e.reversibility_percent = 100.0 * (*level.decreasing_n - r.back()) / r.back();
  return e;
}

double zero_percent(double residual_n, double range_n) {
  return 100.0 * residual_n / range_n;
}

int class_tenths(const LevelErrors& e, double zero, const ClassLimits& limits) {
  for (const auto& row : limits.rows) {
    if (std::abs(e.accuracy_percent) <= row.accuracy && e.repeatability_percent <= row.repeatability &&
        std::abs(zero) <= row.zero && e.resolution_percent <= row.resolution) {
      return row.tenths;
    }
  }
  return 0;
}

LowerLimit lower_limit(double residual_sd_n) {
  const double factor = 2.4 * residual_sd_n;
  return {factor, 400.0 * factor, 2000.0 * factor};
}

}  // namespace strandproof::host::gauge
