// libs: sim_scenario
// Any bytes as a scenario: either read, with every value inside its bounds, or refused with one line that
// names the file. Nothing else may come out, and nothing may crash.
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "sim/bench/keys.hpp"
#include "sim/bench/scenario.hpp"

namespace {

void demand(bool held) {
  if (!held) {
    std::abort();
  }
}

void inside_bounds(strandproof::sim::Scenario& scenario) {
  for (const strandproof::sim::Key& key : strandproof::sim::scenario_keys()) {
    if (key.value != nullptr) {
      demand(key.value(scenario) >= key.low && key.value(scenario) <= key.high);
    } else {
      demand(!key.text(scenario).empty() && key.text(scenario).size() <= 23);
    }
  }
  for (const strandproof::sim::fault::Fault& fault : scenario.faults) {
    demand(fault.row != nullptr && fault.trigger.at == fault.trigger.at);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  try {
    strandproof::sim::Scenario scenario = strandproof::sim::parse_scenario(text, "fuzz.toml");
    inside_bounds(scenario);
  } catch (const strandproof::sim::ScenarioError& error) {
    const std::string_view what = error.what();
    demand(what.starts_with("fuzz.toml:"));
    demand(what.find('\n') == std::string_view::npos);
  }
  return 0;
}
