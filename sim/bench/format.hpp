// A text after a pattern of printf, which the compiler checks; and the fields of a line of CSV.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace strandproof::sim {

// Whatever its length. Decimals with '.', for no program here sets a locale.
__attribute__((format(printf, 1, 2))) std::string format(const char* pattern, ...);

// Between its commas; nothing of ours has quotes.
std::vector<std::string_view> split(std::string_view line);

}  // namespace strandproof::sim
