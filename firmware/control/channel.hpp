// One measured channel: the conditioned loop current, its history, and line fits over it. `steady` looks
// back no further than the last change of flow, so that it never fits a line across a corner.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/control/loop_signal.hpp"
#include "firmware/control/window.hpp"

namespace strandproof::control {

struct Line {
  float counts = 0.0F;  // at the newest sample
  float counts_per_tick = 0.0F;
  std::uint32_t samples = 0;
};

class Channel {
 public:
  static constexpr std::uint16_t settling_ticks = 100;  // after a change of flow: valve, hose and sensor lag
  static constexpr std::uint32_t steady_min = 64;

  void sample(std::uint16_t counts);
  void flow_changed();

  [[nodiscard]] const LoopSignal& signal() const { return signal_; }
  [[nodiscard]] std::uint16_t counts() const { return signal_.counts(); }
  [[nodiscard]] float mean16() const { return fit16_.mean(); }
  [[nodiscard]] float mean64() const { return fit64_.mean(); }
  [[nodiscard]] float mean200() const { return fit200_.mean(); }
  // Mean of `n` samples, the newest of them `back` ticks ago; n + back < 512.
  [[nodiscard]] float mean_ago(std::uint32_t back, std::uint32_t n) const;
  // mean64 as it was eight ticks ago: what a sudden change is held against.
  [[nodiscard]] float before() const { return before_[pushed_ % before_.size()]; }
  // The longest straight line that does not reach across a change of flow.
  [[nodiscard]] Line line() const;
  // Deviation of one sample, in counts, from the differences of successive samples.
  [[nodiscard]] float noise() const;

 private:
  LoopSignal signal_;
  History history_;
  LineFit fit16_{16}, fit64_{64}, fit200_{200}, steady_{512};
  std::array<float, 8> before_{};
  float square_ = 0.0F;  // mean square of successive differences
  std::uint32_t pushed_ = 0;
  std::uint16_t holdoff_ = 0;
};

}  // namespace strandproof::control
