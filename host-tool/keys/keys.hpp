// The keys of this host computer, in a folder of their own that only its owner may read:
//   host.id      number and name of this host, as the pendant shows it
//   pairing.key  32 random bytes in hexadecimal: HMAC key of a pairing
//   table.key    32 random bytes in hexadecimal: Ed25519 seed that signs gauge tables
#pragma once

#include <string>
#include <vector>

#include "host-tool/keys/table_key.hpp"
#include "proto/peer/keys.hpp"

namespace strandproof::host::keys {

struct Keys {
  proto::HostKeys host;
  proto::TableKey table;
};

// Makes the folder (0700) and the three files (0600) from the system's random source. Throws Problem
// (refused) if keys are there already: a lost key means pairing every jack again, so none is ever written
// over.
void make(const std::string& folder, const std::string& name);

// Throws Problem (fault): no keys yet (and how to make them), a file that others may read, or a damaged one.
Keys load(const std::string& folder);

}  // namespace strandproof::host::keys
