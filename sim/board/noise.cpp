#include "sim/board/noise.hpp"

#include <Random123/philox.h>
#ifdef __AVX2__
#include <immintrin.h>
#endif

#include <algorithm>
#include <bit>
#include <vector>

namespace strandproof::sim {
namespace {

// The tail probability's place in the table is read off its bits as a float: exponent and six bits of the
// fraction number the segment, the others are the part of it. Octave adjoins octave, so the numbers run on.
constexpr int segments_log2 = 6;
constexpr int part_bits = 23 - segments_log2;
constexpr float smallest = 0.5F;  // 2^32ths; the largest is 2^31 of them, one half
constexpr int points = 32 << segments_log2;

// Tail probability of a point of the table, in 2^32ths.
float tail_of(int point) {
  return std::bit_cast<float>(std::bit_cast<std::int32_t>(smallest) + (point << part_bits));
}

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

// Probability that a standard normal lies above x >= 0, and its density there: Laplace's continued fraction
// in the tail (Abramowitz and Stegun 26.2.14), the alternating-free series 26.2.11 near the middle.
struct Tail {
  double above, density;
};
Tail upper_tail(double x) {
  const double density = one_over_sqrt_two_pi * exp_minus(0.5 * x * x);
  if (x > 3.0) {
    double fraction = x;
    for (int i = 40; i > 0; --i) {
      fraction = x + i / fraction;
    }
    return {density / fraction, density};
  }
  double term = x;
  double sum = x;
  for (int i = 1; term > 1e-17 * sum; ++i) {
    term *= x * x / (2 * i + 1);
    sum += term;
  }
  return {0.5 - density * sum, density};
}

// Newton's search from a quantile nearer the middle. Up there the tail is convex: no step leaps over the end.
double quantile_of_tail(double probability, double nearer) {
  double x = nearer;
  for (double step = 1.0; step > 1e-9;) {  // what is left is the square of the step
    const Tail tail = upper_tail(x);
    step = (tail.above - probability) / tail.density;
    x += step;
  }
  return x;
}

// From the middle outwards. One half stands twice: who asks for it asks for the next point too.
std::vector<float> make_table() {
  std::vector<float> table(points + 2, 0.0F);
  double x = 0.0;
  for (int i = points - 1; i >= 0; --i) {
    x = quantile_of_tail(static_cast<double>(tail_of(i)) / 4294967296.0, x);
    table[static_cast<std::size_t>(i)] = static_cast<float>(x);
  }
  return table;
}

// Made once. Whoever draws more than one number asks for it once: the question costs as much as a draw.
const float* quantiles() {
  static const std::vector<float> table = make_table();
  return table.data();
}

// Without a branch, a count of bits or anything wider than 32 bits, so that a loop over it becomes one over
// eight lanes. As a float the tail probability is rounded by 6e-8 of itself, far below what the straight
// lines are off.
inline float quantile(const float* table, std::uint32_t u) {
  const std::uint32_t above =
      0U - (u >> 31U);  // all ones in the upper half, where the tail is counted from 2^32
  const float tail = static_cast<float>(static_cast<std::int32_t>(u ^ above)) + 0.5F;  // 2^32ths
  const std::int32_t place = std::bit_cast<std::int32_t>(tail) - std::bit_cast<std::int32_t>(smallest);
  const std::int32_t at = place >> part_bits;
  const float part = static_cast<float>(place & ((1 << part_bits) - 1)) * (1.0F / (1 << part_bits));
  const float size = table[at] + (table[at + 1] - table[at]) * part;
  return std::bit_cast<float>(std::bit_cast<std::uint32_t>(size) ^ (~above & 0x80000000U));
}

// Always inline: a loop that calls it is none over vectors.
[[gnu::always_inline]] inline r123::Philox4x32::ctr_type philox(std::uint64_t seed, std::uint32_t counter,
                                                                std::uint32_t block) {
  const r123::Philox4x32::ctr_type place = {{counter, block, 0, 0}};
  const r123::Philox4x32::key_type key = {
      {static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32U)}};
  return r123::Philox4x32{}(place, key);
}

constexpr std::uint32_t at_once = NoiseAhead::at_once;

#ifdef __AVX2__
// Four ticks side by side, a word of each in 64 bits, of which the upper half is never looked at: the
// products need it, and g++ of itself shuffles the words about each multiplication.
void draw_words(std::uint64_t seed, std::uint32_t first, std::uint32_t* into) {
  const auto all = [](std::uint32_t word) { return _mm256_set1_epi64x(word); };
  for (std::uint32_t i = 0; i < at_once; i += 4) {
    const std::uint32_t t = first + i;
    __m256i c0 = _mm256_set_epi64x(t + 3U, t + 2U, t + 1U, t);
    __m256i c1 = _mm256_setzero_si256(), c2 = c1, c3 = c1;
    auto key_0 = static_cast<std::uint32_t>(seed), key_1 = static_cast<std::uint32_t>(seed >> 32U);
    for (unsigned round = 0; round < philox4x32_rounds; ++round) {
      const __m256i p0 = _mm256_mul_epu32(c0, all(PHILOX_M4x32_0));
      const __m256i p1 = _mm256_mul_epu32(c2, all(PHILOX_M4x32_1));
      c0 = _mm256_xor_si256(_mm256_xor_si256(_mm256_srli_epi64(p1, 32), c1), all(key_0));
      c2 = _mm256_xor_si256(_mm256_xor_si256(_mm256_srli_epi64(p0, 32), c3), all(key_1));
      c1 = p1;
      c3 = p0;
      key_0 += PHILOX_W32_0;
      key_1 += PHILOX_W32_1;
    }
    const __m256i low = all(UINT32_MAX);
    const __m256i front = _mm256_or_si256(_mm256_and_si256(c0, low), _mm256_slli_epi64(c1, 32));
    const __m256i back = _mm256_or_si256(_mm256_and_si256(c2, low), _mm256_slli_epi64(c3, 32));
    const __m256i even = _mm256_unpacklo_epi64(front, back), odd = _mm256_unpackhi_epi64(front, back);
    auto* to = reinterpret_cast<__m256i*>(into + std::size_t{4} * i);
    _mm256_storeu_si256(to, _mm256_permute2x128_si256(even, odd, 0x20));
    _mm256_storeu_si256(to + 1, _mm256_permute2x128_si256(even, odd, 0x31));
  }
}
#else
void draw_words(std::uint64_t seed, std::uint32_t first, std::uint32_t* into) {
  for (std::uint32_t i = 0; i < at_once; ++i) {
    const r123::Philox4x32::ctr_type four = philox(seed, first + i, 0);
    std::copy(four.begin(), four.end(), into + std::size_t{4} * i);
  }
}
#endif

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

// In loops that are each one over vectors.
void NoiseAhead::draw(std::uint32_t tick) {
  first_ = tick - tick % at_once;
  std::array<std::uint32_t, std::size_t{4} * at_once> bits;
  draw_words(seed_, first_, bits.data());
  const float* table = quantiles();
  std::array<float, bits.size()> normals;
  for (std::size_t i = 0; i < bits.size(); ++i) {
    normals[i] = quantile(table, bits[i]);
  }
  for (std::size_t i = 0; i < at_once; ++i) {
    for (std::size_t s = 0; s < 4; ++s) {
      normals_[i][s] = static_cast<double>(normals[4 * i + s]);
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
