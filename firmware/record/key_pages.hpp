// Where the secret of the present epoch lies: two pages of its own. A new value is appended; then the old one
// is programmed to zeros, which NOR flash allows without an erase. At any power cut the value is the old one
// or the new one; once mount() or store() has returned true, no older one can be read from these pages.
#pragma once

#include <cstdint>

#include "firmware/port/flash.hpp"
#include "firmware/record/chain.hpp"

namespace strandproof::record {

// Bytes of an entry.
struct EpochKey {
  std::uint32_t epoch = 0;
  std::uint32_t has_coming = 0;  // 1: a pairing has given the secret of the next epoch
  Secret secret{};
  std::uint64_t coming_host = 0;
  Secret coming{};
  friend bool operator==(const EpochKey&, const EpochKey&) = default;
};
static_assert(sizeof(EpochKey) == 80);

class KeyPages {
 public:
  KeyPages(port::Flash& flash, std::uint32_t base) : flash_{flash}, base_{base} {}
  [[nodiscard]] static std::uint32_t region_size(const port::Flash& flash) { return 2U * flash.page_size(); }

  // False: no value was ever stored, or none can be read.
  [[nodiscard]] bool mount(EpochKey& into);
  // False: the flash failed; the value is still the old one. May erase a page: call it only while nothing
  // moves.
  [[nodiscard]] bool store(const EpochKey& key);

 private:
  [[nodiscard]] std::uint32_t page_address(unsigned page) const { return base_ + page * flash_.page_size(); }
  void find_newest(unsigned page, EpochKey& into);
  [[nodiscard]] bool open_other_page();
  enum class Wipe : std::uint8_t { everything, what_holds_anything };
  void wipe(std::uint32_t from, std::uint32_t to, Wipe what);
  void wipe_all_but_newest();

  port::Flash& flash_;
  std::uint32_t base_;
  unsigned page_ = 1;             // the one that is written to
  std::uint32_t tail_ = 0;        // address of the next entry; 0: no more room in page_
  std::uint32_t newest_ = 0;      // address of the value; 0: none
  std::uint64_t generation_ = 0;  // of the value
};

}  // namespace strandproof::record
