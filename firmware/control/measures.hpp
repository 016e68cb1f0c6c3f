// The three channels of the jack, and the quantities made of them.
#pragma once

#include "firmware/control/channel.hpp"
#include "firmware/control/gauge_table.hpp"
#include "firmware/control/inputs.hpp"
#include "firmware/control/settings.hpp"

namespace strandproof::control {

struct ForceLine {
  units::Force force;      // at the newest sample
  float rate = 0.0F;       // N/s
  float deviation = 0.0F;  // N, of the estimate, from the channel's noise
  bool valid = false;      // inside the table and the signal good
  bool changed = false;    // the table is not what it was when it was installed (H20)
};

struct StrokeLine {
  units::Length at;
  float speed = 0.0F;  // m/s
};

class Measures {
 public:
  explicit Measures(const Jack& jack) : jack_{jack} {}

  void sample(const AnalogCounts& counts);
  void flow_changed();

  Channel a, b, stroke;

  [[nodiscard]] units::Pressure pressure(float counts) const;
  [[nodiscard]] units::Length length(float counts) const;
  [[nodiscard]] float pressure_counts(units::Pressure p) const;  // above 4 mA zero included
  [[nodiscard]] ForceLine force_line(const Channel& c, const GaugeColumn& column) const;
  [[nodiscard]] StrokeLine stroke_line() const;
  [[nodiscard]] units::Length stroke_mean64() const { return length(stroke.mean64()); }
  [[nodiscard]] units::Length stroke_mean200() const { return length(stroke.mean200()); }
  // Mean of the pressures whose signals are good, over 16 samples.
  [[nodiscard]] units::Pressure pressure_now() const;
  [[nodiscard]] bool a_good() const { return !a.signal().failed(); }
  [[nodiscard]] bool b_good() const { return !b.signal().failed(); }
  [[nodiscard]] bool any_plausible() const { return a_good() || b_good() || !stroke.signal().failed(); }

 private:
  const Jack& jack_;
};

}  // namespace strandproof::control
