// The frame: bounds, damage, being in step again. What a decoder must not accept is counted over every error
// of a kind, and the counting is itself shown to count by a check that is made worse on purpose.
#include "proto/frame.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <vector>

#include "proto/lockstep.hpp"

namespace strandproof::proto {
namespace {

using Vector = std::vector<std::uint8_t>;

Vector framed(const FrameHeader& h, const Vector& payload) {
  Vector out(frame_max);
  out.resize(encode_frame(h, payload, out));
  return out;
}

// What stands on the wire for these encoded bytes, with their right check.
Vector around(const Vector& encoded) {
  Vector out(1 + encoded.size() + crc_size + 1);
  std::copy(encoded.begin(), encoded.end(), out.begin() + 1);
  put_crc(crc32c(encoded), std::span<std::uint8_t, crc_size>{out.data() + 1 + encoded.size(), crc_size});
  return out;
}

const FrameHeader header{.type = FrameType::status, .device = 4711, .session = 7, .sequence = 9};
const Vector small_payload{0x08, 0x05, 0x00, 0x10, 0xFF};

struct Stream {
  std::array<std::uint8_t, FrameDecoder::buffer_size> buffer{};
  FrameDecoder decoder{buffer};
  std::vector<Vector> payloads;

  void push(const Vector& bytes) {
    for (const std::uint8_t b : bytes) {
      if (decoder.push(b)) {
        const auto& p = decoder.frame().payload;
        payloads.emplace_back(p.begin(), p.end());
      }
    }
  }
};

TEST(Frame, TheHeaderIsWhereSpecSaysItIs) {
  const Vector f = framed(header, {});
  const Vector plain{1, 8, 0, 0, 0x67, 0x12, 0, 0, 7, 0, 0, 0, 9, 0, 0, 0};  // 4711 is 1267 in hex
  Vector encoded(cobs_size_max(plain.size()));
  encoded.resize(cobs_encode(plain, encoded));
  Vector wanted(encoded.size() + 7);
  std::copy(encoded.begin(), encoded.end(), wanted.begin() + 1);
  const std::uint32_t crc = crc32c(encoded);
  for (unsigned i = 0; i < 5; ++i) {
    wanted[encoded.size() + 1 + i] = static_cast<std::uint8_t>(0x80U | ((crc >> (7U * i)) & 0x7FU));
  }
  EXPECT_EQ(f, wanted);
}

TEST(Frame, EveryLengthComesBackAndNoneIsTooLongForDistanceSix) {
  std::mt19937 random{1};
  for (std::size_t n = 0; n <= payload_max; ++n) {
    for (const unsigned zeros : {0U, 2U, 256U}) {  // none, half, all
      Vector payload(n);
      for (std::uint8_t& b : payload) {
        b = zeros == 256 || random() % 2 < zeros / 2 ? std::uint8_t{0}
                                                     : static_cast<std::uint8_t>(1 + random() % 255);
      }
      const Vector f = framed(header, payload);
      ASSERT_GT(f.size(), 0U);
      ASSERT_LE(f.size() - 2 - crc_size, encoded_max);
      ASSERT_EQ(std::count(f.begin() + 1, f.end() - 1, 0), 0);
      Stream s;
      s.push(f);
      ASSERT_EQ(s.payloads, std::vector<Vector>{payload}) << n;
      EXPECT_EQ(s.decoder.frame().header.device, 4711U);
      EXPECT_EQ(s.decoder.frame().header.session, 7U);
      EXPECT_EQ(s.decoder.frame().header.sequence, 9U);
      EXPECT_EQ(s.decoder.frame().header.type, FrameType::status);
    }
  }
  Vector out(frame_max);
  EXPECT_EQ(encode_frame(header, Vector(payload_max + 1), out), 0U);
  EXPECT_EQ(encode_frame(header, {}, std::span{out}.first(frame_max - 1)), 0U);
}

// H24. Nothing of a damaged frame gets through, and the next frame does.
TEST(Frame, H24_EverySingleBitErrorIsRefusedAndTheNextFrameIsTaken) {
  const Vector good = framed(header, small_payload);
  for (std::size_t bit = 0; bit < good.size() * 8; ++bit) {
    Vector bad = good;
    bad[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    Stream s;
    s.push(bad);
    EXPECT_TRUE(s.payloads.empty()) << bit;
    s.push(good);
    EXPECT_EQ(s.payloads.size(), 1U) << bit;
    EXPECT_EQ(s.decoder.counters().frames, 1U);
    // A flip that makes a zero cuts the frame in two: as many bad ones as there are pieces.
    unsigned pieces = 0;
    for (std::size_t i = 0; i < bad.size(); ++i) {
      pieces += bad[i] != 0 && (i == 0 || bad[i - 1] == 0) ? 1U : 0U;
    }
    EXPECT_EQ(s.decoder.counters().bad, pieces) << bit;
  }
}

TEST(Frame, H24_EveryTwoBitErrorIsRefused) {
  const Vector good = framed(header, small_payload);
  const std::size_t bits = good.size() * 8;
  unsigned accepted = 0;
  for (std::size_t a = 0; a < bits; ++a) {
    for (std::size_t b = a + 1; b < bits; ++b) {
      Vector bad = good;
      bad[a / 8] ^= static_cast<std::uint8_t>(1U << (a % 8));
      bad[b / 8] ^= static_cast<std::uint8_t>(1U << (b % 8));
      Stream s;
      s.push(bad);
      accepted += static_cast<unsigned>(s.payloads.size());
    }
  }
  EXPECT_EQ(accepted, 0U) << "of " << bits * (bits - 1) / 2;
}

// A CRC of 32 bits is expected to miss 2e-4 of a million random errors, so "none missed" alone would also be
// said of a CRC over half of the frame. The same errors are therefore put to three checks: the whole one, one
// scaled down to 8 bits (1 in 256 must pass), and one whose range stops half-way (what hits only the rest
// passes).
TEST(Frame, H24_TheErrorCountingCounts) {
  std::mt19937 random{24};
  const Vector frame = framed(header, Vector(60, 0x55));
  const Vector body{frame.begin() + 1, frame.end() - 1 - crc_size};
  const std::uint32_t crc = crc32c(body);
  const std::span<const std::uint8_t> all{body};
  const std::uint32_t half_crc = crc32c(all.first(body.size() / 2));
  constexpr unsigned trials = 200'000;
  unsigned whole = 0, scaled = 0, half = 0, harmless = 0;
  for (unsigned t = 0; t < trials; ++t) {
    Vector bad = body;
    // A burst of random bytes: longer than 32 bits, or a CRC would never miss one.
    const std::size_t at = random() % (bad.size() - 8);
    for (std::size_t i = at; i < at + 8; ++i) {
      bad[i] = static_cast<std::uint8_t>(random());
    }
    harmless += bad == body ? 1U : 0U;
    const std::span<const std::uint8_t> b{bad};
    whole += crc32c(b) == crc ? 1U : 0U;
    scaled += (crc32c(b) & 0xFFU) == (crc & 0xFFU) ? 1U : 0U;
    half += crc32c(b.first(body.size() / 2)) == half_crc ? 1U : 0U;
  }
  EXPECT_EQ(harmless, 0U);
  EXPECT_EQ(whole, 0U);
  const double expected = trials / 256.0;  // 781; five standard deviations of a Poisson count are 140
  EXPECT_NEAR(scaled, expected, 5.0 * 27.95);
  EXPECT_GT(half, trials / 3);
}

TEST(Frame, CutFramesAreDroppedAndCounted) {
  const Vector good = framed(header, small_payload);
  for (std::size_t n = 1; n + 1 < good.size(); ++n) {
    Stream s;
    s.push({good.begin(), good.begin() + static_cast<std::ptrdiff_t>(n)});
    s.push(good);
    EXPECT_EQ(s.payloads, std::vector<Vector>{small_payload}) << n;
    EXPECT_EQ(s.decoder.counters().bad, n > 1 ? 1U : 0U);
    EXPECT_EQ(s.decoder.counters().dropped_bytes, n - 1);
  }
}

// A pause between frames, or one zero where two could stand.
TEST(Frame, ZerosBetweenFramesAreNotFrames) {
  const Vector good = framed(header, small_payload);
  Stream s;
  s.push(Vector(50, 0));
  s.push(good);
  s.push({good.begin() + 1, good.end()});  // shares the zero of the one before
  s.push(Vector(50, 0));
  EXPECT_EQ(s.payloads.size(), 2U);
  EXPECT_EQ(s.decoder.counters().bad, 0U);
  EXPECT_EQ(s.decoder.counters().dropped_bytes, 0U);
}

// H27. Noise of any length costs no memory, is counted, and hides at most the frame that it touches.
TEST(Frame, H27_InStepAgainAfterNoise) {
  std::mt19937 random{27};
  const Vector good = framed(header, small_payload);
  unsigned long noise_bytes = 0;
  Stream s;
  for (int round = 1; round <= 400; ++round) {
    Vector noise(random() % 2'000);
    for (std::uint8_t& b : noise) {
      b = static_cast<std::uint8_t>(random());
    }
    noise_bytes += noise.size();
    s.push(noise);
    s.push(good);
    ASSERT_EQ(s.payloads.size(), static_cast<std::size_t>(round));
    ASSERT_EQ(s.payloads.back(), small_payload);
  }
  EXPECT_LE(s.decoder.counters().dropped_bytes, noise_bytes);
  EXPECT_GT(s.decoder.counters().dropped_bytes, noise_bytes * 98 / 100);
}

TEST(Frame, OneByteTooLongIsNoFrame) {
  // A right CRC over 513 encoded bytes: only the bound can refuse it.
  const Vector f = around(Vector(encoded_max + 1, 0x01));
  Stream s;
  s.push(f);
  EXPECT_TRUE(s.payloads.empty());
  EXPECT_EQ(s.decoder.counters().bad, 1U);
  EXPECT_EQ(s.decoder.counters().dropped_bytes, f.size() - 2);
}

// Frames with a right CRC that are still not of this protocol.
TEST(Frame, RightCrcOverAWrongInsideIsRefused) {
  const auto accepted = [](const Vector& encoded) {
    Stream s;
    s.push(around(encoded));
    return !s.payloads.empty();
  };
  const auto encoded = [](const Vector& plain) {
    Vector e(cobs_size_max(plain.size()));
    e.resize(cobs_encode(plain, e));
    return e;
  };
  Vector plain{1, 8, 2, 0, 0x67, 0x12, 0, 0, 7, 0, 0, 0, 9, 0, 0, 0, 0xAA, 0xBB};
  EXPECT_TRUE(accepted(encoded(plain)));  // the control
  plain[0] = 2;
  EXPECT_FALSE(accepted(encoded(plain))) << "another frame version";
  plain[0] = 1;
  plain[2] = 3;
  EXPECT_FALSE(accepted(encoded(plain))) << "a length beyond the end";
  plain[2] = 1;
  EXPECT_FALSE(accepted(encoded(plain))) << "a byte beyond the length";
  plain[2] = 0;
  plain.resize(15);
  EXPECT_FALSE(accepted(encoded(plain))) << "no whole header";
  Vector full(254, 0x11);
  full[0] = 1;
  full[2] = 238;
  full[3] = 0;  // the zero ends the first block; fill so that a full block is last
  Vector e = encoded(full);
  EXPECT_TRUE(accepted(e));
}

TEST(Lockstep, SamplesAndAnswersComeBackAndEveryBitErrorIsFound) {
  const lockstep::Sample s{
      .tick = 0x01020304, .analog = {0x1112, 0x2122, 0x3132, 0x4142, 0x5152}, .digital = 0x6162};
  std::array<std::uint8_t, lockstep::sample_size> sample{};
  lockstep::encode(s, sample);
  lockstep::Sample back;
  ASSERT_TRUE(lockstep::decode(sample, back));
  EXPECT_EQ(back, s);
  const lockstep::Answer a{.tick = 0x0304, .outputs = 0x21, .state = 4, .cause = 101, .load_state = 1};
  std::array<std::uint8_t, lockstep::answer_size> answer{};
  lockstep::encode(a, answer);
  lockstep::Answer a_back;
  ASSERT_TRUE(lockstep::decode(answer, a_back));
  EXPECT_EQ(a_back, a);
  for (std::size_t bit = 0; bit < sample.size() * 8; ++bit) {
    auto bad = sample;
    bad[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    EXPECT_FALSE(lockstep::decode(bad, back)) << bit;
  }
  for (std::size_t bit = 0; bit < answer.size() * 8; ++bit) {
    auto bad = answer;
    bad[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    EXPECT_FALSE(lockstep::decode(bad, a_back)) << bit;
  }
}

}  // namespace
}  // namespace strandproof::proto
