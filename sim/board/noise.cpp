#include "sim/board/noise.hpp"

#include <Random123/philox.h>

#include <bit>
#include <vector>

namespace strandproof::sim {
namespace {

constexpr unsigned segments_log2 = 6;
constexpr unsigned segments = 1U << segments_log2;
constexpr unsigned octaves = 31;  // tail probabilities from 1/2 down to 2^-32

// e^-y for y >= 0 by halving the argument until the series is short, then squaring back.
double exp_minus(double y) {
  double scaled = y;
  int halvings = 0;
  while (scaled > 0.0625) {
    scaled *= 0.5;
    ++halvings;
  }
  double term = 1.0;
  double sum = 1.0;
  for (int i = 1; i < 12; ++i) {
    term *= -scaled / i;
    sum += term;
  }
  for (; halvings > 0; --halvings) {
    sum *= sum;
  }
  return sum;
}

constexpr double one_over_sqrt_two_pi = 0.39894228040143267794;

// Probability that a standard normal lies above x >= 0: Laplace's continued fraction in the tail
// (Abramowitz and Stegun 26.2.14), the alternating-free series 26.2.11 near the middle.
double upper_tail(double x) {
  const double density = one_over_sqrt_two_pi * exp_minus(0.5 * x * x);
  if (x > 3.0) {
    double fraction = x;
    for (int i = 200; i > 0; --i) {
      fraction = x + i / fraction;
    }
    return density / fraction;
  }
  double term = x;
  double sum = x;
  for (int i = 1; i < 80; ++i) {
    term *= x * x / (2 * i + 1);
    sum += term;
  }
  return 0.5 - density * sum;
}

double quantile_of_tail(double probability) {
  double low = 0.0;
  double high = 7.0;
  for (int i = 0; i < 60; ++i) {  // bisection: slow, sure, and done once
    const double middle = 0.5 * (low + high);
    (upper_tail(middle) > probability ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

// Row o holds the quantiles at tail probabilities 2^-(o+2) (1 + j/64), j = 0..64.
std::vector<float> make_table() {
  std::vector<float> points;
  points.reserve(octaves * (segments + 1));
  double octave = 0.25;
  for (unsigned o = 0; o < octaves; ++o, octave *= 0.5) {
    for (unsigned j = 0; j <= segments; ++j) {
      points.push_back(static_cast<float>(quantile_of_tail(octave * (1.0 + double(j) / segments))));
    }
  }
  return points;
}

// Made once. Whoever draws more than one number asks for it once: the question costs as much as a draw.
const float* quantiles() {
  static const std::vector<float> table = make_table();
  return table.data();
}

// Without a branch or a count of bits, so that a loop over it becomes one over vectors: as a double the tail
// probability has its octave in the exponent, and segment and part in the fraction.
inline float quantile(const float* table, std::uint32_t u) {
  const bool negative = u < 0x80000000U;
  const std::uint64_t tail =
      2ULL * (negative ? u : ~u) + 1ULL;                   // an odd number of 2^33ths, from the near end
  constexpr std::uint64_t two_52 = 0x4330000000000000ULL;  // as the bits of a double
  const double exact = std::bit_cast<double>(tail | two_52) - std::bit_cast<double>(two_52);
  const std::uint64_t bits = std::bit_cast<std::uint64_t>(exact);
  const std::uint32_t top = static_cast<std::uint32_t>(bits >> 52U) - 1023U;  // of its highest bit, 0 .. 31
  // tail / 2^33 lies in [2^(top-33), 2^(top-32)): octave 0 is [1/4, 1/2), top 31.
  const std::uint32_t octave = top >= 1 ? 31U - top : 30U;
  const std::uint32_t segment = static_cast<std::uint32_t>(bits >> (52U - segments_log2)) % segments;
  const auto part = static_cast<std::int32_t>((bits >> (28U - segments_log2)) & 0xFFFFFFU);
  const std::uint32_t at = octave * (segments + 1) + segment;
  const float size =
      table[at] + (table[at + 1] - table[at]) * (static_cast<float>(part) * (1.0F / 16777216.0F));
  return negative ? -size : size;
}

// Always inline: a loop that calls it is none over vectors.
[[gnu::always_inline]] inline r123::Philox4x32::ctr_type philox(std::uint64_t seed, std::uint32_t counter,
                                                                std::uint32_t block) {
  const r123::Philox4x32::ctr_type place = {{counter, block, 0, 0}};
  const r123::Philox4x32::key_type key = {
      {static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32U)}};
  return r123::Philox4x32{}(place, key);
}

}  // namespace

float normal_quantile(std::uint32_t u) {
  return quantile(quantiles(), u);
}

std::array<float, 4> Noise::normal(std::uint32_t tick, std::uint32_t block, unsigned streams) const {
  const r123::Philox4x32::ctr_type bits = philox(seed_, tick, block);
  const float* table = quantiles();
  std::array<float, 4> normal{};
  for (unsigned i = 0; i < streams; ++i) {
    normal[i] = quantile(table, bits[i]);
  }
  return normal;
}

// Stream by stream: each loop is one over vectors.
void NoiseAhead::draw(std::uint32_t tick) {
  first_ = tick - tick % at_once;
  drawn_ = true;
  std::array<std::array<std::uint32_t, at_once>, 4> bits;
  for (std::uint32_t i = 0; i < at_once; ++i) {
    const r123::Philox4x32::ctr_type four = philox(seed_, first_ + i, 0);
    bits[0][i] = four[0];
    bits[1][i] = four[1];
    bits[2][i] = four[2];
    bits[3][i] = four[3];
  }
  const float* table = quantiles();
  for (unsigned s = 0; s < streams_; ++s) {
    for (std::uint32_t i = 0; i < at_once; ++i) {
      normals_[s][i] = quantile(table, bits[s][i]);
    }
  }
}

std::array<double, 4> Noise::uniform(std::uint32_t index, std::uint32_t block) const {
  const r123::Philox4x32::ctr_type bits = philox(seed_, index, block ^ 0x80000000U);
  std::array<double, 4> out{};
  for (std::size_t i = 0; i < 4; ++i) {
    out[i] = (bits[i] + 0.5) / 4294967296.0;
  }
  return out;
}

}  // namespace strandproof::sim
