// Consistent Overhead Byte Stuffing (Cheshire and Baker, 1999): any bytes become bytes without a zero, at
// most one more for each 254. The encoder writes the canonical form, without the trailing 01 after a
// final full block; the decoder accepts that form only, so that a message has exactly one encoding.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace strandproof::proto {

[[nodiscard]] constexpr std::size_t cobs_size_max(std::size_t n) {
  return n + n / 254 + 1;
}

// Bytes written; 0 if `into` is too short (at least cobs_size_max(in.size()) is always enough).
[[nodiscard]] constexpr std::size_t cobs_encode(std::span<const std::uint8_t> in,
                                                std::span<std::uint8_t> into) {
  if (into.empty()) {
    return 0;
  }
  std::size_t code_at = 0;
  std::size_t out = 1;
  std::uint8_t code = 1;
  for (std::size_t i = 0; i < in.size(); ++i) {
    if (in[i] != 0) {
      if (out >= into.size()) {
        return 0;
      }
      into[out++] = in[i];
      ++code;
    }
    const bool full = code == 0xFF;
    if (in[i] == 0 || full) {
      into[code_at] = code;
      code = 1;
      code_at = out;
      if (full && i + 1 == in.size()) {
        return out;  // a final full block needs no code of a next one
      }
      if (out >= into.size()) {
        return 0;
      }
      ++out;
    }
  }
  into[code_at] = code;
  return out;
}

struct CobsDecoded {
  std::size_t size = 0;
  bool good = false;
};

// In place is allowed: `into` may be the same memory as `in`, for the output never overtakes the input.
[[nodiscard]] constexpr CobsDecoded cobs_decode(std::span<const std::uint8_t> in,
                                                std::span<std::uint8_t> into) {
  std::size_t out = 0;
  std::size_t at = 0;
  while (at < in.size()) {
    const std::uint8_t code = in[at++];
    if (code == 0 || at + code - 1U > in.size() || out + code > into.size() + 1U) {
      return {};
    }
    for (std::uint8_t i = 1; i < code; ++i) {
      if (in[at] == 0) {
        return {};
      }
      into[out++] = in[at++];
    }
    const bool last = at == in.size();
    if (code != 0xFF && !last) {
      if (out >= into.size()) {
        return {};
      }
      into[out++] = 0;
    }
    if (code == 0xFF && at + 1 == in.size() && in[at] == 1) {
      return {};  // the trailing 01 that the canonical form leaves out
    }
  }
  return {.size = out, .good = !in.empty()};
}

}  // namespace strandproof::proto
