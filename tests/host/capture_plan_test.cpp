// What bars a capture before anything is read, and the cell's own line as it may be garbled.
#include <gtest/gtest.h>

#include "host-tool/base/problem.hpp"
#include "host-tool/capture/cell.hpp"
#include "host-tool/capture/plan.hpp"

namespace strandproof::host::test {
namespace {

using capture::CellText;
using capture::CellWatch;
using capture::Kind;
using capture::Settings;

constexpr std::int64_t now_s = 1'772'434'800;
const gauge::ReferenceCell cell{"R-17", 5, 20'000.0, 200'000.0, now_s, std::nullopt};

template <class Act>
std::string problem(Act act) {
  try {
    act();
  } catch (const Problem& p) {
    return p.what();
  }
  return "";
}

std::string said(std::vector<int> points, const gauge::ReferenceCell& with = cell,
                 std::int64_t at_s = now_s) {
  return problem([&] { capture::check({.set_points_n = std::move(points)}, with, at_s); });
}

TEST(CapturePlan, SetPointsRiseWithinTheCellsRange) {
  EXPECT_EQ(said({30'000, 60'000, 195'000}), "");
  EXPECT_NE(said({30'000, 60'000, 60'000}).find("does not rise"), std::string::npos);
  EXPECT_NE(said({0, 60'000}).find("does not rise"), std::string::npos);
  EXPECT_NE(said({}).find("none"), std::string::npos);
  // With the band of 1.5 % of the largest: 200 kN could be read at 203 kN.
  EXPECT_NE(said({30'000, 200'000}).find("outside the reference cell's range"), std::string::npos);
  EXPECT_NE(said({20'000, 100'000}).find("outside the reference cell's range"), std::string::npos);
}

TEST(CapturePlan, ACellIsUsedUpToItsDueDateAndNotASecondLonger) {
  EXPECT_EQ(said({30'000, 60'000}, cell, now_s), "");
  EXPECT_NE(said({30'000, 60'000}, cell, now_s + 1).find("R-17 was due on 2026-03-02"), std::string::npos);
}

TEST(CapturePlan, EachDeclaredPartIsCompared) {
  const capture::Parts parts{1001, 2001, 2002};
  EXPECT_EQ(problem([&] { capture::check_parts(parts, parts); }), "");
  EXPECT_NE(problem([&] {
              capture::check_parts(parts, {1002, 2001, 2002});
            }).find("--jack: 1001 was declared"),
            std::string::npos);
  EXPECT_NE(problem([&] {
              capture::check_parts(parts, {1001, 2002, 2001});
            }).find("--sensor-a: 2001"),
            std::string::npos);
  EXPECT_NE(problem([&] {
              capture::check_parts(parts, {1001, 2001, 2003});
            }).find("--sensor-b: 2002"),
            std::string::npos);
}

// ISO 7500-1 and trade.md 5.1: exercised three times, three series up, the last one also down, zero before
// and after each.
TEST(CapturePlan, TheStepsOfThreeSeries) {
  const auto all = capture::steps({.set_points_n = {10, 20, 30}});
  const auto count = [&](Kind kind) {
    return std::count_if(all.begin(), all.end(), [&](const auto& s) { return s.kind == kind; });
  };
  EXPECT_EQ(count(Kind::exercise), 3);
  EXPECT_EQ(count(Kind::zero), 6);
  EXPECT_EQ(count(Kind::up), 9);
  EXPECT_EQ(count(Kind::down), 2) << "the top is not read again";
  EXPECT_EQ(all.back().kind, Kind::zero);
}

TEST(CapturePlan, BandsOfNeighboursNeverMeet) {
  const Settings s{.set_points_n = {1'000, 1'500, 100'000}};
  EXPECT_NEAR(capture::band_n(s, {Kind::up, 1, 100'000}), 1'500.0, 1e-9);
  EXPECT_NEAR(capture::band_n(s, {Kind::down, 1, 100'000}), 5'000.0, 1e-9);
  EXPECT_NEAR(capture::band_n(s, {Kind::up, 1, 1'000}), 200.0, 1e-9);
  EXPECT_NEAR(capture::band_n(s, {Kind::down, 1, 1'500}), 200.0, 1e-9);
}

TEST(CapturePlan, OtherSettingsThanTheFileWasBegunWithAreNamedByTheirLine) {
  const auto plan = capture::steps({.set_points_n = {10, 20, 30}});
  std::vector<capture::Step> done{{Kind::zero, 1, 0}, {Kind::up, 1, 10}, {Kind::up, 1, 20}};
  EXPECT_EQ(problem([&] { capture::check_resumed(plan, done, "runs.csv"); }), "");
  done[2].set_point_n = 25;
  EXPECT_NE(problem([&] {
              capture::check_resumed(plan, done, "runs.csv");
            }).find("runs.csv:4: 25 N up of series 1 where these settings foresee 20 N up of series 1"),
            std::string::npos);
  done.assign(18, {Kind::zero, 1, 0});
  EXPECT_NE(problem([&] { capture::check_resumed(plan, done, "runs.csv"); }).find("runs.csv:3:"),
            std::string::npos);
}

TEST(CellLine, WholeLinesAreValuesWhateverThePieces) {
  CellText text;
  EXPECT_TRUE(text.feed("_n 1\nfor").empty()) << "the first line may be cut";
  EXPECT_EQ(text.feed("ce_n 300"), std::vector<double>{});
  EXPECT_EQ(text.feed("12\r\nforce_n -7\n"), (std::vector<double>{30'012.0, -7.0}));
  EXPECT_EQ(text.garbage(), 0U);
}

TEST(CellLine, WhatIsNoValueIsDroppedAndCounted) {
  CellText text;
  (void)text.feed("\n");
  EXPECT_TRUE(
      text.feed("force_n 12.5\nforce_n\nforce_n 1e3\nforce 12\nforce_n 12 N\n\nforce_n 999999999999\n")
          .empty());
  EXPECT_EQ(text.garbage(), 7U);
  EXPECT_TRUE(text.feed(std::string(200, 'x')).empty());
  EXPECT_EQ(text.garbage(), 8U);
  EXPECT_TRUE(text.feed("force_n 5\n").empty()) << "the rest of the long line";
  EXPECT_EQ(text.feed("force_n 6\n"), std::vector<double>{6.0});
  text.line_lost();
  EXPECT_TRUE(text.feed("force_n 7\n").empty()) << "may be cut again";
}

TEST(CellLine, TenValuesWithinTheSpreadStandStill) {
  CellWatch watch;
  for (int i = 0; i < 9; ++i) watch.add(100.0);
  EXPECT_FALSE(watch.steady(10.0));
  watch.add(110.0);
  ASSERT_TRUE(watch.steady(10.0));
  EXPECT_NEAR(*watch.steady(10.0), 101.0, 1e-9);
  EXPECT_FALSE(watch.steady(9.99));
  for (int i = 0; i < 9; ++i) watch.add(110.0);
  EXPECT_NEAR(*watch.steady(0.0), 110.0, 1e-9) << "the old ones have left";
}

}  // namespace
}  // namespace strandproof::host::test
