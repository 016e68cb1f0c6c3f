// Units by column name, separator and decimal sign by declaration; nothing is guessed.
#include "host-tool/gauge/csv.hpp"

#include <gtest/gtest.h>

#include <array>
#include <string>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/plain.hpp"

namespace strandproof::host::gauge {
namespace {

constexpr std::array<ColumnSpec, 4> columns{{{"pressure", Quantity::pressure, true},
                                             {"force", Quantity::force, false},
                                             {"travel", Quantity::length, false},
                                             {"note", Quantity::plain, false}}};

double read_one(const std::string& header, const std::string& value, std::size_t column = 0,
                CsvOptions o = {}) {
  const std::string text =
      column == 0 ? header + "\n" + value + "\n" : "pressure_mbar," + header + "\n1," + value + "\n";
  Csv csv{text, "x.csv", o, columns};
  EXPECT_TRUE(csv.next());
  return csv.number(column);
}

std::string problem_of(const std::string& text, CsvOptions o = {}) {
  try {
    Csv csv{text, "x.csv", o, columns};
    while (csv.next()) (void)csv.number(0);
  } catch (const Problem& p) {
    EXPECT_EQ(p.exit(), Exit::fault);
    return p.what();
  }
  return "accepted";
}

// Conversion factors of NIST SP 811, appendix B: psi 6894.757 Pa, lbf 4.448222 N, inch 25.4 mm exactly.
TEST(Csv, UnitsOfTheColumnNames) {
  EXPECT_DOUBLE_EQ(read_one("pressure_mbar", "30000"), 30000.0);
  EXPECT_DOUBLE_EQ(read_one("pressure_bar", "30"), 30000.0);
  EXPECT_DOUBLE_EQ(read_one("pressure_kpa", "3000"), 30000.0);
  EXPECT_DOUBLE_EQ(read_one("pressure_mpa", "3"), 30000.0);
  EXPECT_NEAR(read_one("pressure_psi", "1000"), 68947.57, 0.005);
  EXPECT_DOUBLE_EQ(read_one("force_kn", "1.5", 1), 1500.0);
  EXPECT_NEAR(read_one("force_lbf", "1000", 1), 4448.222, 0.0005);
  EXPECT_NEAR(read_one("force_kip", "1", 1), 4448.222, 0.0005);
  EXPECT_DOUBLE_EQ(read_one("travel_mm", "2.5", 2), 2500.0);
  EXPECT_DOUBLE_EQ(read_one("travel_in", "1", 2), 25400.0);
}

TEST(Csv, AColumnWithoutOrWithAnUnknownUnitIsRefused) {
  EXPECT_EQ(
      problem_of("pressure\n1\n"),
      "x.csv:1:1: column 'pressure' names no unit; write one of pressure_mbar, pressure_bar, pressure_kpa, "
      "pressure_mpa, pressure_psi");
  EXPECT_NE(problem_of("pressure_kg\n1\n").find("unknown column 'pressure_kg'; did you mean"),
            std::string::npos);
  EXPECT_NE(problem_of("force_n\n1\n").find("column 'pressure_mbar' is missing; add it (or one of"),
            std::string::npos);
  EXPECT_NE(problem_of("pressure_mbar,pressure_bar\n1,1\n").find("x.csv:1:15: column 'pressure_bar' twice"),
            std::string::npos);
}

TEST(Csv, DeclaredSeparatorAndDecimalSign) {
  EXPECT_DOUBLE_EQ(read_one("pressure_bar", "30,25", 0, csv_options(";", ",")), 30250.0);
  EXPECT_EQ(problem_of("pressure_bar;note\n30,5;a\n", csv_options(";", ",")), "accepted");
  EXPECT_EQ(problem_of("pressure_bar\tnote\n30.5\ta\n", csv_options("tab", ".")), "accepted");
}

TEST(Csv, APlusSignIsASignAndOnlyOne) {
  EXPECT_DOUBLE_EQ(read_one("pressure_bar", "+4.1"), 4100.0);
  EXPECT_DOUBLE_EQ(read_one("pressure_bar", "+4,1", 0, csv_options(";", ",")), 4100.0);
  EXPECT_NE(problem_of("pressure_bar\n+-4.1\n").find("is not a number"), std::string::npos);
  EXPECT_NE(problem_of("pressure_bar\n++4.1\n").find("is not a number"), std::string::npos);
}

TEST(Csv, NothingIsGuessed) {
  EXPECT_NE(
      problem_of("pressure_bar;note\n30,5;a\n").find("x.csv:1:13: fields are separated by ';'; declare it"),
      std::string::npos);
  EXPECT_NE(
      problem_of("pressure_bar,note\n30.5,a\n", csv_options(";", ".")).find("fields are separated by ','"),
      std::string::npos);
  EXPECT_NE(problem_of("pressure_bar;note\n30,5;a\n", csv_options(";", ".")).find("declare --decimal ','"),
            std::string::npos);
  EXPECT_NE(
      problem_of("pressure_bar;note\n30.5;a\n", csv_options(";", ",")).find("write digits with a ',' only"),
      std::string::npos);
  EXPECT_NE(problem_of("pressure_bar;note\n1.030,5;a\n", csv_options(";", ",")).find("is not a number"),
            std::string::npos);
  EXPECT_NE(problem_of("pressure_bar;note\n1,030,5;a\n", csv_options(";", ",")).find("is not a number"),
            std::string::npos);
}

TEST(Csv, OptionsThatContradictEachOtherAreRefused) {
  EXPECT_THROW((void)csv_options(",", ","), Problem);
  EXPECT_THROW((void)csv_options("|", "."), Problem);
  EXPECT_THROW((void)csv_options("", "."), Problem);
  EXPECT_THROW((void)csv_options(",", "'"), Problem);
}

TEST(Csv, PlainDataGroupsEqualInputs) {
  const auto data = read_plain("y,x\n1.5,2\n1.6,2\n3,4\n", "xy.csv", {});
  ASSERT_EQ(data.readings.size(), 3U);
  EXPECT_EQ(data.readings[0].x, 2.0);
  EXPECT_EQ(data.readings[0].group, data.readings[1].group);
  EXPECT_NE(data.readings[0].group, data.readings[2].group);
  EXPECT_EQ(data.lines[2], 4);
}

}  // namespace
}  // namespace strandproof::host::gauge
