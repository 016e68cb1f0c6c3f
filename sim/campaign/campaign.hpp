// Many pulls that differ: a base scenario, what varies and how, faults with their share, ways of working with
// theirs, and one or two keys that are swept. Pull n is a function of (campaign, n) alone: every value has a
// counter-based draw of its own, named by its key, so that a line more in the file changes no other value.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "sim/bench/keys.hpp"
#include "sim/bench/scenario.hpp"
#include "sim/campaign/distribution.hpp"

namespace strandproof::sim {

struct Vary {
  const Key* key = nullptr;  // of a number
  Distribution from;
};

// With probability `share` a pull has one fault of these kinds, each equally likely.
struct FaultDraw {
  std::vector<const fault::Row*> kinds;
  double share = 1.0;
  fault::By by = fault::By::time;
  Distribution at;                          // in the unit of `by`
  std::vector<Distribution> lasts;          // none: for ever; else one
  std::vector<Distribution> from_live_end;  // none: the middle of the strand
  std::vector<Distribution> size;  // none: each kind's own; else one, in the unit that all kinds share
};

// With probability `share` (in the order of the file, of what the ones before left) the person does this
// instead of what the scenario says.
struct WayOfWorking {
  double share = 1.0;
  std::vector<std::string> lines;
};

struct Sweep {
  const Key* key = nullptr;
  std::vector<double> steps;
};

struct Campaign {
  std::string name = "campaign";
  std::uint64_t seed = 1;
  std::uint32_t pulls = 1000;
  bool calibrate_each = true;  // each jack on its own rig; else one table of the base scenario for all
  Scenario base;
  std::vector<Vary> vary;
  std::vector<FaultDraw> faults;
  std::vector<WayOfWorking> ways;
  std::vector<Sweep> sweeps;  // at most two; cell = pull mod cells, the first sweep fastest
  std::uint64_t digest =
      0;  // FNV-1a, 64 bit, of everything that was read: names results that belong together

  [[nodiscard]] std::uint32_t cells() const;
};

// Pull n, from 0, as a scenario. The same bytes for the same campaign, on every machine.
Scenario drawn(const Campaign& campaign, std::uint32_t pull);

// The values that drawn() put under swept keys, in the order of the sweeps.
std::vector<double> cell_values(const Campaign& campaign, std::uint32_t pull);

// Reads a campaign; name stands for the file in messages. A scenario that it names is looked for beside it.
// Throws ScenarioError: file:line:column, what and remedy.
Campaign parse_campaign(std::string_view text, const std::string& name);
Campaign read_campaign(const std::string& path);

// What the command line puts over the file. "instruction.jack_force=100 kN to 130 kN in 4". Throws
// ScenarioError.
void add_sweep(Campaign& campaign, std::string_view assignment);
void set_size(Campaign& campaign, std::uint32_t pulls, std::uint64_t seed);

}  // namespace strandproof::sim
