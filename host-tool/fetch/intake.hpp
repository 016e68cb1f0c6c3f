// From a jack's log into the archive: batches that are checked against the chain, durable in the archive, and
// only then acknowledged. Whatever ends the program between two steps leaves a fetch that goes on where the
// archive is.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "host-tool/fetch/guard.hpp"
#include "proto/peer/peer.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::fetch {

class Intake {
 public:
  static constexpr std::size_t batch = 64;  // records a transaction

  // Throws Problem (refused) if what the archive holds does not extend the held head.
  Intake(const std::string& keys_folder, const proto::HostKeys& keys, archive::Archive& kept,
         std::uint32_t device)
      : kept_{kept}, device_{device}, guard_{keys_folder, keys, kept, device}, seen_{held_up_to()} {}

  // Where to fetch from: the newest record that is held, which is compared, so that another memory under the
  // same serial is noticed. 1 where none is.
  [[nodiscard]] std::uint64_t from() const;
  // Throws Problem (refused) where a jack that holds records up to this one can not be the one of before.
  void demand_extends(std::uint64_t last_record) const;

  // Throws Problem (refused) where this jack was told of a newer archive under this one's identity. Before
  // anything is stored: what comes would hide it.
  void demand_newest(const wire::Status& status) const;

  // Stores each full batch.
  void take(const wire::LogRecord& r);
  // What waits. Throws Problem (refused) where it does not belong to the log.
  void store();
  // When the jack has nothing more.
  void finish() const { guard_.finish(); }

  [[nodiscard]] std::uint64_t held_up_to() const { return kept_.last_sequence(device_); }
  // What may be acknowledged. Throws Problem where the archive is not what it was when it was opened.
  [[nodiscard]] std::uint64_t durable_up_to() const;
  [[nodiscard]] const archive::Added& total() const { return total_; }

  std::function<void(const archive::StoredRecord&)> on_new;  // each, once it is durable
  std::function<void(const archive::Added&)> on_batch;

 private:
  void enter();

  archive::Archive& kept_;
  std::uint32_t device_;
  Guard guard_;
  std::vector<archive::StoredRecord> waiting_;
  std::uint64_t seen_;  // newest record that was held while it was open
  archive::Added total_{0, 0};
};

// As the jack is to know this archive: its name is given at the first fetch, "HOST:FILE". Where that is too
// long the end of the file's name is kept, for years and numbers stand there.
[[nodiscard]] proto::CopyName copy_name(archive::Archive& kept, const std::string& host,
                                        const std::string& place);

}  // namespace strandproof::host::fetch
