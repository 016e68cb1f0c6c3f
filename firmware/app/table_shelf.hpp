// The gauge tables in flash: two slots, the keys that may sign, and what bars a table from use. Whatever is
// activated was read back from the flash and verified there; one committed write of one cell then switches.
// At any power cut the old or the new table is active, never neither, never a mixture (H18, H20, H21).
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "firmware/app/table_scrub.hpp"
#include "firmware/app/vault.hpp"
#include "firmware/control/controller.hpp"
#include "firmware/crypto/crypto.hpp"
#include "firmware/link/handler.hpp"
#include "firmware/link/table_transfer.hpp"
#include "strandproof/wire.nanopb.h"

namespace strandproof::app {

#define PART(number, id, text) id = number,
enum class Part : std::uint8_t {
#include "proto/catalogue.def"
};
inline constexpr unsigned part_count = 5;

class TableShelf {
 public:
  static constexpr unsigned keys_max = 4;
  using Keys = std::array<link::TableKey, keys_max>;

  TableShelf(Vault& vault, control::Controller& controller) : vault_{vault}, controller_{controller} {}

  // At power on, and after a change of the keys: verifies the active slot as it lies in flash and gives it
  // to the controller. What is wrong with it bars arming: see bar(). Takes the time of up to two signatures.
  void restore();

  // ---- from the link, at rest only
  // `now_s`: the lower bound on the time, 0 where there is none.
  [[nodiscard]] link::Code install(const strandproof_wire_GaugeTable& t, std::span<const std::uint8_t> bytes,
                                   std::span<const std::uint8_t, crypto::signature_size> signature,
                                   std::uint64_t now_s);
  // Bars the active table until one that was calibrated later is loaded. Withdrawn already: the last reason
  // stands.
  [[nodiscard]] link::Code withdraw(const strandproof_wire_TableWithdraw& w);
  // Back to the other slot, before the first pull on the newer table. The floor stays where it was.
  [[nodiscard]] link::Code undo(const strandproof_wire_TableUndo& u);
  void fill(strandproof_wire_Tables& to) const;
  [[nodiscard]] link::Code bytes(const strandproof_wire_TableRead& r, strandproof_wire_TableBytes& to) const;

  // ---- from the pendant. False: the flash refused, nothing has changed.
  [[nodiscard]] bool part_changed(Part part, std::uint64_t now_s);
  [[nodiscard]] bool enrol(const link::TableKey& k);
  [[nodiscard]] bool revoke(unsigned index);
  [[nodiscard]] const Keys& keys() const { return keys_; }
  [[nodiscard]] bool enrolled(const link::TableKey& k) const;
  [[nodiscard]] unsigned key_count() const;
  [[nodiscard]] bool keys_full() const { return key_count() == keys_max; }

  // ---- in use
  void pull_begun();
  // Of the check over the live table: call it each tick.
  void scrub() { scrub_.step(); }
  [[nodiscard]] bool changed() const { return scrub_.changed(); }
  // Why the table bars arming; none: it does not. no_table is the controller's own to say.
  [[nodiscard]] control::Refusal bar() const {
    if (active_.revision == 0) {
      return control::Refusal::none;
    }
    if (fault_ != control::Refusal::none) {
      return fault_;
    }
    if (scrub_.changed()) {
      return control::Refusal::table_damaged;
    }
    if (active_.revision <= marks_.voided_up_to) {
      return control::Refusal::part_changed;
    }
    return active_.revision <= marks_.withdrawn_up_to ? control::Refusal::table_withdrawn
                                                      : control::Refusal::none;
  }
  // The revision that is, or should be, in use; 0: none was ever loaded.
  [[nodiscard]] std::uint32_t revision() const { return active_.revision; }

 private:
  struct Active {                // bytes of a cell: the one write that switches
    std::uint32_t revision = 0;  // 0: none was ever active
    std::uint8_t slot = 0;
    std::uint8_t undone = 0;  // 1: gone back to; only then may it lie below the floor
    std::uint8_t unused[2] = {};
  };
  struct Marks {                                          // bytes of a cell
    std::uint32_t withdrawn_up_to = 0, voided_up_to = 0;  // revisions
    std::uint64_t part_changed_s = 0;
    std::uint64_t barred_calibrated_s = 0;  // of the newest table that was withdrawn or voided
    std::uint8_t reason = 0, part = 0;
    std::uint8_t unused[6] = {};
  };
  struct Pulls {  // begun on the table of this revision
    std::uint32_t revision = 0, count = 0;
  };
  struct Slot {  // what lies in a cell, read once and after each write
    strandproof_wire_TableSlot info = strandproof_wire_TableSlot_init_zero;
    control::Refusal fault = control::Refusal::no_table;  // none: verified, and may be used
  };

  [[nodiscard]] static record::CellId cell_of(unsigned slot) {
    return slot == 0 ? record::CellId::table_slot_a : record::CellId::table_slot_b;
  }
  [[nodiscard]] const link::TableKey* signed_by(
      std::span<const std::uint8_t> bytes, std::span<const std::uint8_t, crypto::signature_size> s) const;
  [[nodiscard]] control::Refusal verify(unsigned slot, control::GaugeTable& table);
  [[nodiscard]] link::Code objection(const strandproof_wire_GaugeTable& t, const control::GaugeTable& table,
                                     std::uint64_t now_s) const;
  [[nodiscard]] bool write_slot(unsigned slot, std::span<const std::uint8_t> bytes,
                                std::span<const std::uint8_t, crypto::signature_size> signature,
                                const link::TableKey& key);
  [[nodiscard]] link::Code activate(const Active& a, const control::GaugeTable& table);
  void raise_floor();
  // The table of this slot is to come back under no other revision: its runs are what is doubted.
  void bar_calibration(Marks& m, unsigned slot) const;
  [[nodiscard]] std::uint32_t state_of(unsigned slot) const;
  // Begun on this table; true for both slots, for a revision comes once.
  [[nodiscard]] std::uint32_t pulls_on(std::uint32_t revision) const;

  Vault& vault_;
  control::Controller& controller_;
  TableScrub scrub_;
  Keys keys_{};
  Active active_;
  Marks marks_;
  std::array<Pulls, 2> pulls_{};  // bytes of a cell: of the tables in the slots, in no order
  std::uint32_t floor_ = 0;
  std::array<Slot, 2> slots_{};
  control::Refusal fault_ = control::Refusal::none;  // of the active slot
};

}  // namespace strandproof::app
