// Ed25519 verification against RFC 8032 and against the host's libsodium as a second, 64-bit build. That both
// can be linked here also shows that their names do not clash.
#include <gtest/gtest.h>
#include <sodium.h>

#include <algorithm>
#include <array>

#include "firmware/crypto/crypto.hpp"
#include "tests/crypto/hex.hpp"
#include "tests/crypto/rfc8032.hpp"

namespace strandproof::test {
namespace {

using Bytes = std::vector<std::uint8_t>;

bool verifies(const Bytes& signature, const Bytes& message, const Bytes& key) {
  return crypto::ed25519_verify(std::span<const std::uint8_t, 64>{signature}, message,
                                std::span<const std::uint8_t, 32>{key});
}

void flip(Bytes& bytes, std::size_t bit) {
  bytes[bit / 8] = static_cast<std::uint8_t>(bytes[bit / 8] ^ (1U << (bit % 8)));
}

TEST(Ed25519, AcceptsEveryVectorOfRfc8032) {
  for (const Ed25519Vector& v : rfc8032) {
    EXPECT_TRUE(verifies(bytes(v.signature), bytes(v.message), bytes(v.public_key))) << v.name;
  }
}

// Every bit of every signature and key, and the first 512 bits of every message.
TEST(Ed25519, RejectsEveryFlippedBit) {
  for (const Ed25519Vector& v : rfc8032) {
    Bytes signature = bytes(v.signature);
    Bytes message = bytes(v.message);
    Bytes key = bytes(v.public_key);
    for (Bytes* part : {&signature, &message, &key}) {
      for (std::size_t bit = 0; bit < std::min<std::size_t>(part->size() * 8, 512); ++bit) {
        flip(*part, bit);
        ASSERT_FALSE(verifies(signature, message, key)) << v.name << ", bit " << bit;
        flip(*part, bit);
      }
    }
    ASSERT_TRUE(verifies(signature, message, key)) << v.name;
  }
}

// RFC 8032, section 5.1.7: S must lie in [0, L). S + L satisfies the group equation just as well, so only
// this check tells it from S. L = 2^252 + 27742317777372353535851937790883648493 (section 5.1),
// little-endian:
TEST(Ed25519, RejectsAnSThatIsNotReduced) {
  const Bytes order = bytes("edd3f55c1a631258d69cf7a2def9de14 00000000000000000000000000000010");
  for (const Ed25519Vector& v : rfc8032) {
    Bytes signature = bytes(v.signature);
    unsigned carry = 0;
    for (std::size_t i = 0; i < 32; ++i) {
      carry += static_cast<unsigned>(signature[32 + i]) + order[i];
      signature[32 + i] = static_cast<std::uint8_t>(carry & 0xFFU);
      carry >>= 8U;
    }
    ASSERT_EQ(carry, 0U);
    EXPECT_FALSE(verifies(signature, bytes(v.message), bytes(v.public_key))) << v.name;
  }
}

// With the identity as the key, S = 1 and R = B (the base point, RFC 8032, section 5.1) satisfy the group
// equation for any message at all: only the check of the key itself refuses it.
Bytes signature_of_anything() {
  return bytes(
      "5866666666666666666666666666666666666666666666666666666666666666"
      "0100000000000000000000000000000000000000000000000000000000000000");
}

TEST(Ed25519, RejectsAKeyOfSmallOrder) {
  Bytes identity(32, 0);
  identity[0] = 1;
  EXPECT_FALSE(verifies(signature_of_anything(), text("anything"), identity));
}

// y = p + 1 with p = 2^255 - 19: the identity again, in a form that RFC 8032, section 5.1.3, does not allow.
TEST(Ed25519, RejectsAKeyThatIsNotCanonical) {
  const Bytes identity = bytes("eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f");
  EXPECT_FALSE(verifies(signature_of_anything(), text("anything"), identity));
}

TEST(Ed25519, AgreesWithTheHostsLibraryOnSignaturesItMakes) {
  ASSERT_GE(sodium_init(), 0);
  for (std::uint8_t n = 0; n < 32; ++n) {
    Bytes seed(crypto_sign_SEEDBYTES, n);
    Bytes key(crypto_sign_PUBLICKEYBYTES), secret(crypto_sign_SECRETKEYBYTES), signature(crypto_sign_BYTES);
    ASSERT_EQ(crypto_sign_seed_keypair(key.data(), secret.data(), seed.data()), 0);
    const Bytes message(n * 37U, static_cast<std::uint8_t>(255 - n));
    ASSERT_EQ(crypto_sign_detached(signature.data(), nullptr, message.data(), message.size(), secret.data()),
              0);
    EXPECT_TRUE(verifies(signature, message, key)) << "seed of bytes " << int{n};
  }
}

}  // namespace
}  // namespace strandproof::test
