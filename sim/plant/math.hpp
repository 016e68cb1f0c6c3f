// The few functions that the plant needs beyond + - * /: libm's differ in their last bits from machine to
// machine, these do not.
#pragma once

#include <bit>
#include <cstdint>

namespace strandproof::plant {

inline double root(double x) {
  return __builtin_sqrt(x);
}  // correctly rounded everywhere; one instruction
inline double magnitude(double x) {
  return x < 0.0 ? -x : x;
}
inline double at_least(double low, double x) {
  return x < low ? low : x;
}
inline double at_most(double high, double x) {
  return x > high ? high : x;
}
inline double within(double low, double x, double high) {
  return at_least(low, at_most(high, x));
}

// exp for |x| <= 0.5 by its series; the first term left out is below 1.3e-11 at the ends and 1e-17 at 0.15.
// Written out, even and odd powers side by side: it is half of the plant's time.
inline double exp_small(double x) {
  const double q = x * x;
  const double even =
      1.0 + q * (1.0 / 2 + q * (1.0 / 24 + q * (1.0 / 720 + q * (1.0 / 40320 + q * (1.0 / 3628800)))));
  const double odd = 1.0 + q * (1.0 / 6 + q * (1.0 / 120 + q * (1.0 / 5040 + q * (1.0 / 362880))));
  return even + x * odd;
}

// exp for |x| <= 700, relative error below 1e-14.
inline double exponential(double x) {
  constexpr double ln2 = 0.693147180559945309417;
  const double turns = x / ln2;
  const auto k = static_cast<std::int64_t>(turns + (turns < 0.0 ? -0.5 : 0.5));
  const double r = x - static_cast<double>(k) * ln2;
  double sum = 1.0;
  for (int i = 16; i >= 1; --i) {
    sum = 1.0 + r * sum / i;
  }
  return sum * std::bit_cast<double>(static_cast<std::uint64_t>(1023 + k) << 52U);
}

// Natural logarithm of a normal positive number, absolute error below 1e-15 times the larger of 1 and itself.
inline double logarithm(double x) {
  constexpr double ln2 = 0.693147180559945309417;
  const auto bits = std::bit_cast<std::uint64_t>(x);
  auto exponent = static_cast<std::int64_t>(bits >> 52U) - 1023;
  double m = std::bit_cast<double>((bits & 0x000FFFFFFFFFFFFFULL) | 0x3FF0000000000000ULL);
  if (m > 1.41421356237309505) {
    m *= 0.5;
    ++exponent;
  }
  const double s = (m - 1.0) / (m + 1.0);  // |s| <= 0.1716
  const double s2 = s * s;
  double sum = 0.0;
  for (int i = 25; i >= 1; i -= 2) {
    sum = sum * s2 + 1.0 / i;
  }
  return static_cast<double>(exponent) * ln2 + 2.0 * s * sum;
}

inline double power(double x, double y) {
  return exponential(y * logarithm(x));
}  // x > 0

}  // namespace strandproof::plant
