// CRC-32C (Castagnoli, polynomial 1EDC6F41, reflected, init and final xor FFFFFFFF; RFC 3720 12.1): Hamming
// distance 6 up to 655 data bytes.
#pragma once

#if defined(__SSE4_2__) && defined(__x86_64__)
#include <nmmintrin.h>
#endif

#include <array>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>
#include <type_traits>

#include "proto/little_endian.hpp"

namespace strandproof::proto {

namespace detail {
// [n][b]: what byte b does to the sum when n more bytes follow it. Four are looked up at once: one by one
// each look-up would wait for the one before.
using Crc32cTables = std::array<std::array<std::uint32_t, 256>, 4>;
constexpr Crc32cTables crc32c_tables() {
  Crc32cTables t{};
  for (std::uint32_t i = 0; i < 256; ++i) {
    std::uint32_t c = i;
    for (int bit = 0; bit < 8; ++bit) {
      c = (c >> 1U) ^ ((c & 1U) != 0 ? 0x82F63B78U : 0U);
    }
    t[0][i] = c;
  }
  for (unsigned n = 1; n < t.size(); ++n) {
    for (unsigned i = 0; i < 256; ++i) {
      t[n][i] = (t[n - 1][i] >> 8U) ^ t[0][t[n - 1][i] & 0xFFU];
    }
  }
  return t;
}
inline constexpr Crc32cTables crc32c_table = crc32c_tables();

#if defined(__SSE4_2__) && defined(__x86_64__)
// The same by the processor's own instruction, where the compiler may use it (sim/campaign-build.sh).
[[nodiscard]] inline std::uint32_t crc32c_by_instruction(std::span<const std::uint8_t> bytes,
                                                         std::uint32_t so_far) {
  std::uint64_t c = ~so_far;
  std::size_t at = 0;
  for (; at + 8 <= bytes.size(); at += 8) {
    std::uint64_t word = 0;
    std::memcpy(&word, bytes.data() + at, sizeof word);
    c = _mm_crc32_u64(c, word);
  }
  auto left = static_cast<std::uint32_t>(c);
  for (; at < bytes.size(); ++at) {
    left = _mm_crc32_u8(left, bytes[at]);
  }
  return ~left;
}
#endif
}  // namespace detail

// Fed in pieces: pass the value of the piece before as `so_far`.
[[nodiscard]] constexpr std::uint32_t crc32c(std::span<const std::uint8_t> bytes, std::uint32_t so_far = 0) {
#if defined(__SSE4_2__) && defined(__x86_64__)
  if (!std::is_constant_evaluated()) {
    return detail::crc32c_by_instruction(bytes, so_far);
  }
#endif
  const auto& t = detail::crc32c_table;
  std::uint32_t c = ~so_far;
  std::size_t at = 0;
  for (; at + 4 <= bytes.size(); at += 4) {
    c ^= get_u32(bytes.data() + at);
    c = t[3][c & 0xFFU] ^ t[2][(c >> 8U) & 0xFFU] ^ t[1][(c >> 16U) & 0xFFU] ^ t[0][c >> 24U];
  }
  for (; at < bytes.size(); ++at) {
    c = (c >> 8U) ^ t[0][(c ^ bytes[at]) & 0xFFU];
  }
  return ~c;
}

}  // namespace strandproof::proto
