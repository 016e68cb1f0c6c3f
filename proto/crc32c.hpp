// CRC-32C (Castagnoli, polynomial 1EDC6F41, reflected, init and final xor FFFFFFFF; RFC 3720 12.1): Hamming
// distance 6 up to 655 data bytes.
#pragma once

#include <array>
#include <cstdint>
#include <span>

namespace strandproof::proto {

namespace detail {
constexpr std::array<std::uint32_t, 256> crc32c_table() {
  std::array<std::uint32_t, 256> t{};
  for (std::uint32_t i = 0; i < 256; ++i) {
    std::uint32_t c = i;
    for (int bit = 0; bit < 8; ++bit) {
      c = (c >> 1U) ^ ((c & 1U) != 0 ? 0x82F63B78U : 0U);
    }
    t[i] = c;
  }
  return t;
}
inline constexpr auto crc32c_bytes = crc32c_table();
}  // namespace detail

// Fed in pieces: pass the value of the piece before as `so_far`.
[[nodiscard]] constexpr std::uint32_t crc32c(std::span<const std::uint8_t> bytes, std::uint32_t so_far = 0) {
  std::uint32_t c = ~so_far;
  for (const std::uint8_t b : bytes) {
    c = (c >> 8U) ^ detail::crc32c_bytes[(c ^ b) & 0xFFU];
  }
  return ~c;
}

}  // namespace strandproof::proto
