// The normal table against published tail probabilities of the standard normal (Abramowitz and Stegun,
// table 26.1), and the generator's own properties: a function of (seed, tick, stream), no state.
#include "sim/board/noise.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace strandproof::sim {
namespace {

TEST(Noise, QuantilesMatchTheTables) {
  const auto at = [](double p) { return normal_quantile(static_cast<std::uint32_t>(p * 4294967296.0)); };
  EXPECT_NEAR(at(0.5), 0.0, 1e-4);
  EXPECT_NEAR(at(0.975), 1.959964, 1e-4);
  EXPECT_NEAR(at(0.025), -1.959964, 1e-4);
  EXPECT_NEAR(at(0.99865010), 3.0, 2e-4);
  EXPECT_NEAR(at(2.866516e-7), -5.0, 1e-3);
  EXPECT_NEAR(at(0.8413447), 1.0, 1e-4);
  for (std::uint64_t wide = 1; wide < 0x100000000U; wide += 0x10001U) {
    const auto u = static_cast<std::uint32_t>(wide);
    ASSERT_LE(normal_quantile(u - 1), normal_quantile(u)) << u;
  }
}

// Exact by enumeration of the table rather than by luck of a draw: the share of all 2^32 inputs beyond
// three sigma, found by bisection on the monotone table, is 2.6998e-3 (two-sided).
TEST(Noise, TailsBeyondThreeSigma) {
  std::uint64_t low = 0;
  std::uint64_t high = 1ULL << 32U;
  while (low < high) {
    const std::uint64_t middle = (low + high) / 2;
    if (normal_quantile(static_cast<std::uint32_t>(middle)) > 3.0F) {
      high = middle;
    } else {
      low = middle + 1;
    }
  }
  const double beyond = 2.0 * (4294967296.0 - static_cast<double>(low)) / 4294967296.0;
  EXPECT_NEAR(beyond, 2.699796e-3, 2e-6);
}

TEST(Noise, DrawsHaveTheMomentsAndTailsOfANormal) {
  const Noise noise(7);
  constexpr int ticks = 250000;
  double sum = 0.0;
  double square = 0.0;
  double cross = 0.0;
  int beyond = 0;
  for (int t = 0; t < ticks; ++t) {
    const auto n = noise.normal(static_cast<std::uint32_t>(t), 0);
    cross += double(n[0]) * double(n[1]);
    for (const float x : n) {
      sum += double(x);
      square += double(x) * double(x);
      beyond += std::abs(x) > 3.0F ? 1 : 0;
    }
  }
  constexpr double draws = 4.0 * ticks;
  EXPECT_NEAR(sum / draws, 0.0, 4.0 / std::sqrt(draws));
  EXPECT_NEAR(square / draws, 1.0, 4.0 * std::sqrt(2.0 / draws));
  EXPECT_NEAR(cross / ticks, 0.0, 4.0 / std::sqrt(double(ticks)));
  EXPECT_NEAR(beyond / draws, 2.699796e-3, 4.0 * std::sqrt(2.7e-3 / draws));
}

TEST(Noise, IsAFunctionOfSeedTickAndStream) {
  EXPECT_EQ(Noise(1).normal(5, 0), Noise(1).normal(5, 0));
  EXPECT_NE(Noise(1).normal(5, 0), Noise(2).normal(5, 0));
  EXPECT_NE(Noise(1).normal(5, 0), Noise(1).normal(6, 0));
  EXPECT_NE(Noise(1).normal(5, 0), Noise(1).normal(5, 1));
}

// The far group of the last ticks before the wrap, and a jump back.
TEST(NoiseAhead, IsTheNoiseOfEachTickWhateverTheOrder) {
  const Noise noise(3);
  NoiseAhead ahead(3);
  for (const std::uint32_t tick : {0U, 1U, 15U, 16U, 17U, 40U, 5U, 0xFFFFFFFFU, 0U, 0xFFFFFFF0U, 4711U}) {
    ahead.turn_to(tick);
    const std::array<float, 4> one = noise.normal(tick, 0);
    EXPECT_TRUE(std::equal(one.begin(), one.end(), ahead.normals().begin(), ahead.normals().end()))
        << "tick " << tick;
  }
}

}  // namespace
}  // namespace strandproof::sim
