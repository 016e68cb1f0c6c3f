// The first half of the core: which one event a tick brings. What follows from it is in core.cpp.
#pragma once

#include "firmware/control/core.hpp"

namespace strandproof::control::core_event {

// Keys pressed in this tick and not in the one before.
struct Edges {
  bool select, confirm, reset;
};

[[nodiscard]] constexpr bool under_load(const CoreState& s) {
  return s.load == LoadState::on_jack || s.load == LoadState::not_known;
}
// What the cursor may stand on: the causes only ever take choices away.
[[nodiscard]] bool offered(const CoreState& s, Choice c);
// What stops the machine this tick, or none.
[[nodiscard]] Cause tripping(const CoreState& s, const Predicates& p);
// The first that applies, in the order of the enumeration.
[[nodiscard]] Event event_of(const CoreState& s, const Predicates& p, const CoreTiming& t, const Edges& e);

}  // namespace strandproof::control::core_event
