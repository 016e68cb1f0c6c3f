// Reads proto/golden/*.txt: blocks of "key value" lines (SPEC.md, Golden files).
#pragma once

#include <cstdint>
#include <fstream>
#include <map>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace strandproof::proto {

using Block = std::map<std::string, std::string>;

inline std::vector<Block> golden(const std::string& name) {
  std::ifstream in{std::string{STRANDPROOF_TESTS_DIR} + "/../proto/golden/" + name};
  std::vector<Block> blocks;
  Block current;
  for (std::string line; std::getline(in, line);) {
    if (!line.empty() && line[0] != '#') {
      const std::size_t space = line.find(' ');
      current[line.substr(0, space)] = line.substr(space + 1);
    } else if (line.empty() && !current.empty()) {
      blocks.push_back(std::exchange(current, {}));
    }
  }
  if (blocks.empty()) {
    throw std::runtime_error{"proto/golden/" + name + " holds nothing"};
  }
  return blocks;
}

inline std::vector<std::uint8_t> raw(const std::string& hex) {
  std::vector<std::uint8_t> out;
  for (std::size_t i = 0; hex != "-" && i + 1 < hex.size(); i += 2) {
    out.push_back(static_cast<std::uint8_t>(std::stoul(hex.substr(i, 2), nullptr, 16)));
  }
  return out;
}

inline std::string raw_text(const std::string& hex) {
  const auto v = raw(hex);
  return {v.begin(), v.end()};
}

}  // namespace strandproof::proto
