// What stands between the line and the archive, and what else the commands about the log ask of
// host-tool/proof.
#pragma once

#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "host-tool/keys/keys.hpp"
#include "host-tool/proof/follow.hpp"
#include "host-tool/proof/head_file.hpp"

namespace strandproof::host::fetch {

[[nodiscard]] proof::Record proof_record(const archive::StoredRecord& r);
[[nodiscard]] proof::HostKey proof_key(const proto::HostKeys& keys);
// "record 12: changed: ...".
[[nodiscard]] std::string line_of(const proof::Finding& finding);

// The archive's records from a sequence on.
[[nodiscard]] std::vector<proof::Record> stored_since(const archive::Archive& archive, std::uint32_t device,
                                                      std::uint64_t from);

// What does not extend the log that is held is refused before it is stored.
class Guard {
 public:
  Guard(const std::string& keys_folder, const proto::HostKeys& keys, archive::Archive& archive,
        std::uint32_t device);
  // Throws Problem (refused) naming the record; then nothing of this batch may be stored.
  void check(const std::vector<archive::StoredRecord>& batch);
  // Once the batch is durable: its head is held. Never an older one than before: a second archive is fetched
  // from its beginning.
  void keep();
  // When the jack has nothing more. Throws Problem (refused) if its log ends before the held head.
  void finish() const;

 private:
  void refuse(const std::vector<proof::Finding>& findings) const;

  std::string keys_folder_;
  std::uint32_t device_;
  std::uint64_t held_ = 0;  // sequence of the held head
  std::vector<std::string> replaced_;
  proof::Follower follower_;
};

}  // namespace strandproof::host::fetch
