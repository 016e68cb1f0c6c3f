#include "firmware/control/measures.hpp"

#include "firmware/control/root.hpp"

namespace strandproof::control {

void Measures::flow_changed() {
  a.flow_changed();
  b.flow_changed();
  stroke.flow_changed();
}

std::uint32_t Measures::sum16_at(units::Pressure p) const {
  std::uint32_t low = 0;
  std::uint32_t high = 16U * 65535U + 1U;
  while (low < high) {  // 20 steps
    const std::uint32_t middle = (low + high) / 2U;
    if (pressure(mean_of<16>(middle, 16)) < p) {
      low = middle + 1U;
    } else {
      high = middle;
    }
  }
  return low;
}

ForceLine Measures::force_line(const Channel& c, const GaugeColumn& column, LastPiece& last) const {
  const Line line = c.line();
  const Reading r = column.at(pressure(line.counts), last.piece);
  if (r.newton_per_pascal != last.newton_per_pascal) {
    last.newton_per_pascal = r.newton_per_pascal;
    last.newton_per_count = r.newton_per_pascal * per_count_.si();
  }
  const float newton_per_count = last.newton_per_count;
  return {.force = r.force,
          .rate = line.counts_per_tick * newton_per_count * static_cast<float>(units::ticks_per_second),
          .newton_per_count = newton_per_count,
          .samples = line.samples,
          .valid = r.inside && !c.signal().failed(),
          .changed = r.changed};
}

// The end of a fitted line has twice the deviation of its mean.
float Measures::deviation(const Channel& c, const ForceLine& l) {
  const float of_end = 2.0F * c.noise() / root(static_cast<float>(l.samples < 4 ? 4 : l.samples));
  return of_end * l.newton_per_count;
}

StrokeLine Measures::stroke_line() const {
  const Line line = stroke.line();
  return {
      .at = length(line.counts),
      .speed = (metres_per_count_ * line.counts_per_tick).si() * static_cast<float>(units::ticks_per_second)};
}

}  // namespace strandproof::control
