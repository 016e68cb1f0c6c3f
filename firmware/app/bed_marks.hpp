// What stands between a bed and its next pull after a break: strands that must be replaced, and the
// inspection of their neighbours. Kept over a power loss; lifted only by an entry, never by itself.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/control/names.hpp"

namespace strandproof::app {

struct BedMark {
  std::uint32_t bed = 0;
  std::uint32_t position = 0;
  std::uint8_t replace = 0;  // 1: must be replaced
  std::uint8_t inspect = 0;  // 1: the bed's neighbours were not inspected since
  std::uint16_t unused = 0;
};
static_assert(sizeof(BedMark) == 12, "the cell in flash holds these bytes");

enum class EntryKind : std::uint32_t { replaced = 1, inspected = 2 };

class BedMarks {
 public:
  static constexpr unsigned capacity = 16;  // broken strands that no person has dealt with yet

  // A break at this position. There is a place for it: while all are taken, gate() lets no pull begin.
  void broken(std::uint32_t bed, std::uint32_t position) {
    BedMark* place = find(bed, position);
    if (place == nullptr) {
      place = find(0, 0);
    }
    if (place == nullptr) {
      return;
    }
    *place = {.bed = bed, .position = position, .replace = 1, .inspect = 1, .unused = 0};
  }

  // malformed for an unknown kind; none also where there was nothing to lift.
  [[nodiscard]] control::Refusal enter(std::uint32_t bed, std::uint32_t position, std::uint32_t kind) {
    if (kind != static_cast<std::uint32_t>(EntryKind::replaced) &&
        kind != static_cast<std::uint32_t>(EntryKind::inspected)) {
      return control::Refusal::malformed;
    }
    for (BedMark& m : marks_) {
      if (m.bed != bed || (m.replace == 0 && m.inspect == 0)) {
        continue;
      }
      if (kind == static_cast<std::uint32_t>(EntryKind::inspected)) {
        m.inspect = 0;
      } else if (m.position == position) {
        m.replace = 0;
      }
      if (m.replace == 0 && m.inspect == 0) {
        m = BedMark{};
      }
    }
    return control::Refusal::none;
  }

  [[nodiscard]] control::Refusal gate(std::uint32_t bed, std::uint32_t position) const {
    control::Refusal r = control::Refusal::marks_full;
    for (const BedMark& m : marks_) {
      if (m.replace == 0 && m.inspect == 0) {
        r = control::Refusal::none;  // a place is left for a break of this pull
      }
    }
    for (const BedMark& m : marks_) {
      if (m.bed == bed && m.inspect != 0) {
        return control::Refusal::bed_inspect;
      }
      if (m.bed == bed && m.position == position && m.replace != 0) {
        r = control::Refusal::strand_replace;
      }
    }
    return r;
  }

  [[nodiscard]] const std::array<BedMark, capacity>& all() const { return marks_; }
  [[nodiscard]] std::array<BedMark, capacity>& all() { return marks_; }

 private:
  BedMark* find(std::uint32_t bed, std::uint32_t position) {
    for (BedMark& m : marks_) {
      const bool used = m.replace != 0 || m.inspect != 0;
      if (bed == 0 && position == 0 ? !used : used && m.bed == bed && m.position == position) {
        return &m;
      }
    }
    return nullptr;
  }

  std::array<BedMark, capacity> marks_{};
};

}  // namespace strandproof::app
