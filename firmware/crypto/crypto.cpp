#include "firmware/crypto/crypto.hpp"

#include <bearssl.h>

#include <new>

#include "firmware/crypto/sodium/verify.h"

namespace strandproof::crypto {

namespace {

static_assert(sizeof(br_sha256_context) <= sha256_context_size && alignof(br_sha256_context) <= 8);
static_assert(sizeof(br_hmac_context) <= hmac_context_size && alignof(br_hmac_context) <= 8);

template <class Context>
Context* in(std::uint8_t* bytes) {
  return std::launder(reinterpret_cast<Context*>(bytes));
}

template <class Context>
const Context* in(const std::uint8_t* bytes) {
  return std::launder(reinterpret_cast<const Context*>(bytes));
}

}  // namespace

Sha256::Sha256() {
  br_sha256_init(::new (static_cast<void*>(context_)) br_sha256_context);
}

void Sha256::update(std::span<const std::uint8_t> bytes) {
  br_sha256_update(in<br_sha256_context>(context_), bytes.data(), bytes.size());
}

void Sha256::finish(std::span<std::uint8_t, digest_size> digest) const {
  br_sha256_out(in<br_sha256_context>(context_), digest.data());
}

HmacSha256::HmacSha256(std::span<const std::uint8_t> key) {
  br_hmac_key_context prepared;
  br_hmac_key_init(&prepared, &br_sha256_vtable, key.data(), key.size());
  br_hmac_init(::new (static_cast<void*>(context_)) br_hmac_context, &prepared, 0);
}

void HmacSha256::update(std::span<const std::uint8_t> bytes) {
  br_hmac_update(in<br_hmac_context>(context_), bytes.data(), bytes.size());
}

void HmacSha256::finish(std::span<std::uint8_t, digest_size> tag) const {
  br_hmac_out(in<br_hmac_context>(context_), tag.data());
}

void sha256(std::span<const std::uint8_t> bytes, std::span<std::uint8_t, digest_size> digest) {
  Sha256 hash;
  hash.update(bytes);
  hash.finish(digest);
}

bool equal_constant_time(std::span<const std::uint8_t> a, std::span<const std::uint8_t> b) {
  if (a.size() != b.size()) {
    return false;
  }
  volatile std::uint8_t difference = 0;  // volatile: no early exit may be invented
  for (std::size_t i = 0; i < a.size(); ++i) {
    difference = static_cast<std::uint8_t>(difference | (a[i] ^ b[i]));
  }
  return difference == 0;
}

bool ed25519_verify(std::span<const std::uint8_t, signature_size> signature,
                    std::span<const std::uint8_t> message,
                    std::span<const std::uint8_t, public_key_size> public_key) {
  return strandproof_crypto_sign_ed25519_verify_detached(signature.data(), message.data(), message.size(),
                                                         public_key.data()) == 0;
}

}  // namespace strandproof::crypto
