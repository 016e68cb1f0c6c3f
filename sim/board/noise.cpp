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

float quantile(const float* table, std::uint32_t u) {
  const bool negative = u < 0x80000000U;
  // Tail probability as an odd 33-bit fraction: (2 t + 1) / 2^33 with t counted from the near end.
  const std::uint64_t tail = 2ULL * (negative ? u : ~u) + 1ULL;              // 1 .. 2^32 - 1
  const unsigned top = 63U - static_cast<unsigned>(std::countl_zero(tail));  // 0 .. 31
  // tail / 2^33 lies in [2^(top-33), 2^(top-32)): octave 0 is [1/4, 1/2), top 31.
  const unsigned octave = top >= 1 ? 31U - top : 30U;
  const std::uint64_t mantissa = (tail << (63U - top)) << 1U;  // bits below the leading one
  const unsigned segment = static_cast<unsigned>(mantissa >> (64U - segments_log2));
  const float part = static_cast<float>(static_cast<std::int32_t>((mantissa << segments_log2) >> 40U)) *
                     (1.0F / 16777216.0F);
  const float* point = table + octave * (segments + 1) + segment;
  const float size = point[0] + (point[1] - point[0]) * part;
  return negative ? -size : size;
}

}  // namespace

float normal_quantile(std::uint32_t u) {
  return quantile(quantiles(), u);
}

std::array<std::uint32_t, 4> Noise::draw(std::uint32_t counter, std::uint32_t block) const {
  const r123::Philox4x32::ctr_type place = {{counter, block, 0, 0}};
  const r123::Philox4x32::key_type key = {
      {static_cast<std::uint32_t>(seed_), static_cast<std::uint32_t>(seed_ >> 32U)}};
  const r123::Philox4x32::ctr_type drawn = r123::Philox4x32{}(place, key);
  return {drawn[0], drawn[1], drawn[2], drawn[3]};
}

std::array<float, 4> Noise::normal(std::uint32_t tick, std::uint32_t block, unsigned streams) const {
  const std::array<std::uint32_t, 4> bits = draw(tick, block);
  const float* table = quantiles();
  std::array<float, 4> normal{};
  for (unsigned i = 0; i < streams; ++i) {
    normal[i] = quantile(table, bits[i]);
  }
  return normal;
}

std::array<double, 4> Noise::uniform(std::uint32_t index, std::uint32_t block) const {
  const std::array<std::uint32_t, 4> bits = draw(index, block ^ 0x80000000U);
  std::array<double, 4> out{};
  for (std::size_t i = 0; i < 4; ++i) {
    out[i] = (bits[i] + 0.5) / 4294967296.0;
  }
  return out;
}

}  // namespace strandproof::sim
