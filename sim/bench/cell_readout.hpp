// The reference cell's read-out at the rig: what its serial line prints, ten lines a second of virtual time,
// each the mean since the one before, in N: "force_n 30012". Our own format, told to no real instrument.
#pragma once

#include <string>

#include "sim/bench/bench.hpp"

namespace strandproof::sim {

// Of the unit (0 at 4 mA, 1 at 20 mA) that the converter's counts stand for, as a reading instrument works
// it.
[[nodiscard]] constexpr double loop_unit(std::uint16_t counts) {
  return (counts * (24.0 / 65535.0) - 4.0) / 16.0;
}

class CellReadout final : public Observer {
 public:
  // span_n: of the cell at 20 mA.
  explicit CellReadout(double span_n) : span_n_{span_n} {}
  void tick(const Moment& moment) override;
  // The lines printed since last asked.
  std::string take();

 private:
  static constexpr int ticks_a_line = 100;
  double span_n_, sum_n_ = 0.0;
  int ticks_ = 0;
  std::string text_;
};

}  // namespace strandproof::sim
