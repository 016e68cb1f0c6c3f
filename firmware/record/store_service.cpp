#include <algorithm>

#include "firmware/record/store.hpp"

namespace strandproof::record {

void Store::release(std::uint64_t up_to) {
  released_ = std::max(released_, std::min(up_to, last_));
}

bool Store::page_is_released(std::uint64_t turn) const {
  if (turn >= head_) {
    return false;  // the head carries the numbers on, whoever holds its records
  }
  if (has_mark(flash_, page_address(turn) + log_page::released_at, released_mark)) {
    return true;
  }
  std::uint64_t following = 0;
  return page_is_open(next_open_turn(turn), following) && following <= released_ + 1;
}

// The mark makes a release outlast the power.
bool Store::mark_released_page() {
  if (to_mark_ >= head_ || !page_is_released(to_mark_)) {
    return false;
  }
  const std::uint32_t at = page_address(to_mark_) + log_page::released_at;
  to_mark_ = next_open_turn(to_mark_);
  return !has_mark(flash_, at, released_mark) && write_mark(flash_, at, released_mark);
}

// The ring is closed when the next page to be made ready is the oldest one in use.
bool Store::service() {
  if (!mounted_) {
    return false;
  }
  if (mark_released_page()) {
    return true;
  }
  if (oldest_ != 0 && retired_.has(page_of(oldest_)) && page_is_released(oldest_)) {
    leave_oldest();
    return true;
  }
  if (list_is_new_ && head_ != 0 && ready_ > region_.reserve_pages) {
    return open_next_page();
  }
  const std::uint64_t next = next_good(ready_to_);
  if (next == 0 || next > head_ + pages()) {
    return false;
  }
  if (oldest_ == 0 || next < oldest_ + pages()) {
    return prepare_page(next);
  }
  const bool wanted = ready_ < std::max(pages() / 2U, region_.reserve_pages + 1U);
  return wanted && next == oldest_ + pages() && page_is_released(oldest_) && prepare_page(next);
}

void Store::leave_oldest() {
  oldest_ = next_open_turn(oldest_);
  to_mark_ = std::max(to_mark_, oldest_);
  cursor_ = {};
}

// A page that a cut, or a page before it, has kept from being counted may be ready already.
bool Store::prepare_page(std::uint64_t turn) {
  const bool was_open = oldest_ != 0 && turn == oldest_ + pages();
  if (was_open) {
    leave_oldest();
  }
  const std::uint32_t page = page_address(turn);
  if (page_is_ready(turn) || (was_open ? close_and_make_ready(flash_, page) : make_ready(flash_, page))) {
    ready_to_ = turn;
    ++ready_;
    return true;
  }
  return retire(turn);
}

// A page that has refused is passed over from now on. The next page that opens carries the list, and
// service() opens one for it. False: no page answers, so it is not this one that is bad.
bool Store::retire(std::uint64_t turn) {
  if (!another_page_takes_a_mark(turn)) {
    return false;
  }
  retired_.add(page_of(turn));
  list_is_new_ = true;
  return true;
}

// Programs a mark once more with the value that it has, as mount() does. Where no other page is open or ready
// none holds anything, and a mark may be zeroed that goes before the erase anyway.
bool Store::another_page_takes_a_mark(std::uint64_t refused) {
  if (oldest_ != 0 && page_of(oldest_) != page_of(refused)) {
    return write_mark(flash_, page_address(oldest_) + log_page::open_at, commit_mark);
  }
  if (ready_ != 0) {
    return write_mark(flash_, page_address(next_good(head_)), ready_mark);
  }
  const std::uint64_t next = next_good(refused);
  return next != 0 && write_mark(flash_, page_address(next) + log_page::open_at, 0);
}

// The pages between the ready ones and the head, as far as they are released; what is retired holds nothing
// for anyone.
std::uint32_t Store::room_records() const {
  if (!mounted_) {
    return 0;
  }
  std::uint32_t more = 0;
  bool released = true;  // until the first page that is not
  const std::uint64_t end =
      head_ + pages() + (head_ == 0 ? 1U : 0U);  // the head's own page is not among them
  for (std::uint64_t turn = next_good(ready_to_); turn != 0 && turn < end && released;
       turn = next_good(turn)) {
    released = oldest_ == 0 || turn < oldest_ + pages() || page_is_released(turn - pages());
    more += released ? 1U : 0U;
  }
  return records_in(ready_ + more);
}

}  // namespace strandproof::record
