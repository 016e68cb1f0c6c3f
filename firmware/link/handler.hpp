// What the link asks of the firmware behind it. The app implements it; tests implement it with a fake.
// There is no call here that starts, resumes, lowers or resets anything: nothing on the link moves oil.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "strandproof/wire.nanopb.h"

namespace strandproof::link {

// Refusal codes of the catalogue; ok is 0.
enum class Code : std::uint8_t {
#define REFUSAL(number, id, why, remedy) id = number,
#include "proto/catalogue.def"
};

struct Pairing {
  std::uint64_t host_id = 0;                 // 0: nobody is paired
  std::array<std::uint8_t, 32> key{};        // HMAC key of the sealed messages
  std::array<std::uint8_t, 32> table_key{};  // Ed25519 public key that signs gauge tables
  friend bool operator==(const Pairing&, const Pairing&) = default;
};

class Handler {
 public:
  [[nodiscard]] virtual Code load_instruction(const strandproof_wire_PullInstruction& i) = 0;
  [[nodiscard]] virtual Code set_clock(std::uint64_t utc_s) = 0;
  [[nodiscard]] virtual Code enter_bed(const strandproof_wire_BedEntry& e) = 0;
  // Signature and digest have been verified; bytes are what was signed.
  [[nodiscard]] virtual Code install_table(const strandproof_wire_GaugeTable& t,
                                           std::span<const std::uint8_t> bytes) = 0;
  [[nodiscard]] virtual Code release_records(std::uint64_t up_to) = 0;
  // Whether this is a moment for work that takes longer than a tick: idle, every output off.
  [[nodiscard]] virtual bool at_rest() const = 0;

  virtual void fill(strandproof_wire_Identity& to) = 0;
  virtual void fill(strandproof_wire_Status& to) = 0;
  virtual void fill(strandproof_wire_Telemetry& to) = 0;
  // The first record at or after `from`; false if there is none.
  [[nodiscard]] virtual bool record_from(std::uint64_t from, strandproof_wire_LogRecord& to) = 0;

  [[nodiscard]] virtual bool pairing_open() const = 0;  // opened by a person at the pendant
  virtual void show_pairing(std::uint32_t check) = 0;   // six digits for the display
  [[nodiscard]] virtual bool store_pairing(const Pairing& p) = 0;
  virtual void note_forged(std::uint32_t count) = 0;  // the link has blocked itself (H25)

 protected:
  ~Handler() = default;
};

}  // namespace strandproof::link
