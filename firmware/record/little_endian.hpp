// Numbers in flash are little-endian byte by byte, so that an image means the same on every machine.
#pragma once

#include <cstddef>
#include <cstdint>

namespace strandproof::record {

template <class Unsigned>
constexpr void put(std::uint8_t* at, Unsigned value) {
  for (std::size_t i = 0; i < sizeof(Unsigned); ++i) {
    at[i] = static_cast<std::uint8_t>(value >> (8U * i));
  }
}

template <class Unsigned>
[[nodiscard]] constexpr Unsigned get(const std::uint8_t* at) {
  Unsigned value = 0;
  for (std::size_t i = 0; i < sizeof(Unsigned); ++i) {
    value = static_cast<Unsigned>(value | static_cast<Unsigned>(static_cast<Unsigned>(at[i]) << (8U * i)));
  }
  return value;
}

}  // namespace strandproof::record
