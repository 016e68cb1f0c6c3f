// The log's bytes by README.md and apart from the firmware's code.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "proto/little_endian.hpp"

namespace strandproof::test {

// CRC-32C by its definition (polynomial 1EDC6F41, reflected; RFC 3720, section 12.1), bit by bit.
inline std::uint32_t crc_by_definition(std::span<const std::uint8_t> bytes) {
  std::uint32_t sum = 0xFFFFFFFF;
  for (const std::uint8_t byte : bytes) {
    sum ^= byte;
    for (int bit = 0; bit < 8; ++bit) {
      sum = (sum & 1U) != 0 ? (sum >> 1U) ^ 0x82F63B78U : sum >> 1U;
    }
  }
  return ~sum;
}

// What comes before the released mark in an open page of a ring of so many pages.
inline std::vector<std::uint8_t> open_page_bytes(std::uint32_t pages, std::uint64_t turn,
                                                 std::uint64_t first_sequence) {
  std::vector<std::uint8_t> page(80, 0);
  proto::put_u64(0x3C5A'6996'A5C3'187E, page.data());
  proto::put_u32(0x4D525053, &page[8]);
  proto::put_u32(pages, &page[12]);
  proto::put_u64(turn, &page[16]);
  proto::put_u64(first_sequence, &page[24]);
  proto::put_u32(crc_by_definition(std::span{page}.subspan(8, 56)), &page[64]);
  proto::put_u64(0x5A3C'9669'C3A5'7E18, &page[72]);
  return page;
}

}  // namespace strandproof::test
