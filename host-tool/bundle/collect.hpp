// What an archive holds of a bed, a jack or a range of its records, as the data of a bundle.
#pragma once

#include "host-tool/bundle/data.hpp"
#include "host-tool/proof/head_file.hpp"

namespace strandproof::host::bundle {

// What this host knows beside its archive.
struct Host {
  std::uint64_t id = 0;
  std::optional<proof::HostKey> key{};  // given: m[e] of closed epochs go into the bundle
  std::string keys_folder{};            // of the heads
};

// Throws Problem (refused) if the archive holds nothing of it.
Data collect(const archive::Archive& kept, const Scope& scope, const Host& host);

}  // namespace strandproof::host::bundle
