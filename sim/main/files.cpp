#include "sim/main/files.hpp"

#include <fstream>
#include <stdexcept>

namespace strandproof::sim {

void write_file(const std::string& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary);
  file << text;
  file.close();
  if (!file) {
    throw std::runtime_error(
        path + ": can not be written; make room, or name a file in a folder that you may write");
  }
}

}  // namespace strandproof::sim
