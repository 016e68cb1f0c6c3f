#include "sim/bench/cell_readout.hpp"

#include <cmath>
#include <utility>

namespace strandproof::sim {

void CellReadout::tick(const Moment& moment) {
  sum_n_ += loop_unit(moment.sample.load_cell) * span_n_;
  if (++ticks_ == ticks_a_line) {
    text_ += "force_n " + std::to_string(std::lround(sum_n_ / ticks_a_line)) + '\n';
    ticks_ = 0;
    sum_n_ = 0.0;
  }
}

std::string CellReadout::take() {
  return std::exchange(text_, {});
}

}  // namespace strandproof::sim
