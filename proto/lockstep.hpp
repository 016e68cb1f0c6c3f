// The raw lock-step frames between a plant and a controller that runs elsewhere (SPEC.md, Lock-step). One
// request and one answer a tick; time is the tick number in the sample, never a clock of either side. The
// channel is a pair of pipes on one machine, so a damaged frame is a bug and ends the run: CRC-16/XMODEM
// tells it, nothing resynchronises.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "proto/little_endian.hpp"

namespace strandproof::proto::lockstep {

inline constexpr std::uint8_t kind_sample = 'S';  // plant -> controller, then sample_size bytes
inline constexpr std::uint8_t kind_link = 'L';    // plant -> controller, then u16 n and n bytes for its link
inline constexpr std::uint8_t kind_sent =
    'l';  // controller -> plant, answer to 'L': u16 n and n bytes of its link
inline constexpr std::uint8_t kind_quit = 'Q';  // plant -> controller, no more; no answer

inline constexpr std::size_t sample_size = 18;
inline constexpr std::size_t answer_size = 8;
inline constexpr std::size_t link_bytes_max = 1024;  // in one 'L' or 'l'

struct Sample {
  std::uint32_t tick = 0;
  std::array<std::uint16_t, 5> analog{};  // pressure A, pressure B, stroke, load cell, oil temperature
  std::uint16_t digital = 0;
  friend bool operator==(const Sample&, const Sample&) = default;
};

struct Answer {
  std::uint16_t tick = 0;  // low bits of the sample's
  std::uint8_t outputs = 0, state = 0, cause = 0, load_state = 0;
  friend bool operator==(const Answer&, const Answer&) = default;
};

// CRC-16/XMODEM: polynomial 1021, init 0, not reflected; check value 31C3.
[[nodiscard]] constexpr std::uint16_t crc16(std::span<const std::uint8_t> bytes) {
  std::uint32_t c = 0;
  for (const std::uint8_t b : bytes) {
    c ^= static_cast<std::uint32_t>(b) << 8U;
    for (int bit = 0; bit < 8; ++bit) {
      c = ((c << 1U) ^ ((c & 0x8000U) != 0 ? 0x1021U : 0U)) & 0xFFFFU;
    }
  }
  return static_cast<std::uint16_t>(c);
}

constexpr void encode(const Sample& s, std::span<std::uint8_t, sample_size> into) {
  put_u32(s.tick, into.data());
  for (std::size_t i = 0; i < s.analog.size(); ++i) {
    put_u16(s.analog[i], into.data() + 4 + 2 * i);
  }
  put_u16(s.digital, into.data() + 14);
  put_u16(crc16(into.first(16)), into.data() + 16);
}

// False: damaged.
[[nodiscard]] constexpr bool decode(std::span<const std::uint8_t, sample_size> from, Sample& s) {
  s.tick = get_u32(from.data());
  for (std::size_t i = 0; i < s.analog.size(); ++i) {
    s.analog[i] = get_u16(from.data() + 4 + 2 * i);
  }
  s.digital = get_u16(from.data() + 14);
  return crc16(from.first(16)) == get_u16(from.data() + 16);
}

constexpr void encode(const Answer& a, std::span<std::uint8_t, answer_size> into) {
  put_u16(a.tick, into.data());
  into[2] = a.outputs;
  into[3] = a.state;
  into[4] = a.cause;
  into[5] = a.load_state;
  put_u16(crc16(into.first(6)), into.data() + 6);
}

// False: damaged.
[[nodiscard]] constexpr bool decode(std::span<const std::uint8_t, answer_size> from, Answer& a) {
  a = {.tick = get_u16(from.data()),
       .outputs = from[2],
       .state = from[3],
       .cause = from[4],
       .load_state = from[5]};
  return crc16(from.first(6)) == get_u16(from.data() + 6);
}

}  // namespace strandproof::proto::lockstep
