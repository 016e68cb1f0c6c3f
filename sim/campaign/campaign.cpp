#include "sim/campaign/campaign.hpp"

#include <algorithm>

#include "sim/bench/fnv.hpp"
#include "sim/board/noise.hpp"
#include "sim/fault/nearest.hpp"

namespace strandproof::sim {
namespace {

// The stream of draws that belongs to a name. The board's noise uses seeds of its own (noise_seed).
std::uint32_t stream_of(std::string_view name) {
  const std::uint64_t hash = fnv(fnv_start, name);
  return static_cast<std::uint32_t>(hash ^ (hash >> 32U));
}

double draw(const Campaign& c, std::uint32_t pull, std::string_view name, unsigned which = 0) {
  return Noise(c.seed).uniform(pull, stream_of(name))[which];
}

// SplitMix64's finaliser: neighbours in (seed, pull) get seeds that have nothing in common.
std::uint64_t noise_seed(const Campaign& c, std::uint32_t pull) {
  std::uint64_t z = c.seed * 0x9E3779B97F4A7C15ULL + pull + 1;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
  return (z ^ (z >> 31U)) >> 1U;  // a scenario's file holds 63 bits
}

// Bounds of the key hold for a normal's tails too; counts are whole.
void put(Scenario& s, const Key& key, double value) {
  const double whole =
      key.kind == KeyKind::count ? static_cast<double>(static_cast<std::int64_t>(value + 0.5)) : value;
  put_number(s, key, std::clamp(whole, key.low, key.high));
}

void draw_fault(const Campaign& c, std::uint32_t pull, std::size_t i, Scenario& s) {
  const FaultDraw& f = c.faults[i];
  const std::string name = "fault." + std::to_string(i);
  if (draw(c, pull, name, 0) >= f.share) {
    return;
  }
  const auto kinds = static_cast<double>(f.kinds.size());
  fault::Fault made;
  made.row = f.kinds[std::min(f.kinds.size() - 1, static_cast<std::size_t>(draw(c, pull, name, 1) * kinds))];
  made.trigger = {f.by, f.at.at(draw(c, pull, name, 2))};
  if (!f.lasts.empty()) {
    made.lasts = f.lasts.front().at(draw(c, pull, name, 3));
  }
  if (!f.from_live_end.empty()) {
    made.from_live_end = f.from_live_end.front().at(draw(c, pull, name + ".from_live_end"));
  }
  if (!f.size.empty()) {
    made.size = f.size.front().at(draw(c, pull, name + ".size"));
  }
  s.faults.push_back(made);
}

void draw_way(const Campaign& c, std::uint32_t pull, Scenario& s) {
  double u = draw(c, pull, "operator");
  for (const WayOfWorking& way : c.ways) {
    if (u < way.share) {
      s.operator_lines = way.lines;
      return;
    }
    u -= way.share;
  }
}

}  // namespace

std::uint32_t Campaign::cells() const {
  std::size_t n = 1;
  for (const Sweep& sweep : sweeps) {
    n *= sweep.steps.size();
  }
  return static_cast<std::uint32_t>(n);
}

std::vector<double> cell_values(const Campaign& c, std::uint32_t pull) {
  std::vector<double> values;
  std::size_t cell = pull % c.cells();
  for (const Sweep& sweep : c.sweeps) {
    values.push_back(sweep.steps[cell % sweep.steps.size()]);
    cell /= sweep.steps.size();
  }
  return values;
}

Scenario drawn(const Campaign& c, std::uint32_t pull) {
  Scenario s = c.base;
  s.seed = noise_seed(c, pull);
  for (const Vary& v : c.vary) {
    put(s, *v.key, v.from.at(draw(c, pull, v.key->name)));
  }
  const auto values = cell_values(c, pull);
  for (std::size_t i = 0; i < values.size(); ++i) {
    put(s, *c.sweeps[i].key, values[i]);
  }
  for (std::size_t i = 0; i < c.faults.size(); ++i) {
    draw_fault(c, pull, i, s);
  }
  draw_way(c, pull, s);
  return s;
}

void add_sweep(Campaign& c, std::string_view assignment) {
  const auto fail = [&](const std::string& what) {
    return ScenarioError("--sweep " + std::string(assignment) + ": " + what);
  };
  const auto equals = assignment.find('=');
  if (equals == std::string_view::npos) {
    throw fail("no '='; write --sweep \"key=A to B in N\"");
  }
  const std::string name(assignment.substr(0, equals));
  const Key* key = find_key(name);
  if (key == nullptr || key->kind == KeyKind::text) {
    throw fail("\"" + name + "\" is no key with a number; did you mean \"" +
               std::string(nearest(name, key_names())) + "\"?");
  }
  if (c.sweeps.size() == 2) {
    throw fail("two keys are swept already; take one of them out");
  }
  try {
    const auto read = [&](std::string_view text) {
      return key->kind == KeyKind::quantity ? parse_quantity(text, key->dimension) : parse_number(text);
    };
    c.sweeps.push_back({key, parse_steps(assignment.substr(equals + 1), read)});
  } catch (const UnitError& error) {
    throw fail(error.what());
  }
  Scenario probe;
  try {
    put_number(probe, *key, c.sweeps.back().steps.front());
    put_number(probe, *key, c.sweeps.back().steps.back());
  } catch (const UnitError& error) {
    throw fail(error.what());
  }
  c.digest = fnv(c.digest, assignment);
}

void set_size(Campaign& c, std::uint32_t pulls, std::uint64_t seed) {
  c.pulls = pulls;
  c.seed = seed;
  c.digest = fnv(c.digest, std::to_string(pulls) + " " + std::to_string(seed));
}

}  // namespace strandproof::sim
