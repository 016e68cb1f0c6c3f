// The three channels of the jack, and the quantities made of them.
#pragma once

#include "firmware/control/channel.hpp"
#include "firmware/control/gauge_table.hpp"
#include "firmware/control/inputs.hpp"
#include "firmware/control/settings.hpp"

namespace strandproof::control {

struct ForceLine {
  units::Force force;  // at the newest sample
  float rate = 0.0F;   // N/s
  float newton_per_count = 0.0F;
  std::uint32_t samples = 0;  // of the line
  bool valid = false;         // inside the table and the signal good
  bool changed = false;       // the table is not what it was when it was installed (H20)
};

// Where in its column the last force of a channel lay: the next one lies there too, nearly always.
struct LastPiece {
  unsigned piece = 0;
  float newton_per_pascal = 0.0F, newton_per_count = 0.0F;
};

struct StrokeLine {
  units::Length at;
  float speed = 0.0F;  // m/s
};

class Measures {
 public:
  explicit Measures(const Jack& jack)
      : jack_{jack},
        per_count_{jack.pressure_span * (1.0F / LoopSignal::span_counts)},
        metres_per_count_{jack.stroke_span * (1.0F / LoopSignal::span_counts)},
        stroke64_{length(0.0F)} {}

  void sample(const AnalogCounts& counts) {
    a.sample(counts.pressure_a);
    b.sample(counts.pressure_b);
    stroke.sample(counts.stroke);
    stroke64_ = length(stroke.mean64());
  }
  void flow_changed();

  Channel a, b, stroke;

  [[nodiscard]] units::Pressure pressure(float counts) const {
    return per_count_ * (counts - LoopSignal::zero_counts);
  }
  [[nodiscard]] units::Length length(float counts) const {
    return metres_per_count_ * (counts - LoopSignal::zero_counts);
  }
  [[nodiscard]] float pressure_counts(units::Pressure p) const {  // above 4 mA zero included
    return LoopSignal::zero_counts + LoopSignal::span_counts * (p / jack_.pressure_span);
  }
  [[nodiscard]] ForceLine force_line(const Channel& c, const GaugeColumn& column) const {
    LastPiece last;
    return force_line(c, column, last);
  }
  // `last`: of the same column.
  [[nodiscard]] ForceLine force_line(const Channel& c, const GaugeColumn& column, LastPiece& last) const;
  // N, of the estimate `l` of this channel, from the channel's noise.
  [[nodiscard]] static float deviation(const Channel& c, const ForceLine& l);
  [[nodiscard]] StrokeLine stroke_line() const;
  [[nodiscard]] units::Length stroke_mean64() const { return stroke64_; }
  [[nodiscard]] units::Length stroke_mean200() const { return length(stroke.mean200()); }
  // The smallest sum of 16 samples whose mean does not read below `p`: what mean16 is held against without
  // the division. Found by the division itself, which rises with the sum, so that both always say the same.
  [[nodiscard]] std::uint32_t sum16_at(units::Pressure p) const;
  // Mean of the pressures whose signals are good, over 16 samples.
  [[nodiscard]] units::Pressure pressure_now() const {
    if (a_good() && b_good()) {
      return pressure(0.5F * (a.mean16() + b.mean16()));
    }
    return pressure(b_good() ? b.mean16() : a.mean16());
  }
  [[nodiscard]] bool a_good() const { return !a.signal().failed(); }
  [[nodiscard]] bool b_good() const { return !b.signal().failed(); }
  [[nodiscard]] bool any_plausible() const { return a_good() || b_good() || !stroke.signal().failed(); }

 private:
  const Jack& jack_;
  const units::Pressure per_count_;  // a division is dear on the target, and these are asked for each tick
  const units::Length metres_per_count_;
  units::Length stroke64_;  // asked for many times a tick
};

}  // namespace strandproof::control
