// The log: records in the order in which they were made, over a ring of flash pages. See README.md here
// for the bytes and for the numbered promises.
//
// No call blocks but for the flash itself. append() never erases; service() erases at most one page and
// is called in idle only. A store that is full or damaged answers with an error: holding, seating and
// lowering do not depend on it.
#pragma once

#include <cstdint>
#include <span>

#include "firmware/port/flash.hpp"
#include "firmware/record/entry.hpp"
#include "firmware/record/log_page.hpp"

namespace strandproof::record {

inline constexpr std::uint32_t record_body_max = 448;  // bytes
inline constexpr std::uint32_t record_size_max = entry_size(record_body_max);
// Sequences and turns end here: no flash lives to see it, but a log that does is full and wraps nothing.
inline constexpr std::uint64_t number_max = 1ULL << 63U;

enum class Error : std::uint8_t {
  none = 0,
  not_mounted = 1,  // mount() has not succeeded
  geometry = 2,     // the region does not fit the flash, or holds a log of another size
  too_long = 3,     // body longer than record_body_max, or the buffer shorter than the body
  full = 4,         // no erased page left for this priority: fetch and release records, then service()
  flash = 5,        // a program or read failed or did not read back; the record is not in the log, and the
                    // next one goes to another page
  absent = 6,       // no committed record of that sequence
};

// Routine records leave the reserve alone, so that a trip's records still find room in a full log.
enum class Priority : std::uint8_t { routine = 0, fault = 1 };

struct Region {
  std::uint32_t base = 0;           // address of the first page
  std::uint32_t size = 0;           // bytes: at least 4 pages more than reserve and spares, at most 256 pages
  std::uint32_t reserve_pages = 1;  // pages that only Priority::fault may open
  std::uint32_t spare_pages = 0;    // pages that may be retired before the log counts as worn out
};

struct Appended {
  std::uint64_t sequence = 0;  // valid if error is none: committed, read back, durable
  Error error = Error::not_mounted;
};

struct Fetched {
  std::uint16_t size = 0;  // bytes of body
  Error error = Error::not_mounted;
};

class Store {
 public:
  Store(port::Flash& flash, Region region) : flash_{flash}, region_{region} {}

  // Finds the newest record after a boot. Reads at most the region once. geometry or flash on failure.
  [[nodiscard]] Error mount();
  // full, too_long, flash or not_mounted on failure.
  [[nodiscard]] Appended append(std::span<const std::uint8_t> body, std::uint32_t boot, std::uint64_t tick,
                                Priority priority = Priority::routine);
  // absent, too_long or flash on failure. Reading in rising order is quick; see Cursor.
  [[nodiscard]] Fetched read(std::uint64_t sequence, RecordHeader& header, std::span<std::uint8_t> into);
  // As read(), for the first record at or after `sequence`: for walking across the gaps that cuts leave.
  [[nodiscard]] Fetched read_from(std::uint64_t sequence, RecordHeader& header, std::span<std::uint8_t> into);

  // Oldest and newest committed record still stored; 0 if there is none.
  [[nodiscard]] std::uint64_t first();
  [[nodiscard]] std::uint64_t last() const { return last_; }
  // The number that the next record will have.
  [[nodiscard]] std::uint64_t next_sequence() const { return next_; }

  // Longest routine records that fit without any service(): the lower bound to check before arming.
  [[nodiscard]] std::uint32_t free_records() const;
  // A routine record of the longest body would be refused.
  [[nodiscard]] bool full() const { return free_records() == 0; }
  // As free_records(), with the pages that service() can still make ready without any further release.
  [[nodiscard]] std::uint32_t room_records() const;

  // Pages that have refused and are passed over for good; what they hold stays readable until it is released.
  [[nodiscard]] std::uint32_t retired_pages() const { return retired_.count(); }
  [[nodiscard]] bool worn_out() const { return retired_pages() > region_.spare_pages; }
  // How often each page has been erased, but for a page that was retired before.
  [[nodiscard]] std::uint64_t erase_cycles() const { return mounted_ ? head_ / pages() : 0; }

  // The host holds every record up to this one. Pages wholly released may be erased when room is wanted.
  void release(std::uint64_t up_to);
  // One step of housekeeping, at most one erase. True if something was done: call again.
  // Only while nothing moves: an erase may block for tens of milliseconds.
  [[nodiscard]] bool service();

 private:
  struct Cursor {  // where the search for the record after this sequence may start
    std::uint64_t sequence = 0;
    std::uint64_t turn = 0;
    std::uint32_t offset = 0;
  };

  [[nodiscard]] std::uint32_t pages() const { return region_.size / flash_.page_size(); }
  [[nodiscard]] std::uint32_t page_of(std::uint64_t turn) const {
    return static_cast<std::uint32_t>((turn - 1) % pages());
  }
  [[nodiscard]] std::uint32_t page_address(std::uint64_t turn) const {
    return region_.base + page_of(turn) * flash_.page_size();
  }
  [[nodiscard]] std::uint32_t records_per_page() const {
    return (flash_.page_size() - log_page::entries_at) / record_size_max;
  }
  [[nodiscard]] bool geometry_is_good() const;
  [[nodiscard]] bool page_is_open(std::uint64_t turn, std::uint64_t& first_sequence) const;
  [[nodiscard]] bool page_is_ready(std::uint64_t turn) const;
  [[nodiscard]] bool page_is_released(std::uint64_t turn) const;
  [[nodiscard]] std::uint64_t next_good(std::uint64_t turn) const;
  [[nodiscard]] std::uint32_t records_in(std::uint32_t ready) const;
  [[nodiscard]] bool room_for(std::uint32_t size, Priority priority);
  [[nodiscard]] bool open_next_page();
  [[nodiscard]] bool prepare_page(std::uint64_t turn);
  [[nodiscard]] bool retire(std::uint64_t turn);
  [[nodiscard]] bool another_page_takes_a_mark(std::uint64_t refused);
  void leave_oldest();
  [[nodiscard]] bool mark_released_page();
  [[nodiscard]] bool next_entry(Cursor& at, RecordHeader& header, std::span<std::uint8_t> into) const;
  [[nodiscard]] Cursor start_for(std::uint64_t sequence) const;
  [[nodiscard]] std::uint64_t next_open_turn(std::uint64_t after) const;
  [[nodiscard]] Error find_head();
  void recover_tail();
  void find_last_before_head();
  void count_ready();

  port::Flash& flash_;
  Region region_;
  bool mounted_ = false;
  std::uint64_t head_ = 0;     // turn of the page being written; 0: none yet
  std::uint64_t oldest_ = 0;   // turn of the oldest open page; 0: none yet
  std::uint64_t to_mark_ = 1;  // oldest turn that may still want its released mark
  std::uint32_t tail_ = 0;     // offset in the head page of the next record
  std::uint32_t ready_ = 0;    // erased and marked pages that follow the head
  std::uint64_t ready_to_ =
      0;                    // turn of the last of them, or of the head; retired pages between do not count
  std::uint64_t next_ = 1;  // sequence of the next record
  std::uint64_t last_ = 0;  // newest committed record still stored
  std::uint64_t released_ = 0;  // the host holds everything up to here
  Cursor cursor_;
  PageSet retired_;
  bool list_is_new_ = false;  // no page that is open carries it yet
};

}  // namespace strandproof::record
