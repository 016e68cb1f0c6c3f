// The keys of this host computer, in a folder of their own that only its owner may read:
//   host.id      number and name of this host, as the pendant shows it
//   pairing.key  32 random bytes in hexadecimal: HMAC key of a pairing
// They are of this computer and are not copied: another computer is paired by itself. The key that signs
// gauge tables is a file of its own, table_key.hpp.
#pragma once

#include <string>

#include "proto/peer/keys.hpp"

namespace strandproof::host::keys {

// Makes the folder (0700) and the two files (0600) from the system's random source. Throws Problem
// (refused) if keys are there already: a lost key means pairing every jack again, so none is ever written
// over.
void make(const std::string& folder, const std::string& name);

// Throws Problem (fault): no keys yet (and how to make them), a file that others may read, or a damaged one.
proto::HostKeys load(const std::string& folder);

}  // namespace strandproof::host::keys
