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
inline constexpr std::uint64_t ready_mark = 0x3C5A'6996'A5C3'187EU;  // first in every erased page

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

// The first committed entry at or after address, in steps of entry_align; address becomes its place. Steps
// over whatever a cut or damage has left, so one bad entry does not hide those behind it.
[[nodiscard]] bool find_entry(const port::Flash& flash, std::uint32_t& address, std::uint32_t limit,
                              RecordHeader& header, std::span<std::uint8_t> into);

// Programs the commit word of a committed entry once more, with the value that it has. A cut in the middle of
// a commit may leave a word that reads well now and not later; after this it is as firm as any other.
[[nodiscard]] bool confirm_entry(port::Flash& flash, std::uint32_t address, std::uint16_t length);

// For the place where a cut may have torn an entry: if it had come as far as its commit word, that word is
// made all zero, so that an entry that is not there now is never there later.
void void_entry(port::Flash& flash, std::uint32_t address, std::uint32_t limit);

// Mark words: one aligned 8-byte value, read back.
[[nodiscard]] bool write_mark(port::Flash& flash, std::uint32_t address, std::uint64_t value);
[[nodiscard]] bool has_mark(const port::Flash& flash, std::uint32_t address, std::uint64_t value);

// Erases a page, checks that it is erased and puts ready_mark into its first word: only a page that bears the
// mark is written to. False: the flash failed; the page is not ready.
[[nodiscard]] bool make_ready(port::Flash& flash, std::uint32_t page_address);
[[nodiscard]] bool is_erased(const port::Flash& flash, std::uint32_t from, std::uint32_t to);
// An address behind all that is written in [from, to), at most 64 bytes behind; from if nothing is. What can
// not be read counts as written.
[[nodiscard]] std::uint32_t end_of_written(const port::Flash& flash, std::uint32_t from, std::uint32_t to);

}  // namespace strandproof::record
