// From pressure to force: a column of strictly rising points per channel and direction, straight lines
// between them, nothing beyond them. Each number is kept a second time with all its bits inverted and the
// two are compared on each use: a bit that flips in memory is found by the look-up it would falsify (H20).
#pragma once

#include <array>
#include <bit>
#include <cstdint>

#include "firmware/control/names.hpp"
#include "firmware/units/units.hpp"

namespace strandproof::control {

inline constexpr unsigned table_points_min = 5;
inline constexpr unsigned table_points_max = 24;

struct Reading {
  units::Force force;
  bool inside = false;             // false: pressure outside the column, force is not to be used
  float newton_per_pascal = 0.0F;  // slope of the column there
  bool changed = false;            // memory has changed since the column was set: nothing of it is to be used
};

class GaugeColumn {
 public:
  // Replaces the column. no-throw; table_points or table_not_rising if it may not be used.
  [[nodiscard]] Refusal set(const std::uint32_t* pressure_mbar, const std::uint32_t* force_n, unsigned count);
  [[nodiscard]] Reading at(units::Pressure p) const;
  [[nodiscard]] bool empty() const { return count_ == 0; }
  [[nodiscard]] units::Force first_force() const { return units::Force::from_si(point_[0].force); }
  [[nodiscard]] units::Force last_force() const { return units::Force::from_si(point_[count_ - 1U].force); }
  [[nodiscard]] units::Pressure first_pressure() const {
    return units::Pressure::from_si(point_[0].pressure);
  }

 private:
  struct Point {
    float pressure = 0.0F, force = 0.0F, slope = 0.0F;  // Pa, N, N/Pa to the next point
  };
  struct Inverse {
    std::uint32_t pressure = ~0U, force = ~0U, slope = ~0U;
  };
  static constexpr bool inverse(float value, std::uint32_t inverted) {
    return (std::bit_cast<std::uint32_t>(value) ^ inverted) == UINT32_MAX;
  }
  [[nodiscard]] bool intact(unsigned i) const {
    return inverse(point_[i].pressure, inverse_[i].pressure) && inverse(point_[i].force, inverse_[i].force) &&
           inverse(point_[i].slope, inverse_[i].slope);
  }

  std::array<Point, table_points_max> point_{};
  std::array<Inverse, table_points_max> inverse_{};
  std::uint32_t count_ = 0;
  std::uint32_t count_inverse_ = ~0U;
};

struct GaugeTable {
  std::uint32_t revision = 0;  // 0: none
  std::uint32_t jack_serial = 0, sensor_a_serial = 0, sensor_b_serial = 0;
  std::uint64_t calibrated_s = 0, due_s = 0;  // seconds since 1970 UTC
  std::uint32_t uncertainty_ppm = 0;
  std::uint32_t origin = 0;  // of the calibration runs; numbers as Jack::origin
  GaugeColumn a_increasing, a_decreasing, b_increasing, b_decreasing;

  [[nodiscard]] bool valid() const { return revision != 0; }
  // Both increasing columns cover this force.
  [[nodiscard]] bool covers(units::Force f) const {
    return f >= a_increasing.first_force() && f <= a_increasing.last_force() &&
           f >= b_increasing.first_force() && f <= b_increasing.last_force();
  }
};

}  // namespace strandproof::control
