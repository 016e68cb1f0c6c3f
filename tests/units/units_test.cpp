// The quantity type: what it computes, what it refuses to compile, and how it treats a NaN.
#include "firmware/units/units.hpp"

#include <gtest/gtest.h>

#include <concepts>
#include <limits>
#include <type_traits>

namespace {

using namespace strandproof::units;

template <class A, class B>
concept Addable = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept Comparable = requires(A a, B b) {
  a < b;
};
template <class A, class B>
concept Multipliable = requires(A a, B b) {
  a* b;
};

// A force where a pressure is meant, or a bare number, must not compile.
static_assert(Addable<Force, Force>);
static_assert(!Addable<Force, Pressure>);
static_assert(!Addable<Force, float>);
static_assert(!Comparable<Force, Length>);
static_assert(!Multipliable<Force, Force>);
static_assert(!std::convertible_to<float, Force>);
static_assert(!std::convertible_to<Force, float>);
static_assert(!std::constructible_from<Force, float>);
static_assert(!std::constructible_from<Force, Pressure>);
// It travels in registers and over memcpy.
static_assert(std::is_trivially_copyable_v<Force> && sizeof(Force) == sizeof(float));

TEST(Units, LiteralsAreSi) {
  EXPECT_EQ((70.0_MPa).si(), 70.0e6F);
  EXPECT_EQ((130.0_kN).si(), 130.0e3F);
  EXPECT_EQ((500.0_mm).si(), 0.5F);
  EXPECT_EQ((300.0_N).si(), 300.0F);
}

// Hooke's law on a strand: k = E A / L = 195 GPa * 100 mm2 / 60 m = 325 kN/m (closed form).
TEST(Units, ForceOverLengthIsStiffness) {
  const Stiffness k = 130.0_kN / 400.0_mm;
  EXPECT_FLOAT_EQ(k.si(), 325.0e3F);
  EXPECT_FLOAT_EQ((k * 400.0_mm).si(), 130.0e3F);
  EXPECT_FLOAT_EQ((400.0_mm * k).si(), 130.0e3F);
  EXPECT_FLOAT_EQ((130.0_kN / k).si(), 0.4F);
  EXPECT_FLOAT_EQ(130.0_kN / 65.0_kN, 2.0F);
}

TEST(Units, SumsDifferencesAndScale) {
  Force f = 10.0_kN;
  f += 5.0_kN;
  f -= 1.0_kN;
  EXPECT_EQ(f, 14.0_kN);
  EXPECT_EQ(2.0F * f - f / 2.0F, 21.0_kN);
  EXPECT_EQ(abs(-f), f);
}

// A limit is written !(x <= limit): a NaN on either side must trip it, and must never read as good.
TEST(Units, NotANumberTripsEveryLimit) {
  const Force nan = Force::from_si(std::numeric_limits<float>::quiet_NaN());
  EXPECT_TRUE(!(nan <= 130.0_kN));
  EXPECT_TRUE(!(130.0_kN <= nan));
  EXPECT_FALSE(nan < 130.0_kN || nan > 130.0_kN || nan == 130.0_kN || nan >= 130.0_kN);
}

TEST(Units, FiniteMeansNeitherNanNorInfinite) {
  using limits = std::numeric_limits<float>;
  EXPECT_TRUE(is_finite(Force::from_si(limits::max())));
  EXPECT_TRUE(is_finite(Force::from_si(limits::denorm_min())));
  EXPECT_TRUE(is_finite(Force{}));
  EXPECT_FALSE(is_finite(Force::from_si(limits::infinity())));
  EXPECT_FALSE(is_finite(Force::from_si(-limits::infinity())));
  EXPECT_FALSE(is_finite(Force::from_si(limits::quiet_NaN())));
}

// H35: a 64-bit millisecond counter lasts 584 million years; a 32-bit one 49.7 days.
TEST(Units, TicksOutliveTheJack) {
  constexpr Ticks hundred_years = 100ULL * 366 * 86400 * ticks_per_second;
  static_assert(std::is_unsigned_v<Ticks>);
  EXPECT_LT(hundred_years, std::numeric_limits<Ticks>::max() / 1000);
  EXPECT_GT(hundred_years, std::numeric_limits<std::uint32_t>::max());
  EXPECT_EQ(static_cast<float>(ticks_per_second) * seconds_per_tick, 1.0F);
}

TEST(Units, WhatDoesNotFitAnIntegerHasOneValueOnEveryMachine) {
  EXPECT_EQ(to_integer(-12.9F), -12);
  EXPECT_EQ(to_integer(1.9e9F), 1'900'000'000);
  for (const float odd :
       {3.0e9F, -3.0e9F, std::numeric_limits<float>::infinity(), std::numeric_limits<float>::quiet_NaN()}) {
    EXPECT_EQ(to_integer(odd), INT32_MIN);
  }
}

}  // namespace
