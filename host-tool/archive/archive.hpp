// What the host keeps for good: records of the jacks, instructions and gauge tables that were sent. SOCI over
// SQLite (write-ahead log, synchronous=FULL, foreign keys on); SOCI is seen in store.cpp only.
//
// A record is named by (device, boot, sequence) and is inserted once; meeting it again, its bytes must be the
// same. Nothing is ever updated or deleted; triggers in the file hold other programs to that.
//
// The history of a jack's gauge tables is what this host did, with who and why; what the jack itself wrote
// down (part changes, keys enrolled, refusals) is among its records and is not copied.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace strandproof::host::archive {

struct StoredRecord {
  std::uint32_t device;  // serial of the jack
  std::uint32_t boot;
  std::uint64_t sequence;  // rises for ever, across boots
  std::uint64_t tick_ms;
  std::string body;  // the encoded Record, as it lies in the jack's store
};

struct SentInstruction {
  std::uint32_t device;
  std::uint32_t id;  // rises per device
  std::uint32_t bed;
  std::uint32_t position;
  std::string body;     // the encoded PullInstruction
  std::int64_t sent_s;  // UTC
};

struct LoadedTable {
  std::uint32_t device;
  std::uint32_t revision;
  std::string sha256_hex;  // of the bytes that the jack verified
  std::string json;        // the table file
  std::int64_t loaded_s;   // UTC
};

enum class Act : std::uint32_t { loaded = 1, undone = 2, withdrawn = 3, checked = 4 };

// One act on a jack's gauge table.
struct HistoryEntry {
  std::uint32_t device;
  Act act;
  std::int64_t at_s;            // UTC of this computer
  std::string by;               // role, no person's name
  std::string why;              // one line, for people
  std::uint32_t revision;       // of the table that the act was on
  std::string sha256_hex;       // of its signed bytes; "" if not known
  std::string key_fingerprint;  // of the key that signed it, hexadecimal; "" if not known
  std::uint64_t last_record;    // newest record of the jack when it was done; 0: not known
  std::uint32_t outcome;        // checked: check::Verdict; withdrawn: REASON of the catalogue; else 0
  std::string details;          // checked: the spot points as JSON; undone: the revision that came back
};

// A bed's stressing record was signed off.
struct SignOff {
  std::uint32_t bed;
  std::string by;  // role
  std::int64_t at_s;
  std::uint32_t pulls;        // of the bed, when it was signed
  std::uint64_t last_record;  // sequence of the newest of them
  std::string digest_hex;     // SHA-256 over the bodies of these pulls, in their order
};

struct Added {
  int added;
  int already_held;
};

struct Options {
  int busy_timeout_ms = 3000;
  int page_limit = 0;  // 0: none; else PRAGMA max_page_count, a quota (used to show what a full disk does)
  std::function<void(const std::string&)> tell{};  // news for the person: the archive was migrated
};

class Store;

// Every member throws Problem (fault) with the archive's name, what is wrong and the remedy when the archive
// is in use by another program, full, read-only, not an archive, or of a newer schema; then nothing has been
// changed. An archive of an older schema is copied to a file beside it and then brought to this one.
class Archive {
 public:
  // Opens the archive, or makes a new one (and its folder).
  explicit Archive(const std::string& path, const Options& options = {});
  ~Archive();
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  // All in one transaction, which is on the disk when this returns. Throws Problem (refused) if a record is
  // held under the same name with other bytes: that is another jack's memory or a damaged one.
  Added add(std::span<const StoredRecord> records);

  // Highest sequence held of a device; 0: none.
  [[nodiscard]] std::uint64_t last_sequence(std::uint32_t device) const;

  // By device, boot and sequence; of one device or of all.
  [[nodiscard]] std::vector<StoredRecord> records(std::optional<std::uint32_t> device = {}) const;

  // One more than the highest instruction ever sent to the device; from 1.
  [[nodiscard]] std::uint32_t next_instruction_id(std::uint32_t device) const;
  void add(const SentInstruction& instruction);
  [[nodiscard]] std::vector<SentInstruction> instructions(std::uint32_t bed) const;
  [[nodiscard]] std::optional<SentInstruction> instruction(std::uint32_t device, std::uint32_t id) const;

  [[nodiscard]] std::optional<LoadedTable> table(std::uint32_t device, std::uint32_t revision) const;

  // A table that was loaded, with its entry: both or neither. A table that is held already must have the same
  // digest, or Problem (refused).
  void add(const LoadedTable& table, const HistoryEntry& entry);
  void add(const HistoryEntry& entry);
  // In the order in which they were entered.
  [[nodiscard]] std::vector<HistoryEntry> history(std::uint32_t device) const;
  // Jacks that the archive holds anything of, by serial.
  [[nodiscard]] std::vector<std::uint32_t> devices() const;

  void add(const SignOff& sign_off);
  [[nodiscard]] std::vector<SignOff> sign_offs(std::uint32_t bed) const;

 private:
  std::unique_ptr<Store> store_;
};

}  // namespace strandproof::host::archive
