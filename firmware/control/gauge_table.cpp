#include "firmware/control/gauge_table.hpp"

namespace strandproof::control {

namespace {
constexpr float pascal_per_mbar = 100.0F;
}

Refusal GaugeColumn::set(const std::uint32_t* pressure_mbar, const std::uint32_t* force_n, unsigned count) {
  if (count < table_points_min || count > table_points_max) {
    return Refusal::table_points;
  }
  for (unsigned i = 1; i < count; ++i) {
    if (pressure_mbar[i] <= pressure_mbar[i - 1] || force_n[i] <= force_n[i - 1]) {
      return Refusal::table_not_rising;
    }
  }
  for (unsigned i = 0; i < count; ++i) {
    pressure_[i] = units::Pressure::from_si(static_cast<float>(pressure_mbar[i]) * pascal_per_mbar);
    force_[i] = units::Force::from_si(static_cast<float>(force_n[i]));
  }
  for (unsigned i = 0; i + 1 < count; ++i) {
    slope_[i] = (force_[i + 1] - force_[i]).si() / (pressure_[i + 1] - pressure_[i]).si();
  }
  count_ = count;
  return Refusal::none;
}

Reading GaugeColumn::at(units::Pressure p) const {
  if (count_ < 2 || !(p >= pressure_[0] && p <= pressure_[count_ - 1U])) {
    return {};  // NaN ends here as well
  }
  unsigned low = 0;
  unsigned high = count_ - 1U;
  while (high - low > 1) {  // at most five steps for 24 points
    const unsigned middle = (low + high) / 2U;
    (p >= pressure_[middle] ? low : high) = middle;
  }
  return {.force = force_[low] + units::Force::from_si((p - pressure_[low]).si() * slope_[low]),
          .inside = true,
          .newton_per_pascal = slope_[low]};
}

}  // namespace strandproof::control
