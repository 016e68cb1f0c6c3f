// The keys of a host: what a pairing hands to the jack, and the key that signs gauge tables.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <string>

namespace strandproof::proto {

using Bytes = std::span<const std::uint8_t>;
using Key = std::array<std::uint8_t, 32>;
using Signature = std::array<std::uint8_t, 64>;

// What this host pairs with. Make the id and the key from a good random source, once for each host.
struct HostKeys {
  std::uint64_t host_id = 0;  // not 0
  std::string name;           // shown at the pendant, at most 31 bytes of ASCII
  Key key{};                  // of the pairing: seal_key and chain_key are made from it
};

// libsodium chooses its code for this machine at its first use; ends the program where that fails, which is
// only without any source of random numbers. Called by Peer and TableKey.
void require_sodium();

// An Ed25519 key pair of RFC 8032; the seed is the secret.
class TableKey {
 public:
  explicit TableKey(const Key& seed);
  [[nodiscard]] const Key& public_key() const { return public_; }
  [[nodiscard]] Signature sign(Bytes message) const;

 private:
  Key public_{};
  std::array<std::uint8_t, 64> secret_{};
};

[[nodiscard]] Key sha256(Bytes bytes);
[[nodiscard]] Key hmac_sha256(const Key& key, Bytes message);

// What both ends make from the key of a pairing: of the sealed messages, and of the tags in the log. The jack
// keeps the first only.
[[nodiscard]] Key seal_key(const Key& pairing);
[[nodiscard]] Key chain_key(const Key& pairing);

// First 8 bytes of the SHA-256 of a table key: what the pendant and the host show before a person confirms
// it.
using Fingerprint = std::array<std::uint8_t, 8>;
[[nodiscard]] Fingerprint fingerprint_of(const Key& table_key);

// The six digits that host and pendant show before a person confirms a pairing (SPEC.md, Pairing).
[[nodiscard]] std::uint32_t check_digits(const HostKeys& keys, std::uint32_t device, Bytes nonce);

}  // namespace strandproof::proto
