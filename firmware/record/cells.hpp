// The cells: a few small values that are replaced as a whole. Each id has two pages of its own. A value is
// appended to the page in use; when that page is full, the other one is erased and takes over. At any power
// cut the value is the old one or the new one, never neither and never a mixture.
//
// The same journal serves the values that change rarely (tables, pairing) and those that change often (boot
// counter, clock): a page of 4 KiB takes some eighty values of 8 bytes between two erases.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "firmware/port/flash.hpp"
#include "firmware/record/entry.hpp"

namespace strandproof::record {

inline constexpr std::uint32_t cell_size_max = 1040;  // bytes of one value

enum class CellId : std::uint8_t {
  pairing = 0,
  table_slot_a = 1,
  table_slot_b = 2,
  active_table = 3,
  clock = 4,
  bed_marks = 5,
  boot_counter = 6,
  load_state = 7,
  table_floor = 8,  // kept apart from the tables (H21)
  table_marks = 9,
  table_keys = 10,
  table_pulls = 11,
  copy_names = 12,
  copy_marks = 13,
};
inline constexpr unsigned cell_count = 14;

class Cells {
 public:
  // Uses the pages [base, base + region_size(flash)) of flash.
  Cells(port::Flash& flash, std::uint32_t base) : flash_{flash}, base_{base} {}
  [[nodiscard]] static std::uint32_t region_size(const port::Flash& flash) {
    return 2U * cell_count * flash.page_size();
  }

  // Finds the newest value of every cell. False if the region does not fit the flash.
  [[nodiscard]] bool mount();
  // Bytes of the value now in `into`; 0 if the cell was never written, is longer than `into`, or no longer
  // reads back.
  [[nodiscard]] std::uint16_t read(CellId id, std::span<std::uint8_t> into) const;
  // True: the new value is durable and was read back. False: refused (empty or longer than cell_size_max)
  // or the flash failed; then the value is still the old one.
  // Erases a page by itself only if service() was not called since the last change of page.
  [[nodiscard]] bool write(CellId id, std::span<const std::uint8_t> value);
  // One step of housekeeping in idle: at most one erase. True if something was done: call again.
  [[nodiscard]] bool service();

 private:
  struct Place {
    std::uint8_t page = 1;         // 0 or 1: the page that holds the value
    bool has_value = false;        // false: never written
    bool other_ready = false;      // the other page is erased and marked
    std::uint32_t tail = 0;        // offset of the next entry in `page`; 0: no more room there
    std::uint32_t value = 0;       // address of the newest committed entry
    std::uint16_t length = 0;      // bytes of the value
    std::uint64_t generation = 0;  // the last number used
  };

  [[nodiscard]] std::uint32_t page_address(unsigned cell, unsigned page) const;
  [[nodiscard]] bool prepare_other(unsigned cell);
  void scan(unsigned cell, unsigned page);
  void settle(unsigned cell);

  port::Flash& flash_;
  std::uint32_t base_;
  bool mounted_ = false;
  std::array<Place, cell_count> places_{};
};

}  // namespace strandproof::record
