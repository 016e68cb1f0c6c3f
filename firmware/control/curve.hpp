// The force-elongation curve of a pull in at most 128 points that keep its corners: a sample becomes a point
// where the straight line from the last point no longer passes all samples since within the tolerance. When
// every place is taken, points that lie near the line of their neighbours go and the tolerance doubles: any
// pull fits, the corners stay, and within() says how far a sample may lie from what is kept.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/units/units.hpp"

namespace strandproof::control {

struct CurvePoint {
  std::uint32_t at_ms = 0;  // since the pull was armed
  std::int32_t elongation_um = 0;
  std::int32_t force_n = 0;
};

struct CurveTolerance {
  float um = 1.0F, n = 1.0F;
};

class Curve {
 public:
  static constexpr unsigned capacity = 128;

  void start(const CurveTolerance& finest);
  // Each sample, in rising time; one of no later time than the last is left out.
  void add(const CurvePoint& p);
  // A sample that becomes a point whatever lies about it.
  void keep(const CurvePoint& p);
  // The last sample becomes a point.
  void close();

  [[nodiscard]] unsigned size() const { return count_; }
  [[nodiscard]] const CurvePoint& operator[](unsigned i) const { return point_[i]; }
  // Once closed: every sample lies within this of the line between the points before and after it, at the
  // same millisecond.
  [[nodiscard]] CurveTolerance within() const { return {finest_.um * scale_, finest_.n * scale_}; }

 private:
  struct Fan {  // slopes from the last point, per millisecond, that pass every sample since within tolerance
    float low = 0.0F, high = 0.0F;
    void narrow(float change, float tolerance, float per_ms, bool first);
    [[nodiscard]] bool holds(float change, float ms) const {
      return change >= low * ms && change <= high * ms;
    }
  };

  [[nodiscard]] bool fits(const CurvePoint& p) const;
  void append(const CurvePoint& p);
  void thin();
  void drop(unsigned i);
  [[nodiscard]] float off_line(const CurvePoint& a, const CurvePoint& p, const CurvePoint& b) const;

  std::array<CurvePoint, capacity> point_{};
  unsigned count_ = 0;
  CurvePoint last_;    // newest sample since the last point
  bool open_ = false;  // there is one
  Fan um_, n_;
  CurveTolerance finest_;
  float scale_ = 1.0F;  // of the finest tolerance
};

}  // namespace strandproof::control
