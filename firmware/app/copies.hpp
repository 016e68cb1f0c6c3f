// The copies of the log that hosts keep: who they are and up to which record each has acknowledged to hold
// it. A record may be erased once enough different copies hold it: two, or one by an act at the pendant. No
// message over the link changes how many, and none takes a copy off the list.
//
// Two cells, so that an acknowledgement writes few bytes. Every write between which the power may go leaves
// less than was acknowledged, never more: a place gets its name while its mark is 0, and loses its mark
// before its name.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/app/vault.hpp"
#include "firmware/link/handler.hpp"

namespace strandproof::app {

struct CopyName {
  static constexpr std::size_t name_size = 24;  // with a zero behind it
  std::uint64_t id = 0;                         // 0: nobody
  std::array<char, name_size> name{};
};

// Bytes of a cell.
struct CopyNames {
  static constexpr unsigned most = 4;
  std::uint8_t needed = 0;  // 1 or 2; anything else counts as 2
  std::array<std::uint8_t, 7> unused{};
  std::array<CopyName, most> copies{};
};
static_assert(sizeof(CopyNames) == 136);
using CopyMarks = std::array<std::uint64_t, CopyNames::most>;

class Copies {
 public:
  explicit Copies(Vault& vault) : vault_{vault} {}

  // After the vault's mount(): what is held by enough copies is released to the log.
  void restore();

  // A copy holds every record up to this one, durably. A copy that is met for the first time takes a place.
  // malformed without id or name, no_such_record beyond the newest, copies_full, store_fault. Only at rest.
  [[nodiscard]] link::Code acknowledge(const strandproof_wire_RecordRelease& r);

  // Acts at the pendant. What was free before stays free. False: the store refused; of a copy that was to be
  // forgotten the mark may be gone, its name not.
  [[nodiscard]] bool need(unsigned copies);  // 1 or 2
  [[nodiscard]] bool forget(unsigned index);

  [[nodiscard]] unsigned needed() const { return names_.needed == 1 ? 1 : 2; }
  [[nodiscard]] unsigned count() const;
  [[nodiscard]] const CopyName& at(unsigned index) const;  // index < count()
  // Every record up to it is held by as many copies as are needed.
  [[nodiscard]] std::uint64_t held_up_to() const;
  void fill(strandproof_wire_Status& to) const;

 private:
  void drop_marks_of_another_log();
  [[nodiscard]] unsigned place_of(std::uint64_t id) const;  // most: none
  [[nodiscard]] unsigned place_at(unsigned index) const;
  [[nodiscard]] link::Code enter(unsigned place, const strandproof_wire_RecordRelease& r);
  [[nodiscard]] bool keep(const CopyNames& names);
  [[nodiscard]] bool keep(const CopyMarks& marks);

  Vault& vault_;
  CopyNames names_;
  CopyMarks marks_{};
};

}  // namespace strandproof::app
