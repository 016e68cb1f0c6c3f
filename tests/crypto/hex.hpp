// Published vectors are written as they are printed: in hexadecimal.
#pragma once

#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace strandproof::test {

inline std::uint8_t nibble(char c) {
  if (c >= '0' && c <= '9') {
    return static_cast<std::uint8_t>(c - '0');
  }
  if (c >= 'a' && c <= 'f') {
    return static_cast<std::uint8_t>(c - 'a' + 10);
  }
  throw std::invalid_argument("not a lower-case hexadecimal digit: " + std::string(1, c));
}

// Spaces are skipped, so that long vectors can be wrapped.
inline std::vector<std::uint8_t> bytes(std::string_view hex) {
  std::string digits;
  for (const char c : hex) {
    if (c != ' ') {
      digits += c;
    }
  }
  if (digits.size() % 2 != 0) {
    throw std::invalid_argument("odd number of hexadecimal digits");
  }
  std::vector<std::uint8_t> out;
  for (std::size_t i = 0; i < digits.size(); i += 2) {
    out.push_back(static_cast<std::uint8_t>(nibble(digits[i]) << 4 | nibble(digits[i + 1])));
  }
  return out;
}

inline std::vector<std::uint8_t> text(std::string_view s) {
  return {s.begin(), s.end()};
}

}  // namespace strandproof::test
