// A whole archive as another one: backup, restore, and moving between the engines, verified by digest.
#pragma once

#include <string>

#include "host-tool/archive/archive.hpp"

namespace strandproof::host::archive {

struct Copied {
  std::uint64_t rows = 0;
  std::string digest_hex;  // of the content, the same on both engines
};

// SHA-256 chained over every row of every table in the order of their keys. Reads one state of the archive,
// whatever is written meanwhile, and holds nobody up.
Copied digest_of(const Archive& archive);

// A file that is the archive as it is now; it is there whole, on the disk and read back, or not at all.
// Throws Problem (fault) if it is there already or can not be written.
Copied back_up(const Archive& archive, const std::string& file);

// Makes the archive at `place` out of a backup, of this schema or an older one; the backup is only read.
// Throws Problem (fault) if the archive is there and holds anything.
Copied restore(const std::string& file, const std::string& place, const Options& options = {});

}  // namespace strandproof::host::archive
