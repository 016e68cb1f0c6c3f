#include "firmware/control/gauge_table.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>

namespace strandproof::control {
namespace {

using units::Pressure;

constexpr std::array<std::uint32_t, 5> mbar{50'000, 100'000, 200'000, 300'000, 400'000};
constexpr std::array<std::uint32_t, 5> newton{22'680, 45'960, 92'520, 139'080, 185'640};

// The ideal jack of trade.md 5.3 (invented data, worked out there): 48 cm2, friction 3 % and 0.6 kN,
// increasing F = 4.656 p - 0.6 (MPa, kN); p = 20 gives 92.520, p = 30 gives 139.080.
TEST(GaugeColumn, ReadsTheIdealJackBetweenItsPoints) {
  GaugeColumn c;
  ASSERT_EQ(c.set(mbar.data(), newton.data(), 5), Refusal::none);
  for (const float p : {5.0F, 7.5F, 20.0F, 28.25924F, 30.0F, 39.99F}) {
    const Reading r = c.at(Pressure::from_si(p * 1e6F));
    ASSERT_TRUE(r.inside) << p;
    EXPECT_NEAR(r.force.si(), (4.656 * static_cast<double>(p) - 0.6) * 1e3, 0.02)
        << p;  // float: 2^-24 of 186 kN and the slope's
    EXPECT_NEAR(r.newton_per_pascal, 4.656e-3, 1e-9);
  }
}

TEST(GaugeColumn, NeverExtrapolates) {
  GaugeColumn c;
  ASSERT_EQ(c.set(mbar.data(), newton.data(), 5), Refusal::none);
  EXPECT_TRUE(c.at(Pressure::from_si(5.0e6F)).inside);
  EXPECT_FALSE(c.at(Pressure::from_si(4.9999e6F)).inside);
  EXPECT_TRUE(c.at(Pressure::from_si(40.0e6F)).inside);
  EXPECT_FALSE(c.at(Pressure::from_si(40.00001e6F)).inside);
  EXPECT_FALSE(c.at(Pressure::from_si(std::numeric_limits<float>::quiet_NaN())).inside);
  EXPECT_FALSE(c.at(Pressure::from_si(std::numeric_limits<float>::infinity())).inside);
  EXPECT_FALSE(GaugeColumn{}.at(Pressure::from_si(10.0e6F)).inside);
}

TEST(GaugeColumn, RefusesWhatIsNotATable) {
  GaugeColumn c;
  EXPECT_EQ(c.set(mbar.data(), newton.data(), 4), Refusal::table_points);
  std::array<std::uint32_t, 25> many{};
  for (unsigned i = 0; i < 25; ++i) {
    many[i] = i + 1;
  }
  EXPECT_EQ(c.set(many.data(), many.data(), 25), Refusal::table_points);
  EXPECT_EQ(c.set(many.data(), many.data(), 24), Refusal::none);
  auto flat = mbar;
  flat[2] = flat[1];
  EXPECT_EQ(c.set(flat.data(), newton.data(), 5), Refusal::table_not_rising);
  auto falling = newton;
  falling[4] = falling[3] - 1;
  EXPECT_EQ(c.set(mbar.data(), falling.data(), 5), Refusal::table_not_rising);
}

}  // namespace
}  // namespace strandproof::control
