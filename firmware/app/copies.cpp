#include "firmware/app/copies.hpp"

#include <algorithm>

namespace strandproof::app {

void Copies::restore() {
  // A cell that can not be read names nobody: then nothing is released, and two are needed.
  if (!vault_.load(record::CellId::copy_names, names_)) {
    names_ = CopyNames{};
  }
  if (!vault_.load(record::CellId::copy_marks, marks_)) {
    marks_ = CopyMarks{};
  }
  for (unsigned i = 0; i < CopyNames::most; ++i) {
    names_.copies[i].name.back() = '\0';
  }
  drop_marks_of_another_log();
  vault_.chain().release(held_up_to());
}

// A mark beyond the newest record is of a log that is gone (its region was laid out anew): nobody holds a
// record of this one. Kept as 0 before a record is made that the mark would cover.
void Copies::drop_marks_of_another_log() {
  CopyMarks marks = marks_;
  for (std::uint64_t& mark : marks) {
    mark = mark > vault_.log().last() ? 0 : mark;
  }
  if (!keep(marks)) {
    marks_ = CopyMarks{};  // a store that refuses is not trusted with what it said before
  }
}

unsigned Copies::place_of(std::uint64_t id) const {
  unsigned i = 0;
  while (i < CopyNames::most && names_.copies[i].id != id) {
    ++i;
  }
  return i;
}

unsigned Copies::place_at(unsigned index) const {
  unsigned i = 0;
  for (unsigned seen = 0; i < CopyNames::most; ++i) {
    if (names_.copies[i].id != 0 && seen++ == index) {
      break;
    }
  }
  return std::min(i, CopyNames::most - 1U);
}

unsigned Copies::count() const {
  return static_cast<unsigned>(
      std::count_if(names_.copies.begin(), names_.copies.end(), [](const CopyName& c) { return c.id != 0; }));
}

const CopyName& Copies::at(unsigned index) const {
  return names_.copies[place_at(index)];
}

// A mark without a name is what a cut has left of one that was forgotten.
std::uint64_t Copies::held_up_to() const {
  std::uint64_t most = 0, second = 0;
  for (unsigned i = 0; i < CopyNames::most; ++i) {
    const std::uint64_t mark = names_.copies[i].id != 0 ? marks_[i] : 0;
    second = std::max(second, std::min(most, mark));
    most = std::max(most, mark);
  }
  return needed() == 1 ? most : second;
}

bool Copies::keep(const CopyNames& names) {
  if (!vault_.save(record::CellId::copy_names, names)) {
    return false;
  }
  names_ = names;
  return true;
}

bool Copies::keep(const CopyMarks& marks) {
  if (marks != marks_ && !vault_.save(record::CellId::copy_marks, marks)) {
    return false;
  }
  marks_ = marks;
  return true;
}

link::Code Copies::acknowledge(const strandproof_wire_RecordRelease& r) {
  if (r.copy == 0 || r.name[0] == '\0') {
    return link::Code::malformed;
  }
  if (r.up_to > vault_.log().last()) {
    return link::Code::no_such_record;
  }
  const unsigned known = place_of(r.copy);
  const unsigned place = known < CopyNames::most ? known : place_of(0);
  if (place == CopyNames::most) {
    return link::Code::copies_full;
  }
  const link::Code entered = enter(place, r);
  if (entered != link::Code::none) {
    return entered;
  }
  CopyMarks marks = marks_;
  marks[place] = std::max(marks[place], r.up_to);
  if (!keep(marks)) {
    return link::Code::store_fault;
  }
  vault_.chain().release(held_up_to());
  return link::Code::none;
}

// The name of a place, where it is new or has changed.
link::Code Copies::enter(unsigned place, const strandproof_wire_RecordRelease& r) {
  CopyNames names = names_;
  CopyName& name = names.copies[place];
  if (name.id == r.copy && std::equal(name.name.begin(), name.name.end(), r.name)) {
    return link::Code::none;
  }
  CopyMarks marks = marks_;
  marks[place] = name.id == r.copy ? marks[place] : 0;
  name.id = r.copy;
  std::copy_n(r.name, CopyName::name_size, name.name.begin());
  return keep(marks) && keep(names) ? link::Code::none : link::Code::store_fault;
}

// Fewer releases what more copies hold back. More holds back what comes: a page that was free stays free.
bool Copies::need(unsigned copies) {
  CopyNames names = names_;
  names.needed = static_cast<std::uint8_t>(copies);
  if (!keep(names)) {
    return false;
  }
  vault_.chain().release(held_up_to());
  return true;
}

bool Copies::forget(unsigned index) {
  const unsigned place = place_at(index);
  CopyMarks marks = marks_;
  marks[place] = 0;
  CopyNames names = names_;
  names.copies[place] = {};
  return keep(marks) && keep(names);
}

void Copies::fill(strandproof_wire_Status& to) const {
  to.copies_needed = needed();
  for (unsigned i = 0; i < CopyNames::most; ++i) {
    if (names_.copies[i].id != 0) {
      strandproof_wire_LogCopy& copy = to.copies[to.copies_count++];
      copy.id = names_.copies[i].id;
      copy.up_to = marks_[i];
      std::copy_n(names_.copies[i].name.begin(), sizeof copy.name, copy.name);
    }
  }
}

}  // namespace strandproof::app
