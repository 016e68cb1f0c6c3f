// The raw lock-step frames between a plant and a controller that runs elsewhere (SPEC.md, Lock-step). One
// request and one answer a tick; time is the tick number in the sample, never a clock of either side. The
// channel is a pair of pipes on one machine, so a damaged frame is a bug and ends the run: CRC-16/XMODEM
// tells it, nothing resynchronises.
//
//   plant -> controller   'S' tick u32, pressure A, pressure B, stroke, load cell, oil temperature,
//                             digital: u16 each, CRC-16 of the 16 bytes before it      19 bytes
//                         'L' n u16, n bytes for the controller's link
//                         'Q' no more; not answered
//   controller -> plant   to 'S': low half of the tick u16, outputs, state, cause, load state: u8 each,
//                             CRC-16 of the 6 bytes before it                           8 bytes
//                         to 'L': 'l' n u16, n bytes of the controller's link
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "proto/little_endian.hpp"

namespace strandproof::proto::lockstep {

inline constexpr std::uint8_t kind_sample = 'S';
inline constexpr std::uint8_t kind_link = 'L';
inline constexpr std::uint8_t kind_sent = 'l';
inline constexpr std::uint8_t kind_quit = 'Q';

inline constexpr std::size_t sample_bytes = 19;    // with its kind
inline constexpr std::size_t answer_bytes = 8;     // without a kind: it answers nothing but a sample
inline constexpr std::size_t link_head_bytes = 3;  // kind and length

struct Sample {
  std::uint32_t tick = 0;
  std::uint16_t pressure_a = 0;  // counts, 0 to 65535 is 0 to 24 mA, as the others
  std::uint16_t pressure_b = 0;
  std::uint16_t stroke = 0;
  std::uint16_t load_cell = 0;
  std::uint16_t oil_temperature = 0;
  std::uint16_t digital = 0;  // bits of port::Input
  friend bool operator==(const Sample&, const Sample&) = default;
};

struct Answer {
  std::uint16_t tick = 0;    // low half of the sample's
  std::uint8_t outputs = 0;  // bits of port::Output
  std::uint8_t state = 0;    // numbers of catalogue.def
  std::uint8_t cause = 0;
  std::uint8_t load_state = 0;
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

[[nodiscard]] constexpr std::array<std::uint8_t, sample_bytes> encode_sample(const Sample& s) {
  std::array<std::uint8_t, sample_bytes> to{kind_sample};
  put_u32(s.tick, &to[1]);
  const std::uint16_t words[6] = {s.pressure_a, s.pressure_b,      s.stroke,
                                  s.load_cell,  s.oil_temperature, s.digital};
  for (std::size_t i = 0; i < 6; ++i) {
    put_u16(words[i], &to[5 + 2 * i]);
  }
  put_u16(crc16(std::span{to}.subspan(1, 16)), &to[17]);
  return to;
}

// False: damaged, or of another kind.
[[nodiscard]] constexpr bool decode_sample(std::span<const std::uint8_t, sample_bytes> from, Sample& s) {
  const std::uint8_t* word = from.data() + 5;
  s = {.tick = get_u32(from.data() + 1),
       .pressure_a = get_u16(word),
       .pressure_b = get_u16(word + 2),
       .stroke = get_u16(word + 4),
       .load_cell = get_u16(word + 6),
       .oil_temperature = get_u16(word + 8),
       .digital = get_u16(word + 10)};
  return from[0] == kind_sample && crc16(from.subspan(1, 16)) == get_u16(from.data() + 17);
}

[[nodiscard]] constexpr std::array<std::uint8_t, answer_bytes> encode_answer(const Answer& a) {
  std::array<std::uint8_t, answer_bytes> to{};
  put_u16(a.tick, to.data());
  to[2] = a.outputs;
  to[3] = a.state;
  to[4] = a.cause;
  to[5] = a.load_state;
  put_u16(crc16(std::span{to}.first(6)), &to[6]);
  return to;
}

// False: damaged.
[[nodiscard]] constexpr bool decode_answer(std::span<const std::uint8_t, answer_bytes> from, Answer& a) {
  a = {.tick = get_u16(from.data()),
       .outputs = from[2],
       .state = from[3],
       .cause = from[4],
       .load_state = from[5]};
  return crc16(from.first(6)) == get_u16(from.data() + 6);
}

}  // namespace strandproof::proto::lockstep
