#include "firmware/record/cells.hpp"

#include <algorithm>

namespace strandproof::record {

namespace {
constexpr std::uint32_t entries_at = mark_size;  // behind the page's ready mark
}

std::uint32_t Cells::page_address(unsigned cell, unsigned page) const {
  return base_ + (2U * cell + page) * flash_.page_size();
}

bool Cells::mount() {
  places_ = {};
  mounted_ = false;
  const std::uint32_t page = flash_.page_size();
  if (page < entries_at + entry_size(cell_size_max) || entry_align % flash_.word_size() != 0 ||
      base_ % page != 0 || region_size(flash_) > flash_.size() ||
      base_ > flash_.size() - region_size(flash_)) {
    return false;
  }
  mounted_ = true;
  for (unsigned cell = 0; cell < cell_count; ++cell) {
    scan(cell, 0);
    scan(cell, 1);
    settle(cell);
  }
  return true;
}

// The newest committed entry of one page, if it is newer than what has been found.
void Cells::scan(unsigned cell, unsigned page) {
  Place& place = places_[cell];
  const std::uint32_t start = page_address(cell, page);
  const std::uint32_t end = start + flash_.page_size();
  std::uint32_t address = start + entries_at;
  RecordHeader header;
  while (find_entry(flash_, address, end, header, {})) {
    const std::uint32_t behind = address + entry_size(header.length);
    if (header.kind == cell && header.sequence > place.generation) {
      place.page = static_cast<std::uint8_t>(page);
      place.has_value = true;
      place.value = address;
      place.length = header.length;
      place.generation = header.sequence;
      place.tail = is_erased(flash_, behind, end) ? behind - start : 0;
    }
    address = behind;
  }
  void_entry(flash_, address, end);
}

// After a boot: firm up the newest entry, look at the spare page. The next entry takes the number that a torn
// one would bear: where a cut left weak bits that read as erased, the same bits are then programmed again.
void Cells::settle(unsigned cell) {
  Place& place = places_[cell];
  const std::uint32_t other = page_address(cell, 1U - place.page);
  place.other_ready =
      has_mark(flash_, other, ready_mark) && is_erased(flash_, other + mark_size, other + flash_.page_size());
  if (place.has_value) {
    // A flash that refuses keeps its value readable; the next write() finds it out.
    (void)confirm_entry(flash_, place.value, place.length);
  }
}

std::uint16_t Cells::read(CellId id, std::span<std::uint8_t> into) const {
  const Place& place = places_[static_cast<unsigned>(id)];
  RecordHeader header;
  if (!mounted_ || !place.has_value || place.length > into.size() ||
      !read_entry(flash_, place.value, place.value + entry_size(place.length), header, into)) {
    return 0;
  }
  return header.length;
}

bool Cells::write(CellId id, std::span<const std::uint8_t> value) {
  if (!mounted_ || value.empty() || value.size() > cell_size_max) {
    return false;
  }
  const auto cell = static_cast<unsigned>(id);
  Place& place = places_[cell];
  const auto length = static_cast<std::uint16_t>(value.size());
  const bool here = place.tail != 0 && place.tail + entry_size(length) <= flash_.page_size();
  const unsigned page = here ? place.page : 1U - place.page;
  if (!here && !place.other_ready && !prepare_other(cell)) {
    return false;
  }
  const std::uint32_t offset = here ? place.tail : entries_at;
  const std::uint32_t address = page_address(cell, page) + offset;
  const RecordHeader header{
      .sequence = ++place.generation, .length = length, .kind = static_cast<std::uint8_t>(id)};
  place.other_ready = here && place.other_ready;
  if (!write_entry(flash_, address, header, value)) {
    void_entry(flash_, address, page_address(cell, page) + flash_.page_size());
    place.tail = here ? 0 : place.tail;  // nothing more goes behind a torn entry; the old value stands
    return false;
  }
  place.page = static_cast<std::uint8_t>(page);
  place.has_value = true;
  place.value = address;
  place.length = length;
  place.tail = offset + entry_size(length);
  return true;
}

bool Cells::prepare_other(unsigned cell) {
  Place& place = places_[cell];
  place.other_ready = make_ready(flash_, page_address(cell, 1U - place.page));
  return place.other_ready;
}

bool Cells::service() {
  for (unsigned cell = 0; mounted_ && cell < cell_count; ++cell) {
    if (!places_[cell].other_ready && prepare_other(cell)) {
      return true;
    }
  }
  return false;
}

}  // namespace strandproof::record
