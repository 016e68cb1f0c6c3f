// Whether an archive is whole, as far as it can know by itself.
#pragma once

#include <string>
#include <vector>

#include "host-tool/archive/archive.hpp"
#include "host-tool/archive/copy.hpp"

namespace strandproof::host::archive {

struct SelfCheck {
  Copied content;
  std::uint64_t records = 0, unreadable = 0, entries = 0;
  std::string head_hex;             // digest of the last entry; "" without one
  std::vector<std::string> faults;  // one line each
};

// The engine's own check; each record's columns against its bytes; the chain of entries; each document
// against its digest. What was changed together with every digest after it shows only against a head that is
// held elsewhere: on paper, in a bundle, in a backup.
SelfCheck self_check(const Archive& archive);

}  // namespace strandproof::host::archive
