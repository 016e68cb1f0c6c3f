// Files that a command makes.
#pragma once

#include <string>

namespace strandproof::sim {

// Over what is there. Throws std::runtime_error naming the file and the remedy.
void write_file(const std::string& path, const std::string& text);

}  // namespace strandproof::sim
