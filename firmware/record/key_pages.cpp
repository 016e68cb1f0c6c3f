#include "firmware/record/key_pages.hpp"

#include <algorithm>
#include <array>

namespace strandproof::record {
namespace {

constexpr std::uint32_t key_size = sizeof(EpochKey);
constexpr std::uint32_t key_entry_size = entry_size(key_size);
constexpr std::uint32_t entries_at = mark_size;
// How far before the newest value the one before it can begin: its own size, the place that each mount()
// leaves behind the newest, and what end_of_written() rounds up.
constexpr std::uint32_t reach = 3 * key_entry_size;
static_assert(reach >= 2 * key_entry_size + 64);

std::span<std::uint8_t> bytes_of(EpochKey& key) {
  return {reinterpret_cast<std::uint8_t*>(&key), key_size};
}

}  // namespace

bool KeyPages::mount(EpochKey& into) {
  newest_ = tail_ = 0;
  generation_ = 0;
  for (unsigned page = 0; page < 2; ++page) {
    find_newest(page, into);
  }
  wipe_all_but_newest();
  return newest_ != 0 && confirm_entry(flash_, newest_, static_cast<std::uint16_t>(key_size));
}

void KeyPages::find_newest(unsigned page, EpochKey& into) {
  const std::uint32_t end = page_address(page) + flash_.page_size();
  std::uint32_t address = page_address(page) + entries_at;
  if (!has_mark(flash_, page_address(page), ready_mark)) {
    return;
  }
  RecordHeader header;
  EpochKey key;
  while (find_entry(flash_, address, end, header, bytes_of(key))) {
    if (header.length == key_size && header.sequence > generation_) {
      generation_ = header.sequence;
      newest_ = address;
      page_ = page;
      into = key;
    }
    address += entry_size(header.length);
  }
}

// Also what a cut has torn: its bits are those of a secret that was to come. A word that the cut has left
// weak may read as zero or as erased now and not later, so the places that the last cut can have hit are
// programmed whatever they read as: about the entry before the newest, and the place behind it.
void KeyPages::wipe_all_but_newest() {
  for (unsigned page = 0; page < 2; ++page) {
    const std::uint32_t from = page_address(page) + entries_at;
    const std::uint32_t end = page_address(page) + flash_.page_size();
    const std::uint32_t written = aligned(end_of_written(flash_, from, end));
    if (page != page_ || newest_ == 0) {
      const bool just_left = newest_ != 0 && newest_ < page_address(page_) + entries_at + reach;
      wipe(from, written, just_left ? Wipe::everything : Wipe::what_holds_anything);
      continue;
    }
    const std::uint32_t before = std::max(from + reach, newest_) - reach;
    const std::uint32_t behind = newest_ + key_entry_size;
    tail_ = std::min(std::max(written, behind + key_entry_size), end);
    wipe(from, before, Wipe::what_holds_anything);
    wipe(before, newest_, Wipe::everything);
    wipe(behind, tail_, Wipe::everything);
  }
}

void KeyPages::wipe(std::uint32_t from, std::uint32_t to, Wipe what) {
  std::array<std::uint8_t, entry_align> word{};
  constexpr std::array<std::uint8_t, entry_align> zeros{};
  constexpr std::array<std::uint8_t, entry_align> erased{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
  for (std::uint32_t at = from; at < to; at += entry_align) {
    if (what == Wipe::everything || !flash_.read(at, word) || (word != zeros && word != erased)) {
      (void)flash_.program(at, zeros);  // where that fails, the page's erase is what is left
    }
  }
}

// The value in the page that is left was the newest until now: it is wiped by store() as any other.
bool KeyPages::open_other_page() {
  const unsigned other = 1U - page_;
  if (!make_ready(flash_, page_address(other))) {
    return false;
  }
  page_ = other;
  tail_ = page_address(other) + entries_at;
  return true;
}

bool KeyPages::store(const EpochKey& key) {
  const bool room = tail_ != 0 && tail_ + key_entry_size <= page_address(page_) + flash_.page_size();
  if (!room && !open_other_page()) {
    return false;
  }
  EpochKey copy = key;
  const RecordHeader header{.sequence = generation_ + 1, .length = static_cast<std::uint16_t>(key_size)};
  const std::uint32_t at = tail_;
  tail_ += key_entry_size;
  if (!write_entry(flash_, at, header, bytes_of(copy))) {
    wipe(at, tail_, Wipe::everything);
    return false;
  }
  const std::uint32_t old = newest_;
  newest_ = at;
  ++generation_;
  if (old != 0) {
    wipe(old, old + key_entry_size, Wipe::everything);
  }
  return true;
}

}  // namespace strandproof::record
