// A text after a pattern of printf, which the compiler checks.
#pragma once

#include <string>

namespace strandproof::sim {

// Whatever its length. Decimals with '.', for no program here sets a locale.
__attribute__((format(printf, 1, 2))) std::string format(const char* pattern, ...);

}  // namespace strandproof::sim
