// Bad calibration files: each gets one line with file, line, column, what is wrong and a remedy.
#include "host-tool/gauge/runs.hpp"

#include <gtest/gtest.h>

#include <string>

#include "host-tool/base/problem.hpp"
#include "tests/host/rig_text.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host::gauge {
namespace {

using test::ideal_jack;
using test::replaced;
using test::rig_header;
using test::rig_row;

std::string message_of(const std::string& text) {
  try {
    (void)read_runs(text, "runs.csv");
  } catch (const Problem& p) {
    EXPECT_EQ(p.exit(), Exit::fault);
    return p.what();
  }
  return "accepted";
}

struct Case {
  const char* name;
  std::string text;
  const char* where;  // start of the message
  const char* what;   // part of it
};

std::string one_row(const std::string& pressure_a) {
  return std::string{rig_header} + "1,up,15000," + pressure_a +
         ",33500,15000,120000,21.5,1001,2001,2002,simulated,2026-05-04T09:30:00Z\n";
}

class BadFile : public testing::TestWithParam<Case> {};

TEST_P(BadFile, GetsOneClearLine) {
  const std::string message = message_of(GetParam().text);
  EXPECT_TRUE(message.starts_with(GetParam().where)) << message;
  EXPECT_NE(message.find(GetParam().what), std::string::npos) << message;
  EXPECT_EQ(message.find('\n'), std::string::npos) << message;
}

INSTANTIATE_TEST_SUITE_P(
    Runs, BadFile,
    testing::Values(
        Case{"byte_order_mark", "\xEF\xBB\xBF" + ideal_jack(1), "runs.csv:1:1: ", "byte-order mark"},
        Case{"utf16", "\xFF\xFEr", "runs.csv:1:1: ", "byte-order mark"},
        Case{"empty", "", "runs.csv:1:1: ", "empty"},
        Case{"header_only", std::string{rig_header}, "runs.csv:2:1: ", "no runs"},
        Case{"missing_column", replaced(std::string{rig_header}, "reference_n,", ""),
             "runs.csv:1:", "'reference_n' is missing"},
        Case{"misspelt_column", replaced(std::string{rig_header}, "reference_n", "referense_n"),
             "runs.csv:1:59: ", "did you mean 'reference_n'"},
        Case{"doubled_column", replaced(std::string{rig_header}, "oil_c", "run"),
             "runs.csv:1:", "'run' twice"},
        Case{"semicolons", replaced(std::string{rig_header}, "run,", "run;"), "runs.csv:1:4: ", "';'"},
        Case{"text_in_number", one_row("n/a"),
             "runs.csv:2:12: ", "'n/a' in column pressure_a_mbar is not a number"},
        Case{"trailing_text", one_row("33500x"), "runs.csv:2:12: ", "not a number"},
        Case{"empty_number", one_row(""), "runs.csv:2:12: ", "not a number"},
        Case{"blank_before", one_row(" 33500"), "runs.csv:2:12: ", "not a number"},
        Case{"decimal_comma", one_row("33500,5"), "runs.csv:2:", "decimals take a '.'"},
        Case{"not_a_number", one_row("nan"), "runs.csv:2:12: ", "not a finite number"},
        Case{"infinite", one_row("inf"), "runs.csv:2:12: ", "not a finite number"},
        Case{"non_printing", one_row("\x1b[31m"), "runs.csv:2:12: ", "'?[31m'"},
        Case{"blank_line", ideal_jack(1) + "\n" + rig_row(2, "zero", 0, 0, 0, 0),
             "runs.csv:24:1: ", "the line is blank; complete it or remove it"},
        Case{"blank_line_of_cr", ideal_jack(1) + "\r\n" + rig_row(2, "zero", 0, 0, 0, 0),
             "runs.csv:24:1: ", "the line is blank"},
        Case{"direction", replaced(ideal_jack(1), "up", "UP"), "runs.csv:3:3: ", "direction 'UP'"},
        Case{"origin", replaced(ideal_jack(1), "simulated", "measured"), "runs.csv:2:", "origin 'measured'"},
        Case{"time", replaced(ideal_jack(1), "2026-05-04T09:30:00+02:00", "04.05.2026"),
             "runs.csv:2:", "is no time"},
        Case{"serial_zero", replaced(ideal_jack(1), "1001", "0"),
             "runs.csv:2:", "jack_serial is not a whole number"},
        Case{"two_jacks",
             replaced(ideal_jack(1), "1001,2001,2002,simulated,2026-05-04T09:30:00+02:00\n1,up,15000",
                      "1002,2001,2002,simulated,2026-05-04T09:30:00+02:00\n1,up,15000"),
             "runs.csv:3:", "jack_serial changes within the file"},
        Case{"pressure_level",
             std::string{rig_header} + rig_row(1, "up", 1, 100, 100, 10) + rig_row(1, "up", 2, 100, 200, 20),
             "runs.csv:3:8: ", "pressure_a_mbar does not rise after line 2"},
        Case{"pressure_b_level",
             std::string{rig_header} + rig_row(1, "up", 1, 100, 100, 10) + rig_row(1, "up", 2, 200, 100, 20),
             "runs.csv:3:12: ", "pressure_b_mbar does not rise after line 2"},
        Case{"force_falls",
             std::string{rig_header} + rig_row(1, "up", 1, 100, 100, 10) + rig_row(1, "up", 2, 200, 200, 9),
             "runs.csv:3:16: ", "reference_n does not rise after line 2"},
        Case{
            "down_rises",
            std::string{rig_header} + rig_row(1, "down", 2, 100, 100, 10) + rig_row(1, "down", 1, 101, 99, 9),
            "runs.csv:3:10: ", "pressure_a_mbar does not fall after line 2"}),
    [](const auto& bad) { return std::string{bad.param.name}; });

TEST(Runs, AGoodFileIsReadWhole) {
  const Runs runs = read_runs(ideal_jack(3), "runs.csv");
  EXPECT_EQ(runs.rows.size(), 46U);  // three series of ten, ten down, six zeros
  EXPECT_EQ(runs.jack_serial, 1001U);
  EXPECT_EQ(runs.sensor_serial[1], 2002U);
  EXPECT_EQ(runs.origin, Origin::simulated);
  EXPECT_EQ(runs.last_taken_s, 1777879800);  // 2026-05-04T07:30:00Z, by date -u -d
}

TEST(Runs, BlankLinesAtTheEndAreNoReadings) {
  for (const char* end : {"\n", "\r\n", "\n\r\n\n"})
    EXPECT_EQ(read_runs(ideal_jack(3) + end, "runs.csv").rows.size(), 46U);
}

TEST(Runs, ColumnsMayStandInAnyOrderAndLinesMayEndInCrLf) {
  const std::string text =
      "taken_at,origin,sensor_b_serial,sensor_a_serial,jack_serial,oil_c,stroke_um,reference_n,pressure_b_"
      "mbar,"
      "pressure_a_mbar,set_point_n,direction,run\r\n"
      "2026-05-04T09:30:00Z,hardware,2002,2001,1001,21.5,5,14990.5,33001,33000,15000,up,1\r\n";
  const Runs runs = read_runs(text, "runs.csv");
  ASSERT_EQ(runs.rows.size(), 1U);
  EXPECT_EQ(runs.rows[0].pressure_mbar[1], 33001.0);
  EXPECT_EQ(runs.rows[0].reference_n, 14990.5);
  EXPECT_EQ(runs.origin, Origin::hardware);
}

}  // namespace
}  // namespace strandproof::host::gauge
