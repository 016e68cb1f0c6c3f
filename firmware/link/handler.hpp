// What the link asks of the firmware behind it. The app implements it; tests implement it with a fake.
// There is no call here that starts, resumes, lowers or resets anything: nothing on the link moves oil.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "strandproof/wire.nanopb.h"

namespace strandproof::link {

// Refusal codes of the catalogue; ok is 0.
enum class Code : std::uint8_t {
#define REFUSAL(number, id, why, remedy) id = number,
#include "proto/catalogue.def"
};

// A pairing hands over one key, from which two are made (SPEC.md 6); it is itself not kept.
struct Pairing {
  std::uint64_t host_id = 0;           // 0: nobody is paired
  std::array<std::uint8_t, 32> key{};  // HMAC key of the sealed messages
  friend bool operator==(const Pairing&, const Pairing&) = default;
};

// The other key of a pairing: what the tags of the log are made from. Nobody keeps it but the host.
using ChainKey = std::array<std::uint8_t, 32>;

// An Ed25519 public key that signs gauge tables, under the name that the host gave it.
struct TableKey {
  static constexpr std::size_t name_size = 16;  // with a zero behind it
  std::array<char, name_size> name{};           // empty: no key here
  std::array<std::uint8_t, 32> key{};
  friend bool operator==(const TableKey&, const TableKey&) = default;
};

// First 8 bytes of the SHA-256 of a key: what display and host show before a person confirms it.
using Fingerprint = std::array<std::uint8_t, 8>;
[[nodiscard]] Fingerprint fingerprint_of(std::span<const std::uint8_t, 32> key);

class Handler {
 public:
  [[nodiscard]] virtual Code load_instruction(const strandproof_wire_PullInstruction& i) = 0;
  [[nodiscard]] virtual Code set_clock(std::uint64_t utc_s) = 0;
  [[nodiscard]] virtual Code enter_bed(const strandproof_wire_BedEntry& e) = 0;
  // The digest and the form have been checked, the signature over the bytes has not.
  [[nodiscard]] virtual Code install_table(const strandproof_wire_GaugeTable& t,
                                           std::span<const std::uint8_t> bytes,
                                           std::span<const std::uint8_t, 64> signature) = 0;
  [[nodiscard]] virtual Code withdraw_table(const strandproof_wire_TableWithdraw& w) = 0;
  [[nodiscard]] virtual Code undo_table(const strandproof_wire_TableUndo& u) = 0;
  [[nodiscard]] virtual Code release_records(const strandproof_wire_RecordRelease& r) = 0;
  // Whether this is a moment for work that takes longer than a tick: idle, every output off.
  [[nodiscard]] virtual bool at_rest() const = 0;
  // Whether an output is on that moves oil or lets it move: such a tick has no time for the log.
  [[nodiscard]] virtual bool moving() const = 0;

  virtual void fill(strandproof_wire_Identity& to) = 0;
  virtual void fill(strandproof_wire_Status& to) = 0;
  virtual void fill(strandproof_wire_Telemetry& to) = 0;
  virtual void fill(strandproof_wire_Tables& to) = 0;
  // One chunk of a slot: slot, index, data, and the signature with index 0. no_such_slot or malformed.
  [[nodiscard]] virtual Code table_bytes(const strandproof_wire_TableRead& r,
                                         strandproof_wire_TableBytes& to) = 0;
  // The first record at or after `from`; false if there is none.
  [[nodiscard]] virtual bool record_from(std::uint64_t from, strandproof_wire_LogRecord& to) = 0;

  [[nodiscard]] virtual bool pairing_open() const = 0;  // opened by a person at the pendant
  virtual void show_pairing(std::uint32_t check) = 0;   // six digits for the display
  [[nodiscard]] virtual bool store_pairing(const Pairing& p, const ChainKey& chain_key) = 0;
  // none, key_closed or keys_full: whether a person has opened the enrolment, and there is room.
  [[nodiscard]] virtual Code may_enrol() const = 0;
  [[nodiscard]] virtual bool key_enrolled(const TableKey& k) const = 0;
  virtual void show_key(const TableKey* k) = 0;  // for the display; null: the question is over
  [[nodiscard]] virtual bool enrol_key(const TableKey& k) = 0;
  virtual void note_forged(std::uint32_t count) = 0;  // the link has blocked itself (H25)
  // A sealed message with a good tag was refused: its kind, and why.
  virtual void note_refused(std::uint32_t kind, Code code) = 0;

 protected:
  ~Handler() = default;
};

}  // namespace strandproof::link
