#include <algorithm>
#include <array>

#include "firmware/record/store.hpp"

namespace strandproof::record {

namespace {
constexpr std::uint32_t fewest_pages = 4;  // the head, one to come, one being erased, the oldest
}

bool Store::geometry_is_good() const {
  const std::uint32_t page = flash_.page_size();
  return page >= log_page::entries_at + record_size_max && entry_align % flash_.word_size() == 0 &&
         region_.base % page == 0 && region_.size % page == 0 && region_.size <= flash_.size() &&
         region_.base <= flash_.size() - region_.size && pages() <= ring_pages_max &&
         pages() >= fewest_pages + region_.reserve_pages + region_.spare_pages;
}

Error Store::mount() {
  mounted_ = false;
  head_ = oldest_ = last_ = released_ = 0;
  to_mark_ = next_ = 1;
  ready_to_ = 0;
  tail_ = ready_ = 0;
  cursor_ = {};
  retired_ = {};
  list_is_new_ = false;
  if (!geometry_is_good()) {
    return Error::geometry;
  }
  if (const Error e = find_head(); e != Error::none) {
    return e;
  }
  if (head_ != 0) {
    recover_tail();
  }
  count_ready();
  mounted_ = true;
  return Error::none;
}

// The newest open page is the head; the oldest one lies less than a whole ring behind it.
Error Store::find_head() {
  for (std::uint32_t i = 0; i < pages(); ++i) {
    const std::uint32_t address = region_.base + i * flash_.page_size();
    std::array<std::uint8_t, mark_size> probe{};
    if (!flash_.read(address, probe)) {
      return Error::flash;  // an unread page could hold the newest numbers: do not go on without it
    }
    const PageHeader found = read_page_header(flash_, address, pages());
    if (found.turn != 0 && page_address(found.turn) != address) {
      return Error::geometry;
    }
    if (found.turn > head_) {
      head_ = found.turn;
      next_ = found.first_sequence;  // until recover_tail() has found a record
      retired_ = found.retired;
    }
  }
  oldest_ = head_ == 0 ? 0 : next_open_turn(head_ > pages() ? head_ - pages() : 0);
  to_mark_ = std::max<std::uint64_t>(oldest_, 1);
  return Error::none;
}

std::uint64_t Store::next_open_turn(std::uint64_t after) const {
  std::uint64_t ignored = 0;
  for (std::uint64_t turn = after + 1; turn < head_; ++turn) {
    if (page_is_open(turn, ignored)) {
      return turn;
    }
  }
  return head_;
}

// Walks the head page to its last committed record. What follows it must be untouched; if it is not, a cut
// has torn a record there: the page is closed and one number is left out, so that it can never be given
// twice.
void Store::recover_tail() {
  const std::uint32_t page = page_address(head_);
  const std::uint32_t end = page + flash_.page_size();
  // Firms up what a cut may have left weak. A flash that refuses is found out by the next append().
  (void)write_mark(flash_, page + log_page::open_at, commit_mark);
  Cursor at{.sequence = next_ - 1, .turn = head_, .offset = log_page::entries_at};
  RecordHeader header;
  RecordHeader found;
  while (next_entry(at, header, {})) {
    found = header;
  }
  tail_ = at.offset;
  if (found.sequence != 0) {
    last_ = found.sequence;
    next_ = last_ + 1;
    (void)confirm_entry(flash_, page + tail_ - entry_size(found.length), found.length);
  } else {
    find_last_before_head();
  }
  if (!is_erased(flash_, page + tail_, end)) {
    void_entry(flash_, page + tail_, end);
    tail_ = flash_.page_size();
    ++next_;
  }
}

void Store::find_last_before_head() {
  RecordHeader header;
  std::uint64_t ignored = 0;
  for (std::uint64_t turn = head_ - 1; turn >= oldest_ && turn != 0 && last_ == 0; --turn) {
    Cursor at{.sequence = 0, .turn = turn, .offset = log_page::entries_at};
    while (page_is_open(turn, ignored) && next_entry(at, header, {})) {
      last_ = header.sequence;
    }
  }
}

void Store::count_ready() {
  const std::uint64_t end = oldest_ == 0 ? pages() + 1U : oldest_ + pages();
  ready_to_ = head_;
  for (std::uint64_t turn = next_good(head_); turn != 0 && turn < end && page_is_ready(turn);
       turn = next_good(turn)) {
    ready_to_ = turn;
    ++ready_;
  }
}

}  // namespace strandproof::record
