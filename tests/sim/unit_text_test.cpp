// Published factors: 1 in = 25.4 mm and 1 lbf = 4.4482216152605 N exactly, 1 psi = 6894.757293168 Pa
// (international yard and pound agreement; NIST SP 811, appendix B).
#include "sim/bench/unit_text.hpp"

#include <gtest/gtest.h>

namespace strandproof::sim {
namespace {

std::string error_of(std::string_view text, Dimension dimension) {
  try {
    parse_quantity(text, dimension);
  } catch (const UnitError& error) {
    return error.what();
  }
  return {};
}

TEST(UnitText, PublishedFactors) {
  EXPECT_DOUBLE_EQ(parse_quantity("1 in", Dimension::length), 0.0254);
  EXPECT_DOUBLE_EQ(parse_quantity("1 lbf", Dimension::force), 4.4482216152605);
  EXPECT_DOUBLE_EQ(parse_quantity("1 psi", Dimension::pressure), 6894.757293168);
  EXPECT_DOUBLE_EQ(parse_quantity("700 bar", Dimension::pressure), 70e6);
  EXPECT_DOUBLE_EQ(parse_quantity("400 ft", Dimension::length), 121.92);  // trade.md 2.3
  EXPECT_NEAR(parse_quantity("41.3 kip", Dimension::force), 183.71e3, 5.0);
  EXPECT_NEAR(parse_quantity("908.44 lbf/in", Dimension::stiffness), 159.09e3, 5.0);
  EXPECT_DOUBLE_EQ(parse_quantity("2 L/min", Dimension::flow), 2e-3 / 60.0);
}

TEST(UnitText, SpaceIsOptionalAndTheExponentIsRead) {
  EXPECT_DOUBLE_EQ(parse_quantity("200ms", Dimension::time), 0.2);
  EXPECT_DOUBLE_EQ(parse_quantity(" 1e3 N ", Dimension::force), 1000.0);
  EXPECT_DOUBLE_EQ(parse_quantity("-5 %", Dimension::ratio), -0.05);
}

TEST(UnitText, BareNumberNamesTheUnitsThatFit) {
  const std::string error = error_of("700", Dimension::pressure);
  EXPECT_NE(error.find("has no unit"), std::string::npos) << error;
  EXPECT_NE(error.find("bar, MPa"), std::string::npos) << error;
}

TEST(UnitText, WrongUnitSaysWhatItIsAndWhatFits) {
  const std::string error = error_of("60 bar", Dimension::length);
  EXPECT_NE(error.find("is a pressure, wanted is a length"), std::string::npos) << error;
  EXPECT_NE(error.find("mm"), std::string::npos) << error;
}

TEST(UnitText, RefusesCommaTonNanAndNonsense) {
  EXPECT_NE(error_of("12,5 kN", Dimension::force).find("decimal comma"), std::string::npos);
  EXPECT_NE(error_of("12 ton", Dimension::force).find("unknown unit"), std::string::npos);
  EXPECT_NE(error_of("nan kN", Dimension::force).find("not a finite number"), std::string::npos);
  EXPECT_NE(error_of("inf kN", Dimension::force).find("not a finite number"), std::string::npos);
  EXPECT_NE(error_of("kN", Dimension::force).find("does not begin with a number"), std::string::npos);
  EXPECT_NE(error_of("", Dimension::force).find("does not begin with a number"), std::string::npos);
  EXPECT_NE(error_of("1 KN", Dimension::force).find("unknown unit"), std::string::npos);
  EXPECT_NE(error_of("1 kN kN", Dimension::force).find("unknown unit"), std::string::npos);
}

}  // namespace
}  // namespace strandproof::sim
