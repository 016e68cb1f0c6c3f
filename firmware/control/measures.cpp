#include "firmware/control/measures.hpp"

#include "firmware/control/root.hpp"

namespace strandproof::control {

void Measures::sample(const AnalogCounts& counts) {
  a.sample(counts.pressure_a);
  b.sample(counts.pressure_b);
  stroke.sample(counts.stroke);
}

void Measures::flow_changed() {
  a.flow_changed();
  b.flow_changed();
  stroke.flow_changed();
}

units::Pressure Measures::pressure(float counts) const {
  return jack_.pressure_span * ((counts - LoopSignal::zero_counts) / LoopSignal::span_counts);
}

units::Length Measures::length(float counts) const {
  return jack_.stroke_span * ((counts - LoopSignal::zero_counts) / LoopSignal::span_counts);
}

float Measures::pressure_counts(units::Pressure p) const {
  return LoopSignal::zero_counts + LoopSignal::span_counts * (p / jack_.pressure_span);
}

ForceLine Measures::force_line(const Channel& c, const GaugeColumn& column) const {
  const Line line = c.line();
  const Reading r = column.at(pressure(line.counts));
  const float newton_per_count = r.newton_per_pascal * jack_.pressure_span.si() / LoopSignal::span_counts;
  // The end of a fitted line has twice the deviation of its mean.
  const float of_end = 2.0F * c.noise() / root(static_cast<float>(line.samples < 4 ? 4 : line.samples));
  return {.force = r.force,
          .rate = line.counts_per_tick * newton_per_count * static_cast<float>(units::ticks_per_second),
          .deviation = of_end * newton_per_count,
          .valid = r.inside && !c.signal().failed(),
          .changed = r.changed};
}

StrokeLine Measures::stroke_line() const {
  const Line line = stroke.line();
  return {.at = length(line.counts),
          .speed = (jack_.stroke_span * (line.counts_per_tick / LoopSignal::span_counts)).si() *
                   static_cast<float>(units::ticks_per_second)};
}

units::Pressure Measures::pressure_now() const {
  if (a_good() && b_good()) {
    return pressure(0.5F * (a.mean16() + b.mean16()));
  }
  return pressure(b_good() ? b.mean16() : a.mean16());
}

}  // namespace strandproof::control
