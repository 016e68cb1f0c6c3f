// What the TOML parser must not see. It stops the whole program on some malformed input instead of refusing
// it (found by fuzzing; kept in tests/fuzz/corpus/scenario_fuzz). What leads there is refused first, none of
// it of use in a scenario or a campaign: control characters, letters outside ASCII except in remarks,
// multi-line strings, braces, and table names that do not begin with a letter.
#pragma once

#include <string>
#include <string_view>

namespace strandproof::sim {

// Throws ScenarioError: name:line:column, what and remedy.
void precheck_toml(std::string_view text, const std::string& name);

// A line stays a line, whatever the text that a message quotes.
std::string one_line(std::string text);

}  // namespace strandproof::sim
