// The parameters of a jack from a bench trace of it: the plant is run with what was energised, and the values
// are looked for with which it reads what the sensors read (least squares, Levenberg and Marquardt's steps).
// Says of each how well it is known, and "cannot tell" where the trace does not tell.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/bench/keys.hpp"
#include "sim/fit/recording.hpp"

namespace strandproof::sim {

struct Estimate {
  const Key* key = nullptr;  // of a scenario
  double value = 0.0;        // SI
  double sd = 0.0;  // standard deviation, SI; of what noise does, and of what the plant leaves unexplained
  bool told = false;
  std::string why;  // it can not be told
};

struct Fit {
  std::vector<Estimate> estimates;
  // Of each channel: root mean square of what is left, over what its noise leaves; 0: not recorded. About 1
  // where the plant explains the trace.
  std::array<double, Recording::channels> misfit{};
  unsigned steps = 0;
  unsigned runs = 0;  // of the plant

  // No channel is left unexplained by more than `worst_misfit` times its noise.
  [[nodiscard]] bool explained() const;
  static constexpr double worst_misfit = 1.5;
};

// base: everything that is not fitted, and where the search begins. rig: the trace is of the jack on its rig,
// else on its bed. progress: after each step, with the misfit of all channels.
Fit fit_jack(const Recording& recording, const Scenario& base, bool rig,
             const std::function<void(unsigned step, double misfit)>& progress = {});

}  // namespace strandproof::sim
