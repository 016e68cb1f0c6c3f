// One entry in flash: header, body, check, commit word. The log and the cells both write it, so there is
// one place where the order "body first, read back, commit last, read back" is kept.
//
//   0 sequence u64 | 8 tick u64 | 16 boot u32 | 20 length u16 | 22 kind u8 | 23 zero
//  24 body, filled with zeros to a multiple of 8
//   + CRC-32C u32 over everything before it | zero u32 | commit u64
// All little-endian. Everything is a multiple of 8 bytes, so words of 4 and of 8 bytes both fit.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

#include "firmware/port/flash.hpp"

namespace strandproof::record {

struct RecordHeader {
  std::uint64_t sequence = 0;  // from 1; rises strictly, with gaps after a cut; never used twice
  std::uint64_t tick = 0;      // ms since this boot
  std::uint32_t boot = 0;
  std::uint16_t length = 0;  // bytes of body
  std::uint8_t kind = 0;     // the log: a Priority; the cells: a CellId
};

inline constexpr std::uint32_t entry_align = 8;
inline constexpr std::uint32_t entry_header_size = 24;
inline constexpr std::uint32_t entry_trailer_size = 8;
// Bytes of every commit and mark word. None of their bytes is 0x00 or 0xFF, so that no half-programmed
// or erased word can pass for one unless every one of its bits has been written.
inline constexpr std::uint32_t mark_size = 8;
inline constexpr std::uint64_t commit_mark = 0x5A3C'9669'C3A5'7E18U;

constexpr std::uint32_t aligned(std::uint32_t bytes) {
  return (bytes + entry_align - 1U) / entry_align * entry_align;
}
constexpr std::uint32_t entry_size(std::uint32_t body) {
  return entry_header_size + aligned(body) + entry_trailer_size + mark_size;
}

// Programs an entry at address and reads all of it back. True: committed and durable. False: the flash
// failed or did not keep what it was given; the words there may not be programmed again before an erase.
[[nodiscard]] bool write_entry(port::Flash& flash, std::uint32_t address, const RecordHeader& header,
                               std::span<const std::uint8_t> body);

// True if a committed entry lies at address and ends at or before limit. Body bytes go into `into` as far
// as they fit; `into` may be empty. The CRC is checked over the whole body in any case.
[[nodiscard]] bool read_entry(const port::Flash& flash, std::uint32_t address, std::uint32_t limit,
                              RecordHeader& header, std::span<std::uint8_t> into);

// Mark words: one aligned 8-byte value, programmed once and read back.
[[nodiscard]] bool write_mark(port::Flash& flash, std::uint32_t address, std::uint64_t value);
[[nodiscard]] bool has_mark(const port::Flash& flash, std::uint32_t address, std::uint64_t value);

// Address behind the last byte in [from, to) that is not 0xFF; from if there is none.
[[nodiscard]] std::uint32_t end_of_written(const port::Flash& flash, std::uint32_t from, std::uint32_t to);

}  // namespace strandproof::record
