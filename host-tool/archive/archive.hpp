// What the host keeps for good: records of the jacks, instructions and gauge tables that were sent. SOCI over
// SQLite (write-ahead log, synchronous=FULL, foreign keys on); SOCI's headers are seen in archive.cpp only.
//
// A record is named by (device, boot, sequence) and is inserted once; meeting it again, its bytes must be the
// same. Nothing is ever updated or deleted.
#pragma once

#include <cstdint>
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

struct Added {
  int added;
  int already_held;
};

struct Options {
  int busy_timeout_ms = 3000;
  int page_limit = 0;  // 0: none; else PRAGMA max_page_count, a quota (used to show what a full disk does)
};

// Every member throws Problem (fault) with the archive's name, what is wrong and the remedy when the archive
// is in use by another program, full, read-only, not an archive, or of a newer schema; then nothing has been
// changed.
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

  void add(const LoadedTable& table);
  [[nodiscard]] std::optional<LoadedTable> table(std::uint32_t device, std::uint32_t revision) const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace strandproof::host::archive
