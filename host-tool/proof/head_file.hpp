// The heads that this host holds, one file a jack, in the folder `heads` beside its keys and not with the
// archive: who changes the one has not changed the other. A file of "key value" lines:
//   device, first, sequence, epoch, ends_epoch, link, tag, public_key (- before the first checkpoint),
//   signed_up_to, our_epochs (- without a pairing of this host), and a line `replaced` for each controller
//   before this one: its key's fingerprint, its last record, when, by whom.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "host-tool/proof/verify.hpp"

namespace strandproof::host::proof {

struct HeldHead {
  Head head;
  std::vector<std::string> replaced;
};

[[nodiscard]] std::string head_path(const std::string& keys_folder, std::uint32_t device);

// Nothing if there is no such file. Throws Problem (fault) naming the file if it can not be read or is
// damaged: a head that is lost must not pass for one that was never there.
[[nodiscard]] std::optional<HeldHead> load_head(const std::string& keys_folder, std::uint32_t device);
// Throws Problem (fault) as write_file does.
void save_head(const std::string& keys_folder, const HeldHead& held);

// A key as people compare it: `1122 33aa bbcc ddee`.
[[nodiscard]] std::string fingerprint_text(const proto::Key& key);
// One line for screen and paper: how far this log is held, and the first eight bytes of the link there.
[[nodiscard]] std::string head_line(const Head& head);

}  // namespace strandproof::host::proof
