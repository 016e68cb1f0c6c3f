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
  return {q(mean), q(*low) - q(*high)};
}

int class_tenths(const LevelErrors& errors) {
  for (const int tenths : {5, 10, 20, 30}) {
    const double limit = tenths / 10.0;
    if (std::abs(errors.accuracy_percent) <= limit && errors.repeatability_percent <= limit) return tenths;
  }
  return 0;
}

}  // namespace strandproof::host::gauge
