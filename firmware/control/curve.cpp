#include "firmware/control/curve.hpp"

namespace strandproof::control {
namespace {

float between(std::int32_t from, std::int32_t to) {
  return static_cast<float>(to - from);
}
float ms_between(const CurvePoint& from, const CurvePoint& to) {
  return static_cast<float>(to.at_ms - from.at_ms);
}
float larger(float a, float b) {
  return a > b ? a : b;
}
float smaller(float a, float b) {
  return a < b ? a : b;
}
float size_of(float a) {
  return a < 0.0F ? -a : a;
}

}  // namespace

void Curve::Fan::narrow(float change, float tolerance, float per_ms, bool first) {
  const float lowest = (change - tolerance) * per_ms;
  const float highest = (change + tolerance) * per_ms;
  low = first ? lowest : larger(low, lowest);
  high = first ? highest : smaller(high, highest);
}

void Curve::start(const CurveTolerance& finest) {
  finest_ = finest;
  scale_ = 1.0F;
  count_ = 0;
  open_ = false;
}

inline bool Curve::fits(const CurvePoint& p) const {
  const CurvePoint& from = point_[count_ - 1];
  const float ms = ms_between(from, p);
  return um_.holds(between(from.elongation_um, p.elongation_um), ms) &&
         n_.holds(between(from.force_n, p.force_n), ms);
}

void Curve::add(const CurvePoint& p) {
  if (count_ == 0) {
    append(p);
    return;
  }
  if (p.at_ms <= (open_ ? last_.at_ms : point_[count_ - 1].at_ms)) {
    return;
  }
  if (open_ && !fits(p)) {
    close();
  }
  const CurvePoint& from = point_[count_ - 1];
  const float per_ms = 1.0F / ms_between(from, p);
  const CurveTolerance t = within();
  um_.narrow(between(from.elongation_um, p.elongation_um), t.um, per_ms, !open_);
  n_.narrow(between(from.force_n, p.force_n), t.n, per_ms, !open_);
  last_ = p;
  open_ = true;
}

void Curve::keep(const CurvePoint& p) {
  add(p);
  close();
}

// The line to the last sample passes all the others: it was inside the fan that they had left.
void Curve::close() {
  if (open_) {
    append(last_);
    open_ = false;
  }
}

void Curve::append(const CurvePoint& p) {
  if (count_ == capacity) {
    thin();
  }
  point_[count_++] = p;
}

// How far p lies from the line a-b at its time, in finest tolerances.
float Curve::off_line(const CurvePoint& a, const CurvePoint& p, const CurvePoint& b) const {
  const float share = ms_between(a, p) / ms_between(a, b);
  const float um =
      between(a.elongation_um, p.elongation_um) - share * between(a.elongation_um, b.elongation_um);
  const float n = between(a.force_n, p.force_n) - share * between(a.force_n, b.force_n);
  return larger(size_of(um) / finest_.um, size_of(n) / finest_.n);
}

// A point goes where it lies within the tolerance of the line of its neighbours, and both of these stay: the
// lines move by no more than that, so twice the tolerance bounds every sample. Where none lies so, the one
// that lies nearest goes, and its distance is added.
void Curve::thin() {
  unsigned kept = 1;
  unsigned nearest_at = 0;
  float nearest = 0.0F;
  unsigned i = 1;
  for (; i + 1 < count_; ++i) {
    const float off = off_line(point_[kept - 1], point_[i], point_[i + 1]);
    if (nearest_at == 0 || off < nearest) {
      nearest = off;
      nearest_at = i;
    }
    if (off <= scale_) {
      ++i;
    }
    point_[kept++] = point_[i];
  }
  if (i < count_) {
    point_[kept++] = point_[i];
  }
  if (kept < count_) {
    count_ = kept;
    scale_ *= 2.0F;
  } else {
    drop(nearest_at);
    scale_ += nearest;
  }
}

void Curve::drop(unsigned i) {
  for (--count_; i < count_; ++i) {
    point_[i] = point_[i + 1];
  }
}

}  // namespace strandproof::control
