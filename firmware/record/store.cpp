#include "firmware/record/store.hpp"

#include <algorithm>

namespace strandproof::record {

namespace {
constexpr std::uint64_t cursor_reach = 64;  // records that are walked over before a search by page is quicker
}

bool Store::page_is_open(std::uint64_t turn, std::uint64_t& first_sequence) const {
  if (turn == 0) {
    return false;
  }
  const PageHeader found = read_page_header(flash_, page_address(turn), pages());
  first_sequence = found.first_sequence;
  return found.turn == turn;
}

bool Store::page_is_ready(std::uint64_t turn) const {
  const std::uint32_t page = page_address(turn);
  return has_mark(flash_, page, ready_mark) && is_erased(flash_, page + mark_size, page + flash_.page_size());
}

// The next turn whose page is not retired; 0 if there is none.
std::uint64_t Store::next_good(std::uint64_t turn) const {
  for (std::uint32_t i = 0; i < pages(); ++i) {
    if (!retired_.has(page_of(++turn))) {
      return turn;
    }
  }
  return 0;
}

// ---- writing

Appended Store::append(std::span<const std::uint8_t> body, std::uint32_t boot, std::uint64_t tick,
                       Priority priority) {
  if (!mounted_) {
    return {0, Error::not_mounted};
  }
  if (body.size() > record_body_max) {
    return {0, Error::too_long};
  }
  const std::uint32_t size = entry_size(static_cast<std::uint32_t>(body.size()));
  if (!room_for(size, priority)) {
    return {0, Error::full};
  }
  const RecordHeader header{.sequence = next_,
                            .tick = tick,
                            .boot = boot,
                            .length = static_cast<std::uint16_t>(body.size()),
                            .kind = static_cast<std::uint8_t>(priority)};
  ++next_;  // also when it fails: the number may stand in flash
  const std::uint32_t page = page_address(head_);
  if (!write_entry(flash_, page + tail_, header, body)) {
    void_entry(flash_, page + tail_, page + flash_.page_size());
    tail_ = flash_.page_size();
    (void)retire(head_);
    return {0, Error::flash};
  }
  tail_ += size;
  last_ = header.sequence;
  return {header.sequence, Error::none};
}

// Room in the head page, or in the next ready one that opens. A page that does not open is passed over.
bool Store::room_for(std::uint32_t size, Priority priority) {
  if (next_ >= number_max || head_ >= number_max) {
    return false;
  }
  if (head_ != 0 && tail_ + size <= flash_.page_size()) {
    return true;
  }
  const std::uint32_t kept = priority == Priority::fault ? 0 : region_.reserve_pages;
  while (ready_ > kept) {
    if (open_next_page()) {
      return true;
    }
  }
  return false;
}

bool Store::open_next_page() {
  head_ = next_good(head_);
  --ready_;
  tail_ = flash_.page_size();
  const PageHeader header{.turn = head_, .first_sequence = next_, .retired = retired_};
  if (!open_page(flash_, page_address(head_), pages(), header)) {
    (void)retire(head_);
    return false;
  }
  tail_ = log_page::entries_at;
  list_is_new_ = false;
  oldest_ = oldest_ == 0 ? head_ : oldest_;
  return true;
}

std::uint32_t Store::records_in(std::uint32_t ready) const {
  const std::uint32_t in_head = head_ == 0 ? 0 : (flash_.page_size() - tail_) / record_size_max;
  const std::uint32_t usable = ready > region_.reserve_pages ? ready - region_.reserve_pages : 0;
  return in_head + usable * records_per_page();
}

std::uint32_t Store::free_records() const {
  return mounted_ ? records_in(ready_) : 0;
}

// ---- reading

// Moves `at` behind the next record of its page. False: no further record there.
bool Store::next_entry(Cursor& at, RecordHeader& header, std::span<std::uint8_t> into) const {
  const std::uint32_t page = page_address(at.turn);
  std::uint32_t address = page + at.offset;
  while (find_entry(flash_, address, page + flash_.page_size(), header, into)) {
    address += entry_size(header.length);
    if (header.sequence > at.sequence) {
      at.offset = address - page;
      at.sequence = header.sequence;
      return true;
    }
  }
  return false;
}

// The last open page that starts at or before the sequence, or the cursor if that is nearer.
Store::Cursor Store::start_for(std::uint64_t sequence) const {
  if (cursor_.turn != 0 && cursor_.sequence < sequence && sequence - cursor_.sequence <= cursor_reach) {
    return cursor_;
  }
  Cursor start{.sequence = 0, .turn = oldest_, .offset = log_page::entries_at};
  std::uint64_t first_sequence = 0;
  for (std::uint64_t turn = oldest_; turn <= head_; ++turn) {
    if (!page_is_open(turn, first_sequence)) {
      continue;
    }
    if (first_sequence > sequence) {
      break;  // they rise: the oldest record, asked for at every identify, costs two looks
    }
    start.turn = turn;
  }
  return start;
}

Fetched Store::read_from(std::uint64_t sequence, RecordHeader& header, std::span<std::uint8_t> into) {
  if (!mounted_) {
    return {0, Error::not_mounted};
  }
  if (sequence > last_ || oldest_ == 0) {
    return {0, Error::absent};
  }
  Cursor at = start_for(sequence);
  while (at.turn <= head_) {
    while (next_entry(at, header, into)) {
      if (header.sequence >= sequence) {
        cursor_ = at;
        return header.length <= into.size() ? Fetched{header.length, Error::none}
                                            : Fetched{0, Error::too_long};
      }
    }
    at = {.sequence = at.sequence, .turn = at.turn + 1, .offset = log_page::entries_at};
  }
  return {0, Error::absent};
}

Fetched Store::read(std::uint64_t sequence, RecordHeader& header, std::span<std::uint8_t> into) {
  const Fetched found = read_from(sequence, header, into);
  const bool some = found.error == Error::none || found.error == Error::too_long;
  return some && header.sequence != sequence ? Fetched{0, Error::absent} : found;
}

std::uint64_t Store::first() {
  RecordHeader header;
  const Fetched found = read_from(1, header, {});
  return found.error == Error::none || found.error == Error::too_long ? header.sequence : 0;
}

}  // namespace strandproof::record
