// libs: host_bed
// Any bytes as a bed plan: read, and then worked out for each position, or refused with one line that names
// the file. Nothing else may come out, and nothing may crash.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "host-tool/base/problem.hpp"
#include "host-tool/bed/plan_file.hpp"

namespace bed = strandproof::host::bed;

namespace {

void demand(bool held) {
  if (!held) std::abort();
}

void work_out_all(const bed::Plan& plan) {
  for (const auto& position : plan.positions) {
    const bed::Pull pull = bed::work_out(plan, position, 0.01);
    demand(std::isfinite(pull.jack_n) && std::isfinite(pull.net_m) && std::isfinite(pull.limit_n));
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text{reinterpret_cast<const char*>(data), size};
  try {
    const bed::Plan plan = bed::read_plan(text, "plan.toml");
    demand(!plan.positions.empty());
    work_out_all(plan);
  } catch (const strandproof::host::Problem& p) {
    const std::string_view line = p.what();
    demand(line.starts_with("plan.toml:"));
    demand(line.find('\n') == line.npos && line.size() <= 400);
  }
  return 0;
}
