#include "sim/bench/bench.hpp"

namespace strandproof::sim {

bool Bench::run(double time_limit_s) {
  const double until_s = board_.time_s() + time_limit_s;
  while (!operator_.idle()) {
    if (board_.time_s() >= until_s) {
      return false;
    }
    step();
  }
  return true;
}

}  // namespace strandproof::sim
