// Integers as bytes, lowest first, whatever the machine.
#pragma once

#include <cstdint>

namespace strandproof::proto {

constexpr void put_u16(std::uint16_t v, std::uint8_t* to) {
  to[0] = static_cast<std::uint8_t>(v);
  to[1] = static_cast<std::uint8_t>(v >> 8U);
}
constexpr void put_u32(std::uint32_t v, std::uint8_t* to) {
  for (unsigned i = 0; i < 4; ++i) {
    to[i] = static_cast<std::uint8_t>(v >> (8U * i));
  }
}
constexpr void put_u64(std::uint64_t v, std::uint8_t* to) {
  put_u32(static_cast<std::uint32_t>(v), to);
  put_u32(static_cast<std::uint32_t>(v >> 32U), to + 4);
}
[[nodiscard]] constexpr std::uint16_t get_u16(const std::uint8_t* from) {
  return static_cast<std::uint16_t>(from[0] | (from[1] << 8U));
}
[[nodiscard]] constexpr std::uint32_t get_u32(const std::uint8_t* from) {
  return static_cast<std::uint32_t>(get_u16(from)) | (static_cast<std::uint32_t>(get_u16(from + 2)) << 16U);
}
[[nodiscard]] constexpr std::uint64_t get_u64(const std::uint8_t* from) {
  return get_u32(from) | (static_cast<std::uint64_t>(get_u32(from + 4)) << 32U);
}

}  // namespace strandproof::proto
