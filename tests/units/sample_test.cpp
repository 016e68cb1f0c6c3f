// The raw sample: scale of a loop current, and no two signals on one bit.
#include "firmware/port/sample.hpp"

#include <gtest/gtest.h>

#include <array>

namespace {

using namespace strandproof::port;

constexpr std::array all_inputs{
    Input::emergency_stop_1, Input::emergency_stop_2, Input::barrier_1,    Input::barrier_2,
    Input::enable_1,         Input::enable_2,         Input::advance,      Input::lower,
    Input::select,           Input::confirm,          Input::reset,        Input::grip_closed,
    Input::contactor_mirror, Input::shut_off_mirror,  Input::oil_level_ok, Input::supply_ok};

// NE 43 levels (from memory of the recommendation: failure at or below 3.6 mA and at or above 21 mA,
// measuring range 3.8 to 20.5 mA): all must lie inside the converter's counts, with room above.
TEST(RawSample, Ne43LevelsFitTheCounts) {
  const auto counts = [](float milliampere) { return milliampere / milliampere_per_count; };
  EXPECT_LT(counts(21.0F), 65535.0F * 0.9F);
  EXPECT_GT(counts(3.6F), 0.0F);
  // One count is below 0.003 % of the 16 mA span: it does not limit the accuracy figure of 0.25 %.
  EXPECT_LT(milliampere_per_count / 16.0F, 3.0e-5F);
  EXPECT_NEAR(counts(24.0F), 65535.0F, 0.01F);
}

TEST(RawSample, EachInputHasItsOwnBit) {
  unsigned seen = 0;
  for (const Input i : all_inputs) {
    const unsigned b = bit(i);
    EXPECT_NE(b, 0U);
    EXPECT_EQ(seen & b, 0U) << "bit of input " << static_cast<unsigned>(i) << " is used twice";
    seen |= b;
    RawSample sample;
    EXPECT_FALSE(sample.is(i));
    sample.digital = bit(i);
    EXPECT_TRUE(sample.is(i));
  }
  EXPECT_EQ(seen, 0xFFFFU);
}

// An all-zero word, a dead input card, must read as danger: stops pressed, barriers open, nothing held.
TEST(RawSample, DeadInputCardReadsAsDanger) {
  const RawSample dead;
  EXPECT_FALSE(dead.is(Input::emergency_stop_1) || dead.is(Input::emergency_stop_2));
  EXPECT_FALSE(dead.is(Input::barrier_1) || dead.is(Input::barrier_2));
  EXPECT_FALSE(dead.is(Input::enable_1) || dead.is(Input::enable_2) || dead.is(Input::advance));
  EXPECT_FALSE(dead.is(Input::supply_ok) || dead.is(Input::oil_level_ok));
}

}  // namespace
