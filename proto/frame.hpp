// The frame of the wire: 00 | COBS(header, payload) | CRC-32C of the COBS bytes in five bytes without a
// zero | 00. The CRC lies outside the stuffing, for inside it an error in a stuffing byte spreads and the
// Hamming distance is lost. See SPEC.md for every byte.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>

#include "proto/cobs.hpp"
#include "proto/crc32c.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::proto {

inline constexpr std::uint8_t frame_version = 1;
inline constexpr std::uint32_t protocol_major = 1;
inline constexpr std::uint32_t protocol_minor = 0;

inline constexpr std::size_t encoded_max = 512;  // COBS bytes; distance 6 holds to 655
inline constexpr std::size_t header_size = 16;
inline constexpr std::size_t crc_size = 5;
inline constexpr std::size_t payload_max = encoded_max - (encoded_max / 254 + 1) - header_size;  // 493
inline constexpr std::size_t frame_max = encoded_max + crc_size + 2;  // with both zeros

// Who sends what: SPEC.md, Types.
enum class FrameType : std::uint8_t {
  identify = 1,
  identity = 2,
  pair_request = 3,
  pair_reply = 4,
  sealed = 5,
  reply = 6,
  status_get = 7,
  status = 8,
  telemetry_set = 9,
  telemetry = 10,
  log_get = 11,
  log_record = 12,
  table_key_request = 13,
  table_key_reply = 14,
  tables_get = 15,
  tables = 16,
  table_read = 17,
  table_bytes = 18,
  // Bodies of a sealed message; never a frame of their own.
  clock_set = 32,
  table_begin = 33,
  table_chunk = 34,
  table_commit = 35,
  pull_instruction = 36,
  bed_entry = 37,
  record_release = 38,
  table_withdraw = 39,
  table_undo = 40,
};

struct FrameHeader {
  std::uint8_t version = frame_version;
  FrameType type = FrameType::identify;
  std::uint32_t device = 0;    // serial of the jack; 0 in an identify, when it is not known yet
  std::uint32_t session = 0;   // chosen by the jack at each identify; 0 before
  std::uint32_t sequence = 0;  // rises by one per frame and sender
};

struct Frame {
  FrameHeader header;
  std::span<const std::uint8_t> payload;
};

// Seven bits a byte, lowest first, each with bit 7 set; the last carries four bits only.
constexpr void put_crc(std::uint32_t crc, std::span<std::uint8_t, crc_size> into) {
  for (std::size_t i = 0; i < crc_size; ++i) {
    into[i] = static_cast<std::uint8_t>(0x80U | ((crc >> (7U * i)) & 0x7FU));
  }
}

[[nodiscard]] constexpr bool crc_matches(std::uint32_t crc, std::span<const std::uint8_t, crc_size> sent) {
  std::array<std::uint8_t, crc_size> wanted{};
  put_crc(crc, wanted);
  for (std::size_t i = 0; i < crc_size; ++i) {
    if (wanted[i] != sent[i]) {
      return false;
    }
  }
  return true;
}

// Writes the whole frame, both zeros included. 0 if the payload is longer than payload_max or the frame
// would not fit.
[[nodiscard]] inline std::size_t encode_frame(const FrameHeader& h, std::span<const std::uint8_t> payload,
                                              std::span<std::uint8_t> into) {
  if (payload.size() > payload_max || into.size() < frame_max) {
    return 0;
  }
  std::array<std::uint8_t, header_size + payload_max> plain{};
  plain[0] = h.version;
  plain[1] = static_cast<std::uint8_t>(h.type);
  put_u16(static_cast<std::uint16_t>(payload.size()), plain.data() + 2);
  put_u32(h.device, plain.data() + 4);
  put_u32(h.session, plain.data() + 8);
  put_u32(h.sequence, plain.data() + 12);
  if (!payload.empty()) {
    std::memcpy(plain.data() + header_size, payload.data(), payload.size());
  }
  into[0] = 0;
  const auto body = into.subspan(1, encoded_max);
  const std::size_t n = cobs_encode({plain.data(), header_size + payload.size()}, body);
  if (n == 0) {
    return 0;
  }
  put_crc(crc32c(body.first(n)), std::span<std::uint8_t, crc_size>{body.data() + n, crc_size});
  into[1 + n + crc_size] = 0;
  return n + crc_size + 2;
}

// Takes a stream apart, in the caller's buffer. Each byte costs bounded work; the one that ends a frame
// checks at most encoded_max bytes. After any damage it is in step again at the next zero.
class FrameDecoder {
 public:
  static constexpr std::size_t buffer_size = encoded_max + crc_size;

  // The buffer belongs to the decoder as long as it lives; so does every frame() payload.
  explicit FrameDecoder(std::span<std::uint8_t, buffer_size> buffer) : buffer_{buffer} {}

  struct Counters {
    std::uint32_t frames = 0;         // good ones
    std::uint32_t bad = 0;            // ended by a zero, but cut, damaged or not canonical
    std::uint32_t dropped_bytes = 0;  // bytes of bad frames and of what was too long to be one
  };

  // True when this byte completed a good frame; it is then in `frame()` until the next push.
  [[nodiscard]] bool push(std::uint8_t byte) {
    if (byte != 0) {
      collect(byte);
      return false;
    }
    const bool good = size_ > 0 && !overlong_ && take();
    if (!good && (size_ > 0 || overlong_)) {
      ++counters_.bad;
      counters_.dropped_bytes += static_cast<std::uint32_t>(size_);
    }
    counters_.frames += good ? 1 : 0;
    size_ = 0;
    overlong_ = false;
    return good;
  }
  [[nodiscard]] const Frame& frame() const { return frame_; }
  [[nodiscard]] const Counters& counters() const { return counters_; }
  // After the line was cut: what has come of a frame belongs to nothing.
  void forget() {
    size_ = 0;
    overlong_ = false;
  }

 private:
  void collect(std::uint8_t byte) {
    if (size_ == buffer_.size()) {  // too long: forget it, wait for the zero
      counters_.dropped_bytes += static_cast<std::uint32_t>(size_);
      size_ = 0;
      overlong_ = true;
    }
    if (overlong_) {
      ++counters_.dropped_bytes;
    } else {
      buffer_[size_++] = byte;
    }
  }

  [[nodiscard]] bool take() {
    if (size_ <= crc_size) {
      return false;
    }
    const std::size_t encoded = size_ - crc_size;
    const std::span<std::uint8_t> body{buffer_.data(), encoded};
    if (!crc_matches(crc32c(body),
                     std::span<const std::uint8_t, crc_size>{buffer_.data() + encoded, crc_size})) {
      return false;
    }
    const CobsDecoded plain = cobs_decode(body, buffer_);
    if (!plain.good || plain.size < header_size || buffer_[0] != frame_version ||
        get_u16(buffer_.data() + 2) != plain.size - header_size) {
      return false;
    }
    frame_.header = {.version = buffer_[0],
                     .type = static_cast<FrameType>(buffer_[1]),
                     .device = get_u32(buffer_.data() + 4),
                     .session = get_u32(buffer_.data() + 8),
                     .sequence = get_u32(buffer_.data() + 12)};
    frame_.payload = {buffer_.data() + header_size, plain.size - header_size};
    return true;
  }

  std::span<std::uint8_t, buffer_size> buffer_;
  std::size_t size_ = 0;
  bool overlong_ = false;
  Frame frame_;
  Counters counters_;
};

}  // namespace strandproof::proto
