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
  float newton_per_pascal = 0.0F;  // slope of the column there
  bool inside = false;             // false: pressure outside the column, force is not to be used
  bool changed = false;            // memory has changed since the column was set: nothing of it is to be used
};

class GaugeColumn {
 public:
  // Replaces the column. no-throw; table_points or table_not_rising if it may not be used.
  [[nodiscard]] Refusal set(const std::uint32_t* pressure_mbar, const std::uint32_t* force_n, unsigned count);
  [[nodiscard]] Reading at(units::Pressure p) const {
    unsigned piece = 0;
    return at(p, piece);
  }
  // `piece`: the one that answered last, which is asked before all are searched. A force moves on slowly.
  [[nodiscard]] Reading at(units::Pressure p, unsigned& piece) const {
    const float pa = p.si();
    const bool there = count_holds() && piece + 1U < count_ && pa >= point_[piece].pressure &&
                       pa < point_[piece + 1U].pressure && intact(piece) && intact(piece + 1U);
    const Found found = there ? Found::on_a_piece : search(pa, piece);
    Reading r;
    if (found == Found::on_a_piece) {
      const Point& from = point_[piece];
      r.force = units::Force::from_si(from.force + (pa - from.pressure) * from.slope);
      r.newton_per_pascal = from.slope;
      r.inside = true;
    }
    r.changed = found == Found::changed;
    return r;
  }
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
  // All ones where `inverted` is the inverse.
  static constexpr std::uint32_t against(float value, std::uint32_t inverted) {
    return std::bit_cast<std::uint32_t>(value) ^ inverted;
  }
  [[nodiscard]] bool intact(unsigned i) const {
    const Point& p = point_[i];
    const Inverse& n = inverse_[i];
    return (against(p.pressure, n.pressure) & against(p.force, n.force) & against(p.slope, n.slope)) ==
           UINT32_MAX;
  }
  [[nodiscard]] bool count_holds() const {
    return (count_ ^ count_inverse_) == UINT32_MAX && count_ <= table_points_max;
  }
  enum class Found : std::uint8_t { on_a_piece, outside, changed };
  [[nodiscard]] Found search(float pa, unsigned& piece) const;

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
