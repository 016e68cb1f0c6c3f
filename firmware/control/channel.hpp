// One measured channel: the conditioned loop current, its history, and line fits over it. `steady` looks
// back no further than the last change of flow, so that it never fits a line across a corner.
#pragma once

#include <cstdint>

#include "firmware/control/loop_signal.hpp"
#include "firmware/control/root.hpp"
#include "firmware/control/window.hpp"

namespace strandproof::control {

class Channel {
 public:
  static constexpr std::uint16_t settling_ticks = 100;  // after a change of flow: valve, hose and sensor lag
  static constexpr std::uint32_t steady_min = 64;

  void sample(std::uint16_t counts);
  void flow_changed();

  [[nodiscard]] const LoopSignal& signal() const { return signal_; }
  [[nodiscard]] std::uint16_t counts() const { return signal_.counts(); }
  [[nodiscard]] float mean16() const { return mean<16>(); }
  [[nodiscard]] float mean64() const { return mean<64>(); }
  [[nodiscard]] float mean200() const { return mean<200>(); }
  // Sum and mean of n samples, the newest of them `back` ticks ago; n + back < 512.
  [[nodiscard]] std::uint32_t sum_ago(std::uint32_t back, std::uint32_t n) const {
    return history_.sum(back, n);
  }
  [[nodiscard]] float mean_ago(std::uint32_t back, std::uint32_t n) const {
    return static_cast<float>(history_.sum(back, n)) / static_cast<float>(n);
  }
  // There were so many samples.
  [[nodiscard]] bool has(std::uint32_t n) const { return history_.pushed() >= n; }
  // mean64 as it was eight ticks ago: what a sudden change is held against.
  [[nodiscard]] float before() const {
    constexpr std::uint32_t back = 8;
    return mean_of<64>(history_.sum(back, 64), history_.held(64 + back) - history_.held(back));
  }
  // The longest straight line that does not reach across a change of flow.
  [[nodiscard]] Line line() const {
    return steady_.filled() >= steady_min ? steady_.line() : line_over<64>(history_);
  }
  // Deviation of one sample, in counts, from the differences of successive samples, of which every fourth
  // is taken.
  [[nodiscard]] float noise() const { return root(0.5F * square_); }

 private:
  template <std::uint32_t n>
  [[nodiscard]] float mean() const {
    return mean_of<n>(history_.sum(0, n), history_.held(n));
  }
  static constexpr std::uint32_t noise_period = 4;
  LoopSignal signal_;
  float square_ = 0.0F;  // mean square of successive differences
  std::uint16_t holdoff_ = 0;
  LineFit<512> steady_;
  History history_;
};

}  // namespace strandproof::control
