// The key that signs gauge tables, in a file protected by a passphrase. The file can be copied and kept
// apart: without the passphrase it signs nothing.
//
// Six lines of text: "strandproof table key 1", then name, public key, cost, salt and box. The box is
// libsodium's secretbox (XSalsa20-Poly1305) over seed and name under a key that Argon2id (RFC 9106) makes of
// the passphrase and the salt. What is outside the box is compared with what is inside.
#pragma once

#include <cstdint>
#include <string>

#include "host-tool/keys/passphrase.hpp"
#include "proto/peer/keys.hpp"

namespace strandproof::host::keys {

// Of Argon2id, as libsodium counts it.
struct Cost {
  std::uint32_t passes;
  std::uint32_t memory_kib;
};
inline constexpr Cost default_cost{3, 256U * 1024U};    // libsodium's MODERATE: about 0.7 s on one core
inline constexpr Cost largest_cost{20, 2048U * 1024U};  // a file that asks for more is refused

// What a key file tells without its passphrase.
struct TableKeyFile {
  std::string name;  // 1 to 15 characters of printable ASCII; the pendant shows it
  proto::Key public_key;
};

// Makes a key from the system's random source and writes it to a new file (0600). Throws Problem (refused) if
// the file is there already, (fault) for a bad name or a file that can not be written.
TableKeyFile make_table_key(const std::string& file, const std::string& name, const Secret& passphrase,
                            Cost cost = default_cost);

// Throws Problem (fault): absent, readable by others, not such a file, damaged, of a newer version.
TableKeyFile read_table_key(const std::string& file);

// Throws also Problem (refused) if the passphrase does not open it.
proto::TableKey open_table_key(const std::string& file, const Secret& passphrase);

// The same key under another passphrase. The file is replaced whole or not at all; a copy elsewhere keeps the
// old passphrase.
void change_passphrase(const std::string& file, const Secret& old_one, const Secret& new_one,
                       Cost cost = default_cost);

// First 8 bytes of the public key's SHA-256, for people to compare.
std::string fingerprint(const proto::Key& public_key);

}  // namespace strandproof::host::keys
