// SHA-256 and HMAC against published vectors. Sources: NIST's examples for FIPS 180-4 (one block, two blocks,
// 896 bits, a million 'a'), the empty message as in NIST's CAVP short messages; RFC 4231, sections 4.2
// to 4.8.
#include <gtest/gtest.h>

#include <array>

#include "firmware/crypto/crypto.hpp"
#include "tests/crypto/hex.hpp"

namespace strandproof::test {
namespace {

using crypto::HmacSha256;
using crypto::Sha256;
using Digest = std::array<std::uint8_t, 32>;

std::vector<std::uint8_t> digest_of(const std::vector<std::uint8_t>& message) {
  Digest d{};
  crypto::sha256(message, d);
  return {d.begin(), d.end()};
}

TEST(Sha256, MatchesThePublishedExamples) {
  EXPECT_EQ(digest_of({}), bytes("e3b0c442 98fc1c14 9afbf4c8 996fb924 27ae41e4 649b934c a495991b 7852b855"));
  EXPECT_EQ(digest_of(text("abc")),
            bytes("ba7816bf 8f01cfea 414140de 5dae2223 b00361a3 96177a9c b410ff61 f20015ad"));
  EXPECT_EQ(digest_of(text("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq")),
            bytes("248d6a61 d20638b8 e5c02693 0c3e6039 a33ce459 64ff2167 f6ecedd4 19db06c1"));
  EXPECT_EQ(digest_of(text("abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmn"
                           "hijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu")),
            bytes("cf5b16a7 78af8380 036ce59e 7b049237 0b249b11 e8f07a51 afac4503 7afee9d1"));
  EXPECT_EQ(digest_of(std::vector<std::uint8_t>(1'000'000, 'a')),
            bytes("cdc76e5c 9914fb92 81a1c7e2 84d73e67 f1809a48 a497200e 046d39cc c7112cd0"));
}

TEST(Sha256, FedInPiecesOfAnyLengthGivesTheSame) {
  const auto message = std::vector<std::uint8_t>(1000, 'a');
  const auto whole = digest_of(message);
  for (std::size_t piece = 1; piece <= 130; ++piece) {  // across the block length of 64 and twice that
    Sha256 hash;
    for (std::size_t at = 0; at < message.size(); at += piece) {
      hash.update(std::span{message}.subspan(at, std::min(piece, message.size() - at)));
    }
    Digest d{};
    hash.finish(d);
    ASSERT_EQ((std::vector<std::uint8_t>{d.begin(), d.end()}), whole) << "pieces of " << piece;
  }
}

TEST(Sha256, MayBeReadAndFedFurther) {
  Sha256 hash;
  Digest d{};
  hash.update(text("a"));
  hash.finish(d);
  hash.update(text("bc"));
  hash.finish(d);
  EXPECT_EQ((std::vector<std::uint8_t>{d.begin(), d.end()}), digest_of(text("abc")));
}

struct HmacVector {
  int section;
  std::vector<std::uint8_t> key, data;
  const char* tag;
};

const std::vector<HmacVector>& rfc4231() {
  static const std::vector<HmacVector> vectors{
      {2, std::vector<std::uint8_t>(20, 0x0b), text("Hi There"),
       "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"},
      {3, text("Jefe"), text("what do ya want for nothing?"),
       "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"},
      {4, std::vector<std::uint8_t>(20, 0xaa), std::vector<std::uint8_t>(50, 0xdd),
       "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe"},
      {5, bytes("0102030405060708090a0b0c0d0e0f10111213141516171819"), std::vector<std::uint8_t>(50, 0xcd),
       "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b"},
      // The RFC prints only the first 128 bits of this one.
      {6, std::vector<std::uint8_t>(20, 0x0c), text("Test With Truncation"),
       "a3b6167473100ee06e0c796c2955552b"},
      {7, std::vector<std::uint8_t>(131, 0xaa),
       text("Test Using Larger Than Block-Size Key - Hash Key First"),
       "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"},
      {8, std::vector<std::uint8_t>(131, 0xaa),
       text("This is a test using a larger than block-size key and a larger than block-size data. "
            "The key needs to be hashed before being used by the HMAC algorithm."),
       "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2"}};
  return vectors;
}

TEST(HmacSha256, MatchesAllSevenCasesOfRfc4231) {
  ASSERT_EQ(rfc4231().size(), 7U);
  for (const HmacVector& v : rfc4231()) {
    HmacSha256 hmac{v.key};
    hmac.update(std::span{v.data}.first(v.data.size() / 2));
    hmac.update(std::span{v.data}.subspan(v.data.size() / 2));
    Digest tag{};
    hmac.finish(tag);
    const auto expected = bytes(v.tag);
    EXPECT_EQ((std::vector<std::uint8_t>{tag.begin(), tag.begin() + static_cast<int>(expected.size())}),
              expected)
        << "RFC 4231, section 4." << v.section;
  }
}

TEST(EqualConstantTime, SeesEveryBitAndTheLength) {
  const auto a = bytes("00112233445566778899aabbccddeeff");
  EXPECT_TRUE(crypto::equal_constant_time(a, a));
  EXPECT_TRUE(crypto::equal_constant_time({}, {}));
  EXPECT_FALSE(crypto::equal_constant_time(a, std::span{a}.first(15)));
  for (std::size_t bit = 0; bit < a.size() * 8; ++bit) {
    auto b = a;
    b[bit / 8] = static_cast<std::uint8_t>(b[bit / 8] ^ (1U << (bit % 8)));
    ASSERT_FALSE(crypto::equal_constant_time(a, b)) << "bit " << bit;
  }
}

}  // namespace
}  // namespace strandproof::test
