// FNV-1a, 64 bit: a fingerprint for "the same bytes", never for trust.
#pragma once

#include <cstdint>
#include <string_view>

namespace strandproof::sim {

inline constexpr std::uint64_t fnv_start = 0xCBF29CE484222325ULL;

// One step; the trace takes whole words.
constexpr std::uint64_t fnv(std::uint64_t hash, std::uint64_t word) {
  return (hash ^ word) * 0x100000001B3ULL;
}

constexpr std::uint64_t fnv(std::uint64_t hash, std::string_view text) {
  for (const char letter : text) {
    hash = fnv(hash, std::uint64_t{static_cast<unsigned char>(letter)});
  }
  return hash;
}

}  // namespace strandproof::sim
