// The accuracy gate: random pulls by the scheme as shipped and by CVODE, on peak, held and locked force.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tests/plant/drawn_pull.hpp"

namespace strandproof::plant {

// The drive of a script by CVODE: free from one change of what acts to the next, or stopped at each tick, as
// a controller would need it that may change its mind there.
enum class Stops { at_events, at_ticks };
Forces by_cvode(const Parameters& p, const Script& script, double tolerance, Stops stops);

// How far the scheme lies from CVODE over the pulls, relative to each pull's jack force.
struct Spread {
  double median = 0.0, p99 = 0.0, worst = 0.0;
  std::uint64_t worst_pull = 0;
};

struct GateResult {
  Spread peak, held, locked;
  std::vector<std::uint64_t> unfinished;  // pulls that did not reach their force or lost it
};

// Pull n is a function of (seed, n) alone.
GateResult run_gate(std::uint64_t seed, unsigned pulls, unsigned threads);
std::string text_of(const GateResult& result);

}  // namespace strandproof::plant
