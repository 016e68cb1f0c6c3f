// A calibration rig for the tests, whose every value is known in closed form: an ideal jack of 48.00 cm2 with
// 3 % friction (trade.md 5.3, invented) against a spring of 2 N/um. At rest its friction lets go by a fifth a
// second; a valve needs 20 ms to shut. It speaks as a jack and a cell do: samples of 20 ms, values of 100 ms.
#pragma once

#include <cmath>
#include <functional>

#include "host-tool/capture/capture.hpp"

namespace strandproof::host::test {

class CaptureRig {
 public:
  static constexpr double area_n_per_mbar = 0.48;  // 48 cm2
  static constexpr double friction = 0.03;
  static constexpr double spring_n_per_um = 2.0;

  std::function<void(const capture::JackSample&)> on_jack;
  std::function<void(double)> on_cell;
  double creep_um_ms = 1.04, fast_um_ms = 7.0, lower_um_ms = 8.0;
  double leak_mbar_ms = 0.0;    // at rest, without the force falling
  double cell_walk_n_ms = 0.0;  // the cell drifts at rest
  std::uint32_t state = 12;     // rig
  std::uint64_t valve_ms = 20;

  [[nodiscard]] double force_n() const { return std::max(0.0, spring_n_per_um * (stroke_um_ - free_um)); }
  // The pressure of a ram that moves up at this force.
  static double moving_mbar(double force) { return force / area_n_per_mbar / (1.0 - friction); }
  static double lowering_mbar(double force) { return force / area_n_per_mbar / (1.0 + friction); }

  // As the person holds the keys: fast, and the last 2.5 kN slowly; then lets go.
  void up(double to_n) {
    while (force_n() < to_n - 2'500.0) tick(fast_up, fast_um_ms);
    while (force_n() < to_n) tick(slow_up, creep_um_ms);
    let_go(creep_um_ms);
  }
  void down(double to_n) {
    while (force_n() > to_n && stroke_um_ > free_um - 200.0) tick(lower, -lower_um_ms);
    let_go(-lower_um_ms);
  }
  void wait(std::uint64_t ms) {
    for (std::uint64_t i = 0; i < ms; ++i) tick(0, 0.0);
  }
  void creep(std::uint64_t ms) {  // a short push
    for (std::uint64_t i = 0; i < ms; ++i) tick(slow_up, creep_um_ms);
    let_go(creep_um_ms);
  }
  void skip(std::uint64_t ms) { ms_ += ms; }  // nothing was heard for so long
  [[nodiscard]] capture::JackSample sample() const {
    const double moving = side_ > 0.0 ? moving_mbar(force_n()) : lowering_mbar(force_n());
    const double rest = force_n() / area_n_per_mbar;
    const double p = rest + (moving - rest) * bent_ - leaked_;
    return {ms_, state, 0, outputs_, {p, 0.998 * p}, stroke_um_, 21.0};
  }

 private:
  static constexpr std::uint32_t slow_up = 0x25, fast_up = 0x27, lower = 0x29;  // proto/SPEC.md, Telemetry
  static constexpr double free_um = 20'000.0;

  // The valve is told to shut, and shuts a little later.
  void let_go(double speed) {
    for (std::uint64_t i = 0; i < valve_ms; ++i) tick(0, speed);
    wait(300);
  }
  void tick(std::uint32_t outputs, double speed_um_ms) {
    outputs_ = outputs;
    stroke_um_ += speed_um_ms;
    if (speed_um_ms != 0.0) {
      side_ = speed_um_ms;
      bent_ = 1.0;
      leaked_ = walked_ = 0.0;
    } else {
      bent_ *= 1.0 - 0.2e-3;
      leaked_ += leak_mbar_ms;
      walked_ += cell_walk_n_ms;
    }
    ++ms_;
    if (ms_ % 20 == 0 && on_jack) on_jack(sample());
    if (ms_ % 100 == 0 && on_cell) on_cell(force_n() + walked_);
  }

  std::uint64_t ms_ = 1'000;
  std::uint32_t outputs_ = 0;
  double stroke_um_ = free_um - 200.0, side_ = 1.0, bent_ = 0.0, leaked_ = 0.0, walked_ = 0.0;
};

}  // namespace strandproof::host::test
