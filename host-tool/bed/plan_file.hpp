// The plan of a bed as a TOML file; the format is in host-tool/README.md. toml++ is seen in plan_file.cpp
// only.
#pragma once

#include <string>
#include <string_view>

#include "host-tool/bed/plan.hpp"

namespace strandproof::host::bed {

// Throws Problem (fault) with file:line:column, what is wrong and the remedy: not TOML, a key missing,
// unknown (with the nearest known) or of the wrong kind, a dimensioned value without a unit or with a wrong
// one, a value outside its range, no position or one twice.
Plan read_plan(std::string_view text, const std::string& name);

}  // namespace strandproof::host::bed
