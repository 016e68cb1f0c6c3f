// Errors and class after ISO 7500-1 (definitions from memory of the 2018 edition) on a constructed set of
// indicated and reference forces, whose figures follow from the definitions, and the file of class limits.
#include <gtest/gtest.h>

#include <array>
#include <ostream>
#include <string>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/iso_class.hpp"
#include "host-tool/gauge/table.hpp"
#include "tests/host/rig_text.hpp"

namespace strandproof::host::gauge {
namespace {

using test::ideal_jack;
using test::with_cell;

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

// The shipped limits as if a person had compared them with the standard: for the tests alone.
std::string checked_text() {
  return replaced(
      replaced(std::string{shipped_class_limits()}, "\"checked_by\": \"\"", "\"checked_by\": \"a test\""),
      "\"date\": \"\"", "\"date\": \"2026-01-31\"");
}

ClassLimits checked() {
  return read_class_limits(checked_text(), "limits.json");
}

struct Row {
  double indicated, up1, up2, up3, down, q, b, v;
};
// kN and percent, as printed.
constexpr std::array rows{Row{30, 29.78, 29.85, 29.80, 30.40, 0.6374, 0.2362, 2.0134},
                          Row{60, 59.70, 59.82, 59.74, 60.62, 0.4128, 0.2016, 1.4730},
                          Row{90, 89.64, 89.80, 89.70, 90.58, 0.3195, 0.1789, 0.9810},
                          Row{120, 119.70, 119.84, 119.76, 120.40, 0.1948, 0.1171, 0.5344},
                          Row{150, 149.72, 149.90, 149.80, 149.80, 0.1291, 0.1203, 0.0000}};

TEST(IsoClass, ErrorsOfAWorkedSetToThePrintedDigits) {
  for (const auto& r : rows) {
    const std::array reference{r.up1, r.up2, r.up3};
    const auto e = level_errors({r.indicated, reference, r.down, 0.1});
    EXPECT_NEAR(e.accuracy_percent, r.q, 5e-5);
    EXPECT_NEAR(e.repeatability_percent, r.b, 5e-5);
    ASSERT_TRUE(e.reversibility_percent);
    EXPECT_NEAR(*e.reversibility_percent, r.v, 5e-5);
    EXPECT_NEAR(e.resolution_percent, 10.0 / r.indicated, 1e-12);  // 0.3333 % at 30 kN
  }
  EXPECT_NEAR(zero_percent(0.03, 150.0), 0.0200, 5e-5);
}

// Class 1 by q, b, f0 and a; the reversibility would be class 2 and is only reported.
TEST(IsoClass, ClassOfTheWorkedSetIsOne) {
  EXPECT_EQ(class_tenths({0.6374, 0.2362, 2.0134, 0.3333}, 0.02, checked()), 10);
}

TEST(IsoClass, EachErrorDecidesAndItsLimitIsInside) {
  const auto limits = checked();
  EXPECT_EQ(class_tenths({0.5, 0.5, {}, 0.25}, 0.05, limits), 5);
  EXPECT_EQ(class_tenths({-0.51, 0.5, {}, 0.25}, 0.05, limits), 10);
  EXPECT_EQ(class_tenths({0.5, 1.01, {}, 0.25}, 0.05, limits), 20);
  EXPECT_EQ(class_tenths({0.5, 0.5, {}, 0.51}, 0.05, limits), 20);
  EXPECT_EQ(class_tenths({0.5, 0.5, {}, 0.25}, 0.21, limits), 30);
  EXPECT_EQ(class_tenths({0.5, 3.01, {}, 0.25}, 0.05, limits), 0);
}

Table table_with(const ClassLimits& limits, const std::string& cell_class = "0.5", int series = 3) {
  TableOptions o{};
  o.limits = limits;
  const auto text = with_cell(ideal_jack(series), cell_class, 5000, 200000, "2027-05-04T00:00:00Z");
  return make_table(read_runs(text, "runs.csv"), o);
}

// Nobody has compared the shipped file with the standard: its class is not stated.
TEST(IsoClass, TheShippedLimitsStateNoClass) {
  const auto shipped = read_class_limits(shipped_class_limits(), "iso7500_limits.json");
  ASSERT_EQ(shipped.rows.size(), 4U);
  const Table t = table_with(shipped);
  EXPECT_EQ(t.iso_class.tenths, 0);
  EXPECT_NE(t.iso_class.not_stated.find("'checked_by' is not filled in"), std::string::npos)
      << t.iso_class.not_stated;
  EXPECT_EQ(table_with({}).iso_class.tenths, 0);
}

TEST(IsoClass, ACheckedFileStatesItsEditionWithTheClass) {
  const Table t = table_with(checked());
  // 0.1 kN shown at 30 kN is 0.3333 %: that decides, the ideal jack has no other error.
  EXPECT_EQ(t.iso_class.tenths, 10);
  EXPECT_EQ(t.iso_class.not_stated, "");
  EXPECT_NE(t.iso_class.edition.find("ISO 7500-1:2018"), std::string::npos);
  EXPECT_NE(t.iso_class.edition.find("checked by a test on 2026-01-31"), std::string::npos);
  EXPECT_EQ(t.iso_class.levels[0].size(), 9U);  // 30 to 150 kN
}

TEST(IsoClass, IsNeverBetterThanItsCell) {
  EXPECT_EQ(table_with(checked(), "1").iso_class.tenths, 10);
  EXPECT_EQ(table_with(checked(), "2").iso_class.tenths, 20);
}

TEST(IsoClass, NeedsThreeSeriesAndADeclaredCell) {
  EXPECT_NE(table_with(checked(), "0.5", 2).iso_class.not_stated.find("fewer than three series"),
            std::string::npos);
  TableOptions o{};
  o.limits = checked();
  const Table t = make_table(read_runs(ideal_jack(3), "runs.csv"), o);
  EXPECT_EQ(t.iso_class.tenths, 0);
  EXPECT_NE(t.iso_class.not_stated.find("no reference cell"), std::string::npos);
}

// Ideal jack: 4.656 p - 0.6 up, 4.944 p + 0.6 down; at 30 kN up, p = 6.5722 MPa, down 33.0930 kN: v = 10.310
// %.
TEST(IsoClass, ReversibilityOfTheIdealJackInClosedForm) {
  const Table t = table_with(checked());
  const double p = 30.6 / 4.656;
  ASSERT_TRUE(t.iso_class.worst.reversibility_percent);
  EXPECT_NEAR(*t.iso_class.worst.reversibility_percent, 100.0 * (4.944 * p + 0.6 - 30.0) / 30.0, 1e-3);
}

struct Case {
  const char* name;
  std::string text;
  const char* what;
};
void PrintTo(const Case& c, std::ostream* out) {
  *out << c.name;
}
class BadLimits : public testing::TestWithParam<Case> {};
TEST_P(BadLimits, AreRefusedWithFileAndField) {
  try {
    (void)read_class_limits(GetParam().text, "limits.json");
    FAIL() << "accepted";
  } catch (const Problem& p) {
    const std::string line = p.what();
    EXPECT_TRUE(line.starts_with("limits.json: field ")) << line;
    EXPECT_NE(line.find(GetParam().what), std::string::npos) << line;
  }
}
INSTANTIATE_TEST_SUITE_P(
    Limits, BadLimits,
    testing::Values(
        Case{"no_json", "rows", "not a JSON object"},
        Case{"other_format", replaced(checked_text(), "class limits", "gauge table"), "'format'"},
        Case{"other_version", replaced(checked_text(), "\"version\": 1", "\"version\": 2"), "'version'"},
        Case{"no_rows",
             R"({"format":"strandproof class limits","version":1,"edition":"e",)"
             R"("checked_by":"c","date":"d","rows":[]})",
             "'rows' is missing or empty"},
        Case{"missing_limit", replaced(checked_text(), "\"zero_percent\": 0.1,", ""), "'zero_percent'"},
        Case{"zero_limit", replaced(checked_text(), "\"zero_percent\": 0.1", "\"zero_percent\": 0"),
             "'zero_percent'"},
        Case{"text_limit", replaced(checked_text(), "\"zero_percent\": 0.1", "\"zero_percent\": \"x\""),
             "'zero_percent'"},
        Case{"narrower", replaced(checked_text(), "\"zero_percent\": 0.1", "\"zero_percent\": 0.05"),
             "not wider for class 1"}),
    [](const auto& bad) { return std::string{bad.param.name}; });

TEST(IsoClass, AnEmptyEditionPersonOrDateIsIncomplete) {
  EXPECT_EQ(checked().incomplete, "");
  for (const char* field :
       {"checked_by\": \"a test", "date\": \"2026-01-31", "edition\": \"ISO 7500-1:2018, table 2"}) {
    const std::string name{field, std::string{field}.find('"')};
    auto text = checked_text();
    const auto from = text.find(name) + name.size() + 4;
    text.erase(from, text.find('"', from) - from);
    EXPECT_NE(read_class_limits(text, "limits.json").incomplete.find("'" + name + "'"), std::string::npos)
        << field;
  }
  EXPECT_NE(read_class_limits(replaced(checked_text(), "2026-01-31", "31.1.2026"), "l").incomplete, "");
}

}  // namespace
}  // namespace strandproof::host::gauge
