#include "proto/peer/keys.hpp"

#include <sodium.h>

#include <algorithm>
#include <cstdlib>
#include <string_view>

#include "proto/little_endian.hpp"

namespace strandproof::proto {
namespace {

Bytes text(std::string_view s) {
  return {reinterpret_cast<const std::uint8_t*>(s.data()), s.size()};
}

}  // namespace

void require_sodium() {
  if (sodium_init() < 0) {
    std::abort();
  }
}

TableKey::TableKey(const Key& seed) {
  require_sodium();
  crypto_sign_seed_keypair(public_.data(), secret_.data(), seed.data());
}

Signature TableKey::sign(Bytes message) const {
  Signature s{};
  crypto_sign_detached(s.data(), nullptr, message.data(), message.size(), secret_.data());
  return s;
}

Key sha256(Bytes bytes) {
  Key digest{};
  crypto_hash_sha256(digest.data(), bytes.data(), bytes.size());
  return digest;
}

Key hmac_sha256(const Key& key, Bytes message) {
  Key tag{};
  crypto_auth_hmacsha256(tag.data(), message.data(), message.size(), key.data());
  return tag;
}

Key seal_key(const Key& pairing) {
  return hmac_sha256(pairing, text("strandproof seal key"));
}

Key chain_key(const Key& pairing) {
  return hmac_sha256(pairing, text("strandproof chain key"));
}

Fingerprint fingerprint_of(const Key& table_key) {
  const Key digest = sha256(table_key);
  Fingerprint f{};
  std::copy_n(digest.begin(), f.size(), f.begin());
  return f;
}

std::uint32_t check_digits(const HostKeys& keys, std::uint32_t device, Bytes nonce) {
  std::array<std::uint8_t, 4> serial{};
  put_u32(device, serial.data());
  crypto_hash_sha256_state state;
  crypto_hash_sha256_init(&state);
  crypto_hash_sha256_update(&state, keys.key.data(), keys.key.size());
  crypto_hash_sha256_update(&state, serial.data(), serial.size());
  crypto_hash_sha256_update(&state, nonce.data(), nonce.size());
  Key digest{};
  crypto_hash_sha256_final(&state, digest.data());
  return 100'000U + get_u32(digest.data()) % 900'000U;
}

}  // namespace strandproof::proto
