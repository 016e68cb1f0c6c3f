// The force-elongation curve of a pull in at most 32 points: when it is full, every second point goes and
// the spacing doubles, so that any pull fits and the points stay evenly spread.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/units/units.hpp"

namespace strandproof::control {

struct CurvePoint {
  std::int32_t elongation_um = 0;
  std::int32_t force_n = 0;
};

class Curve {
 public:
  static constexpr unsigned capacity = 32;

  void start(units::Length spacing) {
    count_ = 0;
    spacing_um_ = static_cast<std::int32_t>(spacing.si() * 1.0e6F);
  }
  void add(CurvePoint p) {
    if (count_ > 0 && p.elongation_um - point_[count_ - 1].elongation_um < spacing_um_) {
      return;
    }
    append(p);
  }
  // The last point of a pull is kept whatever the spacing.
  void finish(CurvePoint p) { append(p); }

  [[nodiscard]] unsigned size() const { return count_; }
  [[nodiscard]] const CurvePoint& operator[](unsigned i) const { return point_[i]; }

 private:
  void append(CurvePoint p) {
    if (count_ == capacity) {
      thin();
    }
    point_[count_++] = p;
  }
  void thin() {
    for (unsigned i = 0; i < capacity / 2; ++i) {
      point_[i] = point_[2 * i];
    }
    count_ = capacity / 2;
    spacing_um_ *= 2;
  }

  std::array<CurvePoint, capacity> point_{};
  unsigned count_ = 0;
  std::int32_t spacing_um_ = 0;
};

}  // namespace strandproof::control
