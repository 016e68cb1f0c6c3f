// The smallest pull that still ends as a pull of a campaign did: fewer faults, and of what was drawn only
// what matters.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/campaign/campaign.hpp"
#include "sim/campaign/engine.hpp"
#include "sim/campaign/outcome.hpp"

namespace strandproof::sim {

// What a drawn pull has beside the base scenario: "fault strand-break", "operator", "valves.delay".
std::vector<std::string> drawn_parts(const Campaign& campaign, const Scenario& scenario);

// The part with its value, for people: "valves.delay = 0.0383 s", "fault strand-break at 78 kN".
std::string part_text(const Scenario& scenario, const std::string& part);

// Takes one of them out, or sets it back to the base. Throws ScenarioError if the pull has no such part.
void drop_part(const Campaign& campaign, Scenario& scenario, std::string_view part);

// Two pulls end alike: the same end, first cause, breach and verdict.
bool end_alike(const Outcome& a, const Outcome& b);

struct Shrunk {
  Outcome outcome;
  std::vector<std::string> kept;     // parts that matter
  std::vector<std::string> dropped;  // parts that do not
  unsigned runs = 0;                 // pulls that it took
};

// Takes out one part after the other and keeps the change if the pull still ends alike; over again until
// nothing more can go. Each is tried by itself, so no single part can be spared of what is left; a smaller
// set without two of them together may exist. tell: news for a person, one line each.
Shrunk shrink(const Campaign& campaign, std::uint32_t pull, const OnePull& one,
              const std::function<void(const std::string&)>& tell = {});

}  // namespace strandproof::sim
