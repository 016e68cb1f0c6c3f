// A page of the log: its header, its marks and the list of retired pages that every header carries on. The
// bytes are in README.md.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/port/flash.hpp"
#include "firmware/record/entry.hpp"

namespace strandproof::record {

inline constexpr std::uint32_t ring_pages_max = 256;

// Pages that have refused, by their place in the ring. Nothing ever leaves the list.
class PageSet {
 public:
  static constexpr std::uint32_t size = ring_pages_max / 8;  // bytes

  void add(std::uint32_t page) { bits_[page / 8] = static_cast<std::uint8_t>(bits_[page / 8] | bit(page)); }
  [[nodiscard]] bool has(std::uint32_t page) const { return (bits_[page / 8] & bit(page)) != 0; }
  [[nodiscard]] std::uint32_t count() const;
  [[nodiscard]] std::array<std::uint8_t, size>& bytes() { return bits_; }
  [[nodiscard]] const std::array<std::uint8_t, size>& bytes() const { return bits_; }
  friend bool operator==(const PageSet&, const PageSet&) = default;

 private:
  [[nodiscard]] static unsigned bit(std::uint32_t page) { return 1U << (page % 8U); }

  std::array<std::uint8_t, size> bits_{};
};

struct PageHeader {
  std::uint64_t turn = 0;            // from 1: page number is (turn - 1) mod pages; 0: no header
  std::uint64_t first_sequence = 0;  // that this page may hold
  PageSet retired;                   // as known when the page was opened
};

inline constexpr std::uint64_t released_mark = 0x69A5'3C5A'7E18'96C3U;

namespace log_page {  // where things are: ready mark, header, open mark, released mark, entries
inline constexpr std::uint32_t header_size = 64;
inline constexpr std::uint32_t open_at = mark_size + header_size;
inline constexpr std::uint32_t released_at = open_at + mark_size;
inline constexpr std::uint32_t entries_at = released_at + mark_size;
static_assert(entries_at % entry_align == 0);
}  // namespace log_page

// The header of the open page at `address`; turn 0 if that is no open page of a log of this many pages. The
// ready mark has no part in it: a cut may have left that weak before the page was opened, and then it reads
// well now and not later.
[[nodiscard]] PageHeader read_page_header(const port::Flash& flash, std::uint32_t address,
                                          std::uint32_t pages);
// Header and open mark into an erased page, both read back. False: the page is not open.
[[nodiscard]] bool open_page(port::Flash& flash, std::uint32_t address, std::uint32_t pages,
                             const PageHeader& header);
// For a page that was open: as make_ready(), but the open mark is taken back first, so that a page whose
// erase was cut short is neither open nor ready. Not for a page that a cut has torn while it was opened: its
// mark may be weak, and half taken back it could be read as good once more and never be made firm.
[[nodiscard]] bool close_and_make_ready(port::Flash& flash, std::uint32_t address);

}  // namespace strandproof::record
