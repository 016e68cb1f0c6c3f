// What a trace may look like, and what is said of one that does not.
#include "sim/fit/recording.hpp"

#include <gtest/gtest.h>

#include <fstream>

#include "tests/folder_test.hpp"

namespace strandproof::sim {
namespace {

class RecordingTest : public strandproof::test::FolderTest {
 protected:
  std::string file(const std::string& head, const std::string& extra = "", int rows = 2500) {
    const std::string path = folder_ + "/t.csv";
    std::ofstream out(path, std::ios::binary);
    out << head << "\n";
    for (int i = 0; i < rows; ++i) {
      out << i / 1000 << "." << std::to_string(1000 + i % 1000).substr(1) << ",5,10923,10923,10923\n";
    }
    out << extra;
    return path;
  }
  std::string problem(const std::string& path) {
    try {
      (void)read_recording(path, Scenario{}, 60.0);
    } catch (const std::runtime_error& error) {
      return std::string(error.what()).substr(folder_.size() + 1);
    }
    return "no problem";
  }
  static constexpr const char* counts =
      "time_s,driven_bits,pressure_a_counts,pressure_b_counts,stroke_counts";
};

// 10923 of 65535 counts are 4.0002 mA.
TEST_F(RecordingTest, CountsAreValuesOverTheSpans) {
  const Recording r = read_recording(file(counts), Scenario{}, 60.0);
  ASSERT_EQ(r.driven.size(), 2500U);
  EXPECT_EQ(r.driven[7], 5);
  EXPECT_NEAR(r.read[Recording::pressure_a][3], (10923 * 24.0 / 65535.0 - 4.0) / 16.0 * 70e6, 1e-6);
  EXPECT_NEAR(r.read[Recording::stroke][3], (10923 * 24.0 / 65535.0 - 4.0) / 16.0 * 0.6, 1e-12);
  EXPECT_TRUE(r.read[Recording::cell].empty());
}

TEST_F(RecordingTest, UnitsAreThoseOfTheNames) {
  const Recording r =
      read_recording(file("time_s,driven_bits,pressure_a_mbar,pressure_b_counts,stroke_um"), Scenario{}, 2.2);
  ASSERT_EQ(r.driven.size(), 2200U) << "at most so many seconds";
  EXPECT_NEAR(r.read[Recording::pressure_a][0], 1092300.0, 1e-6);
  EXPECT_NEAR(r.read[Recording::stroke][0], 0.010923, 1e-12);
}

TEST_F(RecordingTest, WhatIsWrongHasItsLineAndARemedy) {
  EXPECT_EQ(
      problem(folder_ + "/absent.csv"),
      "absent.csv: can not be read, or is empty; name a trace such as strandproof-sim rig --trace writes");
  EXPECT_EQ(problem(file("time_s,pressure_a_counts")),
            "t.csv:1: has no column driven_bits in its first line; add it");
  EXPECT_EQ(problem(file("time_s,driven_bits,pressure_a_counts,pressure_b_psi,stroke_um")),
            "t.csv:1: has no column pressure_b_counts or pressure_b_mbar in its first line; add it");
  EXPECT_EQ(problem(file(counts, "2.500,5,1,2\n")), "t.csv:2502: has 4 columns, the first line has 5");
  EXPECT_EQ(problem(file(counts, "2.500,5,1,x,3\n")),
            "t.csv:2502: \"x\" in column 4 is no number; correct it");
  EXPECT_EQ(problem(file(counts, "2.500,5,1,nan,3\n")),
            "t.csv:2502: \"nan\" in column 4 is no number; correct it");
  EXPECT_EQ(problem(file(counts, "2.500,300,1,2,3\n")), "t.csv:2502: driven_bits are 0 to 255");
  EXPECT_EQ(problem(file(counts, "", 3)), "t.csv:4: holds 3 ms; a fit needs at least 2000");
  EXPECT_EQ(problem(file(counts, "2.502,5,1,2,3\n")),
            "t.csv:2502: comes 0.0030 s after the row before it; a trace has a row each millisecond");
}

}  // namespace
}  // namespace strandproof::sim
