// The bytes in which a board keeps its Device: written once at commissioning (on the emulated board by
// whoever starts the emulator), read at each boot. Little-endian; a CRC-32C over the block follows it,
// computed by the callers with proto/crc32c.hpp. Where a record came from is not in the block: each
// board says that of itself, so that no memory content makes an emulator call itself hardware.
#pragma once

#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <span>

#include "firmware/port/device.hpp"

namespace strandproof::port {

inline constexpr std::size_t device_block_bytes = 76;
using DeviceBlock = std::array<std::uint8_t, device_block_bytes>;

static_assert(sizeof(Device) == 76, "a new field of Device needs its place in the walk below");

namespace device_block_detail {

inline constexpr std::uint32_t magic_and_version = 0x01564453;  // "SDV", version 1

// One walk over the fields serves both directions, so that they can not drift apart.
template <class Device, class Word>
constexpr void walk(Device& d, Word&& word) {
  word(d.jack_serial);
  word(d.sensor_a_serial);
  word(d.sensor_b_serial);
  word(d.stroke_sensor_serial);
  word(d.pressure_span);
  word(d.stroke_span);
  word(d.stroke_usable);
  word(d.load_cell_span);
  word(d.pressure_rig_rating);
  word(d.pressure_limit);
}

constexpr std::uint32_t to_word(std::uint32_t v) {
  return v;
}
template <class Tag>
constexpr std::uint32_t to_word(units::Quantity<Tag> q) {
  return std::bit_cast<std::uint32_t>(q.si());
}
constexpr void from_word(std::uint32_t w, std::uint32_t& v) {
  v = w;
}
template <class Tag>
constexpr void from_word(std::uint32_t w, units::Quantity<Tag>& q) {
  q = units::Quantity<Tag>::from_si(std::bit_cast<float>(w));
}

}  // namespace device_block_detail

[[nodiscard]] constexpr DeviceBlock encode_device(const Device& device) {
  namespace detail = device_block_detail;
  DeviceBlock block{};
  std::size_t at = 0;
  const auto put = [&](auto field) {
    const std::uint32_t w = detail::to_word(field);
    for (unsigned i = 0; i < 4; ++i) {
      block[at++] = static_cast<std::uint8_t>(w >> (8U * i));
    }
  };
  put(detail::magic_and_version);
  detail::walk(device, put);
  for (const std::uint8_t b : device.secret) {
    block[at++] = b;
  }
  return block;
}

// False, and device untouched, if the bytes are not a block of this version.
[[nodiscard]] constexpr bool decode_device(std::span<const std::uint8_t, device_block_bytes> block,
                                           Device& device) {
  namespace detail = device_block_detail;
  std::size_t at = 0;
  const auto get = [&](auto& field) {
    std::uint32_t w = 0;
    for (unsigned i = 0; i < 4; ++i) {
      w |= std::uint32_t{block[at++]} << (8U * i);
    }
    detail::from_word(w, field);
  };
  std::uint32_t head = 0;
  get(head);
  if (head != detail::magic_and_version) {
    return false;
  }
  detail::walk(device, get);
  for (std::uint8_t& b : device.secret) {
    b = block[at++];
  }
  return true;
}

}  // namespace strandproof::port
