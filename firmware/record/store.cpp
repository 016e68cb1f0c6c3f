#include "firmware/record/store.hpp"

#include <algorithm>
#include <array>

#include "proto/crc32c.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::record {

namespace {

// A page: ready mark | header 8..39 | open mark | released mark | entries.
constexpr std::uint32_t header_at = 8;
constexpr std::uint32_t header_size = 32;
constexpr std::uint32_t open_at = header_at + header_size;
constexpr std::uint32_t released_at = open_at + mark_size;
constexpr std::uint32_t entries_at = released_at + mark_size;
constexpr std::uint32_t magic = 0x4C52'5053U;  // "SPRL": the format and its version in one
constexpr std::uint64_t released_mark = 0x69A5'3C5A'7E18'96C3U;
constexpr std::uint64_t cursor_reach = 64;  // records that are walked over before a search by page is quicker
constexpr std::uint32_t fewest_pages = 4;   // the head, one to come, one being erased, the oldest
static_assert(entries_at % entry_align == 0);

using Header = std::array<std::uint8_t, header_size>;

Header encode(std::uint32_t pages, std::uint64_t turn, std::uint64_t first_sequence) {
  Header bytes{};
  proto::put_u32(magic, bytes.data());
  proto::put_u32(pages, bytes.data() + 4);
  proto::put_u64(turn, bytes.data() + 8);
  proto::put_u64(first_sequence, bytes.data() + 16);
  proto::put_u32(proto::crc32c(std::span{bytes}.first(24)), bytes.data() + 24);
  return bytes;
}

// The turn in the open page's header at `address`; 0 if that is no open page of a log of this many pages.
std::uint64_t open_turn(const port::Flash& flash, std::uint32_t address, std::uint32_t pages,
                        std::uint64_t& first_sequence) {
  Header found{};
  if (!has_mark(flash, address, ready_mark) || !flash.read(address + header_at, found) ||
      !has_mark(flash, address + open_at, commit_mark)) {
    return 0;
  }
  const auto turn = proto::get_u64(found.data() + 8);
  first_sequence = proto::get_u64(found.data() + 16);
  return found == encode(pages, turn, first_sequence) ? turn : 0;
}

}  // namespace

std::uint32_t Store::page_address(std::uint64_t turn) const {
  return region_.base + static_cast<std::uint32_t>((turn - 1) % pages()) * flash_.page_size();
}

std::uint32_t Store::records_per_page() const {
  return (flash_.page_size() - entries_at) / record_size_max;
}

bool Store::geometry_is_good() const {
  const std::uint32_t page = flash_.page_size();
  return page >= entries_at + record_size_max && entry_align % flash_.word_size() == 0 &&
         region_.base % page == 0 && region_.size % page == 0 && region_.size <= flash_.size() &&
         region_.base <= flash_.size() - region_.size && pages() >= fewest_pages + region_.reserve_pages;
}

bool Store::page_is_open(std::uint64_t turn, std::uint64_t& first_sequence) const {
  return turn != 0 && open_turn(flash_, page_address(turn), pages(), first_sequence) == turn;
}

bool Store::page_is_ready(std::uint64_t turn) const {
  const std::uint32_t page = page_address(turn);
  return has_mark(flash_, page, ready_mark) && is_erased(flash_, page + mark_size, page + flash_.page_size());
}

// ---- recovery

Error Store::mount() {
  mounted_ = false;
  head_ = oldest_ = last_ = released_ = 0;
  to_mark_ = next_ = 1;
  tail_ = ready_ = 0;
  cursor_ = {};
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
  std::uint64_t first_sequence = 0;
  for (std::uint32_t i = 0; i < pages(); ++i) {
    const std::uint32_t address = region_.base + i * flash_.page_size();
    std::array<std::uint8_t, mark_size> probe{};
    if (!flash_.read(address, probe)) {
      return Error::flash;  // an unread page could hold the newest numbers: do not go on without it
    }
    const std::uint64_t turn = open_turn(flash_, address, pages(), first_sequence);
    if (turn != 0 && page_address(turn) != address) {
      return Error::geometry;
    }
    if (turn > head_) {
      head_ = turn;
      next_ = first_sequence;  // until recover_tail() has found a record
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
  (void)write_mark(flash_, page + open_at, commit_mark);
  Cursor at{.sequence = next_ - 1, .turn = head_, .offset = entries_at};
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
    Cursor at{.sequence = 0, .turn = turn, .offset = entries_at};
    while (page_is_open(turn, ignored) && next_entry(at, header, {})) {
      last_ = header.sequence;
    }
  }
}

void Store::count_ready() {
  const std::uint64_t end = oldest_ == 0 ? pages() + 1U : oldest_ + pages();
  while (head_ + 1 + ready_ < end && page_is_ready(head_ + 1 + ready_)) {
    ++ready_;
  }
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
    return {0, Error::flash};
  }
  tail_ += size;
  last_ = header.sequence;
  return {header.sequence, Error::none};
}

// Room in the head page, or in the next ready one that opens. A page that does not open is passed over.
bool Store::room_for(std::uint32_t size, Priority priority) {
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
  ++head_;
  --ready_;
  tail_ = flash_.page_size();
  const std::uint32_t page = page_address(head_);
  const Header header = encode(pages(), head_, next_);
  Header back{};
  if (!write_mark(flash_, page, ready_mark) ||  // once more: a cut may have left it weak
      !flash_.program(page + header_at, header) || !flash_.read(page + header_at, back) || back != header ||
      !write_mark(flash_, page + open_at, commit_mark)) {
    return false;
  }
  tail_ = entries_at;
  oldest_ = oldest_ == 0 ? head_ : oldest_;
  return true;
}

std::uint32_t Store::free_records() const {
  if (!mounted_) {
    return 0;
  }
  const std::uint32_t in_head = head_ == 0 ? 0 : (flash_.page_size() - tail_) / record_size_max;
  const std::uint32_t usable = ready_ > region_.reserve_pages ? ready_ - region_.reserve_pages : 0;
  return in_head + usable * records_per_page();
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
  Cursor start{.sequence = 0, .turn = oldest_, .offset = entries_at};
  std::uint64_t first_sequence = 0;
  for (std::uint64_t turn = oldest_; turn <= head_; ++turn) {
    if (page_is_open(turn, first_sequence) && first_sequence <= sequence) {
      start.turn = turn;
    }
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
    at = {.sequence = at.sequence, .turn = at.turn + 1, .offset = entries_at};
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

// ---- housekeeping

void Store::release(std::uint64_t up_to) {
  released_ = std::max(released_, std::min(up_to, last_));
}

bool Store::page_is_released(std::uint64_t turn) const {
  if (turn >= head_) {
    return false;  // the head carries the numbers on, whoever holds its records
  }
  if (has_mark(flash_, page_address(turn) + released_at, released_mark)) {
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
  const std::uint32_t at = page_address(to_mark_) + released_at;
  to_mark_ = next_open_turn(to_mark_);
  return !has_mark(flash_, at, released_mark) && write_mark(flash_, at, released_mark);
}

bool Store::service() {
  if (!mounted_) {
    return false;
  }
  if (mark_released_page()) {
    return true;
  }
  const std::uint64_t next = head_ + 1 + ready_;
  if (oldest_ == 0 || next < oldest_ + pages()) {
    return next <= head_ + pages() && erase_page(next);
  }
  // The ring is closed: the next page to be made ready is the oldest one in use.
  const bool wanted = ready_ < std::max(pages() / 2U, region_.reserve_pages + 1U);
  return wanted && page_is_released(oldest_) && erase_page(next);
}

bool Store::erase_page(std::uint64_t turn) {
  const bool was_oldest = oldest_ != 0 && turn == oldest_ + pages();
  if (was_oldest) {
    oldest_ = next_open_turn(oldest_);
    to_mark_ = std::max(to_mark_, oldest_);
    cursor_ = {};
  }
  if (!make_ready(flash_, page_address(turn))) {
    return false;
  }
  ++ready_;
  return true;
}

}  // namespace strandproof::record
