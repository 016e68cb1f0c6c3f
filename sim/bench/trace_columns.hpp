// What a trace holds of each tick: one table for every format.
#pragma once

#include <span>
#include <string_view>

#include "sim/bench/bench.hpp"

namespace strandproof::sim {

// One of `real` and `whole` is set.
struct TraceColumn {
  std::string_view name;  // the unit last; a signal that has none of SI says what it is
  std::string_view unit;
  std::string_view meaning;
  double (*real)(const Moment&);
  unsigned (*whole)(const Moment&);
  unsigned bits;                            // of a whole number
  std::span<const std::string_view> names;  // of its bits, lowest first; empty: it is a number
};

// Without the time, which is the tick.
std::span<const TraceColumn> trace_columns();

}  // namespace strandproof::sim
