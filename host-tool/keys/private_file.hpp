// Files that hold a secret: readable by their owner alone, or refused.
#pragma once

#include <string>

namespace strandproof::host::keys {

// The whole file. missing: what to say, as a remedy, if there is none. Throws Problem (fault): absent, or its
// group or others have any right to it.
std::string read_private(const std::string& file, const std::string& missing);

std::string first_line(const std::string& text);

}  // namespace strandproof::host::keys
