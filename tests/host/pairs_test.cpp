// An outside laboratory's pairs become a table as they stand; nothing is fitted or judged here.
#include "host-tool/gauge/pairs.hpp"

#include <fmt/core.h>
#include <gtest/gtest.h>

#include <string>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::gauge {
namespace {

Certificate certificate() {
  return {"a calibration laboratory",
          "C-17",
          1001,
          {2001, 2002},
          Origin::hardware,
          1'780'000'000,
          1'790'000'000,
          8000,
          10};
}

std::string pairs(int count, const char* header = "channel,direction,pressure_mpa,force_kn\n") {
  std::string text{header};
  for (const char* channel : {"A", "B"}) {
    for (int i = 1; i <= count; ++i) text += fmt::format("{},up,{},{}\n", channel, 3.0 * i, 14.25 * i);
  }
  return text;
}

std::string problem_of(const std::string& text, const Certificate& c = certificate(),
                       const CsvOptions& o = {}) {
  try {
    (void)read_pairs(text, "pairs.csv", o, c);
  } catch (const Problem& p) {
    return p.what();
  }
  return "accepted";
}

TEST(Pairs, BecomeTheTableAsTheyStand) {
  const Table t = read_pairs(pairs(10), "pairs.csv", {}, certificate());
  ASSERT_EQ(t.increasing[1].points.size(), 10U);
  EXPECT_EQ(t.increasing[0].points[1], (Point{60000, 28500}));
  EXPECT_EQ(t.uncertainty_ppm, 8000U);
  EXPECT_EQ(t.iso_class.tenths, 10);
  EXPECT_EQ(t.lowest_initial_n, 14364.0);  // 14250 N and 0.8 % of it
  ASSERT_TRUE(t.imported);
  EXPECT_TRUE(t.increasing[0].candidates.empty());
  EXPECT_TRUE(t.budget[0].empty());
  EXPECT_TRUE(t.notes[0].starts_with("IMPORTED"));
}

TEST(Pairs, TheFileSaysImportedAndHoldsNoFigureOfOurs) {
  const std::string json = to_json(read_pairs(pairs(5), "pairs.csv", {}, certificate()), {"pairs.csv", "00"});
  EXPECT_NE(json.find("\"imported\""), std::string::npos);
  EXPECT_NE(json.find("C-17"), std::string::npos);
  for (const char* ours : {"residual_sd", "covariance", "iso_7500_1", "coverage_factor", "fit_options"}) {
    EXPECT_EQ(json.find(ours), std::string::npos) << ours;
  }
  EXPECT_EQ(from_json(json, "table.json").increasing[0].size(), 5U);
  try {
    (void)options_from_json(json, "table.json");
    FAIL() << "accepted";
  } catch (const Problem& p) {
    EXPECT_NE(std::string{p.what()}.find("an imported table was not fitted here"), std::string::npos);
  }
}

TEST(Pairs, SemicolonsAndDecimalCommasByDeclaration) {
  std::string text = "channel;direction;pressure_bar;force_kn\n";
  for (const char* channel : {"A", "B"}) {
    for (int i = 1; i <= 5; ++i) text += fmt::format("{};up;{},5;{},25\n", channel, 30 * i, 14 * i);
  }
  const Table t = read_pairs(text, "pairs.csv", csv_options(";", ","), certificate());
  EXPECT_EQ(t.increasing[0].points[0], (Point{30500, 14250}));
}

TEST(Pairs, EachProblemIsOneLineWithPlaceAndRemedy) {
  EXPECT_NE(problem_of(pairs(4)).find("channel A, up has 4 pairs"), std::string::npos);
  EXPECT_NE(problem_of(pairs(25)).find("has 25 pairs"), std::string::npos);
  EXPECT_NE(
      problem_of("channel,direction,pressure_mpa,force_kn\nC,up,1,1\n").find("pairs.csv:2:1: channel 'C'"),
      std::string::npos);
  EXPECT_NE(
      problem_of("channel,direction,pressure_mpa,force_kn\nA,zero,1,1\n").find("pairs.csv:2:3: direction"),
      std::string::npos);
  EXPECT_NE(problem_of("channel,direction,pressure_mpa,force_kn\nA,up,1,1\nA,up,2,1\n")
                .find("pairs.csv:3:8: does not rise"),
            std::string::npos);
  EXPECT_NE(problem_of("channel,direction,pressure_mpa,force_kn\nA,up,0,0\n").find("pairs.csv:2:6: '0'"),
            std::string::npos);
  EXPECT_NE(problem_of(pairs(5, "channel,direction,pressure,force_kn\n")).find("names no unit"),
            std::string::npos);
}

// Of a jack with 47.5 cm2, with one thing wrong.
TEST(Pairs, WhatNoJackDoesIsRefusedByLine) {
  const auto rows = [](double mpa, double kn, double b = 1.0, double down = 1.0, double third = 1.0) {
    std::string text = "channel,direction,pressure_mpa,force_kn\n";
    for (const char* channel : {"A", "B"}) {
      for (int i = 1; i <= 6; ++i)
        text += fmt::format("{},up,{},{}\n", channel, mpa * i,
                            kn * i * (*channel == 'B' ? b : 1.0) * (i == 3 ? third : 1.0));
    }
    for (int i = 1; i <= 5; ++i) text += fmt::format("A,down,{},{}\n", mpa * i, kn * i * down);
    return text;
  };
  EXPECT_EQ(problem_of(rows(5.0, 23.75, 1.0, 1.03)), "accepted");
  EXPECT_NE(problem_of(rows(33.0, 23.75, 1.0, 1.03))
                .find("pairs.csv:7: 142.5 kN at 1980 bar make a piston of 7.2 cm2"),
            std::string::npos);
  EXPECT_NE(problem_of(rows(5.0, 23.75, 1.04))
                .find("channel B makes 98.80 kN of this pressure and channel A 95.00"),
            std::string::npos);
  EXPECT_NE(
      problem_of(rows(5.0, 23.75, 1.0, 0.97)).find("23.04 kN going down, where 23.75 kN stand going up"),
      std::string::npos);
  EXPECT_NE(problem_of(rows(5.0, 23.75, 1.0, 1.3)).find("by 12 % and 2 kN at most"), std::string::npos);
  EXPECT_NE(problem_of(rows(5.0, 23.75, 1.0, 1.03, 1.2)).find("where the pairs beside it make"),
            std::string::npos);
}

TEST(Pairs, ACertificateThatLacksSomethingIsRefused) {
  auto c = certificate();
  c.issuer = "";
  EXPECT_NE(problem_of(pairs(5), c).find("--issuer"), std::string::npos);
  c = certificate();
  c.number = "";
  EXPECT_NE(problem_of(pairs(5), c).find("--certificate"), std::string::npos);
  c = certificate();
  c.sensor_serial[1] = c.sensor_serial[0];
  EXPECT_NE(problem_of(pairs(5), c).find("sensors A and B have the same serial 2001"), std::string::npos);
  c = certificate();
  c.expanded_ppm = 0;
  EXPECT_NE(problem_of(pairs(5), c).find("--uncertainty-ppm"), std::string::npos);
  c = certificate();
  c.due_s = c.calibrated_s;
  EXPECT_NE(problem_of(pairs(5), c).find("not after the calibration"), std::string::npos);
}

}  // namespace
}  // namespace strandproof::host::gauge
