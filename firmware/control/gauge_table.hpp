// From pressure to force: a column of strictly rising points per channel and direction, straight lines
// between them, nothing beyond them.
#pragma once

#include <array>
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
};

class GaugeColumn {
 public:
  // Replaces the column. no-throw; table_points or table_not_rising if it may not be used.
  [[nodiscard]] Refusal set(const std::uint32_t* pressure_mbar, const std::uint32_t* force_n, unsigned count);
  [[nodiscard]] Reading at(units::Pressure p) const;
  [[nodiscard]] bool empty() const { return count_ == 0; }
  [[nodiscard]] units::Force first_force() const { return force_[0]; }
  [[nodiscard]] units::Force last_force() const { return force_[count_ - 1U]; }
  [[nodiscard]] units::Pressure first_pressure() const { return pressure_[0]; }

 private:
  std::array<units::Pressure, table_points_max> pressure_{};
  std::array<units::Force, table_points_max> force_{};
  std::array<float, table_points_max> slope_{};
  unsigned count_ = 0;
};

struct GaugeTable {
  std::uint32_t revision = 0;  // 0: none
  std::uint32_t jack_serial = 0, sensor_a_serial = 0, sensor_b_serial = 0;
  std::uint64_t calibrated_s = 0, due_s = 0;  // seconds since 1970 UTC
  std::uint32_t uncertainty_ppm = 0;
  GaugeColumn a_increasing, a_decreasing, b_increasing, b_decreasing;

  [[nodiscard]] bool valid() const { return revision != 0; }
  // Both increasing columns cover this force.
  [[nodiscard]] bool covers(units::Force f) const {
    return f >= a_increasing.first_force() && f <= a_increasing.last_force() &&
           f >= b_increasing.first_force() && f <= b_increasing.last_force();
  }
};

}  // namespace strandproof::control
