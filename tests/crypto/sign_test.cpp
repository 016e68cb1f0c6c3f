// The signing job against RFC 8032, section 7.1 (secret keys as printed there), and against the host's
// libsodium, whose field arithmetic is another (64 bits) and which signs in one call.
#include <gtest/gtest.h>
#include <sodium.h>

#include <algorithm>
#include <random>

#include "firmware/crypto/sign_job.hpp"
#include "tests/crypto/hex.hpp"
#include "tests/crypto/rfc8032.hpp"

namespace strandproof::test {
namespace {

using crypto::SignJob;

SignJob::Seed seed_of(std::string_view hex) {
  SignJob::Seed seed{};
  std::ranges::copy(bytes(hex), seed.begin());
  return seed;
}

int run(SignJob& job) {
  int steps = 1;
  while (!job.step()) {
    ++steps;
  }
  return steps;
}

TEST(SignJob, MakesTheSignaturesOfRfc8032) {
  constexpr std::array secrets{
      std::string_view{"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"},
      std::string_view{"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb"},
      std::string_view{"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7"}};
  for (std::size_t i = 0; i < secrets.size(); ++i) {
    SignJob job;
    job.begin(seed_of(secrets[i]), bytes(rfc8032[i].message));
    (void)run(job);
    EXPECT_TRUE(std::ranges::equal(job.public_key(), bytes(rfc8032[i].public_key))) << rfc8032[i].name;
    EXPECT_TRUE(std::ranges::equal(job.signature(), bytes(rfc8032[i].signature))) << rfc8032[i].name;
  }
}

TEST(SignJob, AgreesWithLibsodiumOnTwoHundredKeysAndMessages) {
  ASSERT_GE(sodium_init(), 0);
  std::mt19937 random{20261125};
  SignJob job;
  for (int i = 0; i < 200; ++i) {
    SignJob::Seed seed{};
    std::ranges::generate(seed, [&] { return static_cast<std::uint8_t>(random()); });
    std::vector<std::uint8_t> message(random() % (SignJob::message_max + 1));
    std::ranges::generate(message, [&] { return static_cast<std::uint8_t>(random()); });
    SignJob::PublicKey key{};
    std::array<std::uint8_t, 64> secret{};
    SignJob::Signature expected{};
    crypto_sign_seed_keypair(key.data(), secret.data(), seed.data());
    crypto_sign_detached(expected.data(), nullptr, message.data(), message.size(), secret.data());
    job.begin(seed, message);
    (void)run(job);
    ASSERT_EQ(job.public_key(), key) << i;
    ASSERT_EQ(job.signature(), expected) << i;
  }
}

// The second signature of a jack has no public key to make: half the steps, the same bytes.
TEST(SignJob, KeepsThePublicKeyOfASeedAndNoOther) {
  const SignJob::Seed one = seed_of("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60");
  const SignJob::Seed other = seed_of("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb");
  SignJob job;
  job.begin(one, {});
  EXPECT_EQ(run(job), 577);
  job.begin(one, {});
  EXPECT_EQ(run(job), 290);
  EXPECT_TRUE(std::ranges::equal(job.signature(), bytes(rfc8032[0].signature)));
  job.begin(other, bytes("72"));
  EXPECT_EQ(run(job), 577);
  EXPECT_TRUE(std::ranges::equal(job.signature(), bytes(rfc8032[1].signature)));
}

TEST(SignJob, ADroppedJobLeavesNothingAndBeginsAgain) {
  SignJob job;
  const SignJob::Seed seed = seed_of("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60");
  job.begin(seed, {});
  for (int i = 0; i < 300; ++i) {
    ASSERT_FALSE(job.step());
  }
  job.drop();
  EXPECT_FALSE(job.running());
  EXPECT_FALSE(job.step());
  job.begin(seed, {});
  (void)run(job);
  EXPECT_TRUE(std::ranges::equal(job.signature(), bytes(rfc8032[0].signature)));
}

}  // namespace
}  // namespace strandproof::test
