#include "firmware/control/gauge_table.hpp"

namespace strandproof::control {

namespace {
constexpr float pascal_per_mbar = 100.0F;
}  // namespace

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
    point_[i] = {.pressure = static_cast<float>(pressure_mbar[i]) * pascal_per_mbar,
                 .force = static_cast<float>(force_n[i]),
                 .slope = 0.0F};
  }
  for (unsigned i = 0; i + 1 < count; ++i) {
    // From the integers: the difference of two rounded floats would carry their errors into the slope.
    point_[i].slope = static_cast<float>(force_n[i + 1] - force_n[i]) /
                      (static_cast<float>(pressure_mbar[i + 1] - pressure_mbar[i]) * pascal_per_mbar);
  }
  for (unsigned i = 0; i < table_points_max; ++i) {
    inverse_[i] = {.pressure = ~std::bit_cast<std::uint32_t>(point_[i].pressure),
                   .force = ~std::bit_cast<std::uint32_t>(point_[i].force),
                   .slope = ~std::bit_cast<std::uint32_t>(point_[i].slope)};
  }
  count_ = count;
  count_inverse_ = ~count_;
  return Refusal::none;
}

GaugeColumn::Found GaugeColumn::search(float pa, unsigned& piece) const {
  if (!count_holds()) {
    return Found::changed;
  }
  if (count_ < 2) {
    return Found::outside;
  }
  unsigned low = 0;
  unsigned high = count_ - 1U;
  if (!(pa >= point_[low].pressure && pa <= point_[high].pressure)) {
    return intact(low) && intact(high) ? Found::outside : Found::changed;  // NaN ends here as well
  }
  while (high - low > 1) {  // at most five steps for 24 points
    const unsigned middle = (low + high) / 2U;
    (pa >= point_[middle].pressure ? low : high) = middle;
  }
  // A point that sent the search to the wrong side has become an end of the piece: the other points lie
  // beyond it. So the two ends are all that has to be looked at.
  if (!intact(low) || !intact(high)) {
    return Found::changed;
  }
  piece = low;
  return Found::on_a_piece;
}

}  // namespace strandproof::control
