// The wire's building blocks against published values.
#include <gtest/gtest.h>

#include <algorithm>
#include <numeric>
#include <string_view>
#include <vector>

#include "proto/cobs.hpp"
#include "proto/crc32c.hpp"
#include "proto/lockstep.hpp"

namespace strandproof::proto {
namespace {

using Vector = std::vector<std::uint8_t>;

Vector text(std::string_view s) {
  return {s.begin(), s.end()};
}

Vector rising(int first, int last) {
  Vector v(static_cast<std::size_t>(last - first + 1));
  std::iota(v.begin(), v.end(), static_cast<std::uint8_t>(first));
  return v;
}

Vector join(std::initializer_list<Vector> parts) {
  Vector all;
  for (const Vector& p : parts) {
    all.insert(all.end(), p.begin(), p.end());
  }
  return all;
}

// Check value of CRC-32/ISCSI (Castagnoli) as catalogues of CRC algorithms list it; from memory.
TEST(Crc32c, CheckValue) {
  EXPECT_EQ(crc32c(text("123456789")), 0xE3069283U);
}

// RFC 3720, Appendix B.4. The RFC prints the bytes as sent, lowest first.
TEST(Crc32c, Rfc3720) {
  EXPECT_EQ(crc32c(Vector(32, 0x00)), 0x8A9136AAU);
  EXPECT_EQ(crc32c(Vector(32, 0xFF)), 0x62A8AB43U);
  EXPECT_EQ(crc32c(rising(0x00, 0x1F)), 0x46DD794EU);
  Vector falling = rising(0x00, 0x1F);
  std::reverse(falling.begin(), falling.end());
  EXPECT_EQ(crc32c(falling), 0x113FDB5CU);
  const Vector read_command{0x01, 0xC0, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00,
                            0x00, 0x00, 0x00, 0x00, 0x14, 0x00, 0x00, 0x00, 0x00, 0x00, 0x04, 0x00,
                            0x00, 0x00, 0x00, 0x14, 0x00, 0x00, 0x00, 0x18, 0x28, 0x00, 0x00, 0x00,
                            0x00, 0x00, 0x00, 0x00, 0x02, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00};
  EXPECT_EQ(crc32c(read_command), 0xD9963A56U);
}

TEST(Crc32c, MayBeFedInPieces) {
  const Vector all = text("123456789");
  for (std::size_t cut = 0; cut <= all.size(); ++cut) {
    const std::span<const std::uint8_t> s{all};
    EXPECT_EQ(crc32c(s.subspan(cut), crc32c(s.first(cut))), 0xE3069283U);
  }
}

// Check value of CRC-16/XMODEM as catalogues of CRC algorithms list it; from memory.
TEST(Crc16, CheckValue) {
  EXPECT_EQ(lockstep::crc16(text("123456789")), 0x31C3U);
}

// The examples that are published with the algorithm of Cheshire and Baker (IEEE/ACM Transactions on
// Networking 7(2), 1999) in the encyclopedias, without the closing zero, which belongs to the frame here.
TEST(Cobs, PublishedExamples) {
  const std::vector<std::pair<Vector, Vector>> examples = {
      {{}, {0x01}},
      {{0x00}, {0x01, 0x01}},
      {{0x00, 0x00}, {0x01, 0x01, 0x01}},
      {{0x00, 0x11, 0x00}, {0x01, 0x02, 0x11, 0x01}},
      {{0x11, 0x22, 0x00, 0x33}, {0x03, 0x11, 0x22, 0x02, 0x33}},
      {{0x11, 0x22, 0x33, 0x44}, {0x05, 0x11, 0x22, 0x33, 0x44}},
      {{0x11, 0x00, 0x00, 0x00}, {0x02, 0x11, 0x01, 0x01, 0x01}},
      {rising(0x01, 0xFE), join({{0xFF}, rising(0x01, 0xFE)})},
      {join({{0x00}, rising(0x01, 0xFE)}), join({{0x01, 0xFF}, rising(0x01, 0xFE)})},
      {rising(0x01, 0xFF), join({{0xFF}, rising(0x01, 0xFE), {0x02, 0xFF}})},
      {join({rising(0x02, 0xFF), {0x00}}), join({{0xFF}, rising(0x02, 0xFF), {0x01, 0x01}})},
      {join({rising(0x03, 0xFF), {0x00, 0x01}}), join({{0xFE}, rising(0x03, 0xFF), {0x02, 0x01}})},
  };
  for (const auto& [plain, encoded] : examples) {
    Vector into(cobs_size_max(plain.size()));
    into.resize(cobs_encode(plain, into));
    EXPECT_EQ(into, encoded);
    Vector back(encoded.size());
    const CobsDecoded d = cobs_decode(encoded, back);
    ASSERT_TRUE(d.good);
    back.resize(d.size);
    EXPECT_EQ(back, plain);
  }
}

TEST(Cobs, WhatIsNotTheCanonicalFormIsRefused) {
  const std::vector<Vector> bad = {
      {},                                          // nothing at all
      {0x00},                                      // a zero
      {0x03, 0x11},                                // a block longer than what is there
      {0x03, 0x00, 0x11},                          // a zero in a block
      join({{0xFF}, rising(0x01, 0xFE), {0x01}}),  // a code that says nothing after a full block
  };
  for (const Vector& v : bad) {
    Vector back(600);
    EXPECT_FALSE(cobs_decode(v, back).good);
  }
}

// Whatever decodes, encodes to the same bytes: one encoding for each message. All strings up to four bytes
// over an alphabet with every kind of code.
TEST(Cobs, TheDecoderTakesWhatTheEncoderMakesAndNothingElse) {
  const Vector alphabet{0x00, 0x01, 0x02, 0x03, 0x04, 0x05, 0xFE, 0xFF};
  unsigned good = 0;
  for (unsigned n = 0; n < 8U * 8U * 8U * 8U; ++n) {
    for (std::size_t length = 1; length <= 4; ++length) {
      Vector v(length);
      for (std::size_t i = 0; i < length; ++i) {
        v[i] = alphabet[(n >> (3U * i)) & 7U];
      }
      Vector plain(8);
      const CobsDecoded d = cobs_decode(v, plain);
      if (!d.good) {
        continue;
      }
      ++good;
      plain.resize(d.size);
      Vector again(cobs_size_max(plain.size()));
      again.resize(cobs_encode(plain, again));
      EXPECT_EQ(again, v);
    }
  }
  EXPECT_GT(good, 100U);
}

TEST(Cobs, TooShortABufferIsToldAndNotOverrun) {
  const Vector plain = join({rising(1, 254), {0x00}, rising(1, 40)});
  const std::size_t whole = plain.size() + 2;
  Vector into(whole, 0xEE);
  EXPECT_EQ(cobs_encode(plain, into), whole);
  for (std::size_t room = 0; room < whole; ++room) {
    EXPECT_EQ(cobs_encode(plain, std::span{into}.first(room)), 0U) << room;
  }
}

}  // namespace
}  // namespace strandproof::proto
