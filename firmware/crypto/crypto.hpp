// The firmware's cryptography: thin doors to BearSSL's SHA-256 and HMAC and to libsodium's reference
// Ed25519, both compiled from their source packages with the same code on every machine.
// No call allocates, throws or keeps state outside the object it is called on. See README.md here
// for what each call costs in stack and instructions.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace strandproof::crypto {

inline constexpr std::size_t digest_size = 32;      // bytes of SHA-256 and of HMAC-SHA-256
inline constexpr std::size_t signature_size = 64;   // bytes of an Ed25519 signature
inline constexpr std::size_t public_key_size = 32;  // bytes of an Ed25519 public key

// Room for the library's states, 64-bit pointers; asserted against the real sizes in crypto.cpp.
inline constexpr std::size_t sha256_context_size = 112;
inline constexpr std::size_t hmac_context_size = 288;

// SHA-256 of FIPS 180-4, fed in pieces of any length.
class Sha256 {
 public:
  Sha256();
  void update(std::span<const std::uint8_t> bytes);
  // The digest of everything fed so far. May be called again, and more may be fed after it.
  void finish(std::span<std::uint8_t, digest_size> digest) const;

 private:
  alignas(8) std::uint8_t context_[sha256_context_size];
};

// HMAC-SHA-256 of RFC 2104, fed in pieces. A key longer than 64 bytes is hashed first, as the RFC says.
class HmacSha256 {
 public:
  explicit HmacSha256(std::span<const std::uint8_t> key);
  void update(std::span<const std::uint8_t> bytes);
  // The whole tag; compare it with equal_constant_time only.
  void finish(std::span<std::uint8_t, digest_size> tag) const;

 private:
  alignas(8) std::uint8_t context_[hmac_context_size];
};

void sha256(std::span<const std::uint8_t> bytes, std::span<std::uint8_t, digest_size> digest);

// True if the lengths and all bytes agree. The time depends on the lengths, never on the bytes.
[[nodiscard]] bool equal_constant_time(std::span<const std::uint8_t> a, std::span<const std::uint8_t> b);

// Ed25519 of RFC 8032, section 5.1.7, checked strictly: false also for a scalar S that is not below
// the group's order, for a public key that is not in its canonical form, and for a key or an R of
// small order. About a million instructions on a Cortex-M4: call it only while no oil can move.
[[nodiscard]] bool ed25519_verify(std::span<const std::uint8_t, signature_size> signature,
                                  std::span<const std::uint8_t> message,
                                  std::span<const std::uint8_t, public_key_size> public_key);

}  // namespace strandproof::crypto
