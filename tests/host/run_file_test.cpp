// The file of a capture and what is checked before it goes on: torn at every byte, of other parts, foreign,
// held, full. Its reader is the one of `gauge fit`.
#include "host-tool/capture/run_file.hpp"

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::test {
namespace {

using capture::Declared;
using capture::Kind;
using capture::Reading;
using capture::RunFile;

constexpr std::int64_t taken_s = 1'772'434'800;  // 2026-03-02T07:00:00Z

Declared invented() {
  return {
      1001, {2001, 2002}, gauge::Origin::simulated, {"R-17", 5, 5'000.0, 200'000.0, taken_s + 1, 600}, 21.5};
}

Reading reading(Kind kind, int set_point_n, double force_n) {
  return {{kind, 1, set_point_n}, {force_n / 0.4656, force_n / 0.4660}, force_n, 31'234.4, 22.04};
}

struct File : testing::Test {
  std::string path = testing::TempDir() + "capture_runs_" + std::to_string(::getpid()) + ".csv";
  void SetUp() override { std::filesystem::remove(path); }
  void TearDown() override { std::filesystem::remove(path); }
  void three_readings() const {
    RunFile file(path, invented());
    file.append(reading(Kind::zero, 0, 0.0), taken_s);
    file.append(reading(Kind::up, 30'000, 30'040.25), taken_s + 60);
    file.append(reading(Kind::up, 60'000, 60'011.5), taken_s + 120);
  }
  // What RunFile says about the file as it is; and the file must stay so.
  [[nodiscard]] std::string refusal(const Declared& declared) const {
    const auto before = read_file(path);
    std::string said;
    try {
      const RunFile file(path, declared);
    } catch (const Problem& p) {
      said = p.what();
    }
    EXPECT_EQ(read_file(path), before);
    EXPECT_EQ(said.find('\n'), std::string::npos);
    return said;
  }
};

TEST_F(File, IsReadByTheFitsOwnReaderAsItWasWritten) {
  three_readings();
  const auto runs = gauge::read_runs(read_file(path), path);
  ASSERT_EQ(runs.rows.size(), 3U);
  EXPECT_EQ(runs.rows[0].direction, gauge::Direction::zero);
  EXPECT_EQ(runs.rows[1].set_point_n, 30'000);
  EXPECT_NEAR(runs.rows[1].reference_n, 30'040.25, 1e-9);
  EXPECT_NEAR(runs.rows[1].pressure_mbar[0], 30'040.25 / 0.4656, 0.005);
  EXPECT_EQ(runs.rows[1].stroke_um, 31'234);
  EXPECT_NEAR(runs.rows[1].oil_c, 22.0, 1e-9);
  EXPECT_NEAR(runs.rows[1].ambient_c, 21.5, 1e-9);
  EXPECT_EQ(runs.rows[2].taken_s, taken_s + 120);
  EXPECT_EQ(runs.jack_serial, 1001U);
  EXPECT_EQ(runs.sensor_serial[1], 2002U);
  ASSERT_TRUE(runs.cell);
  EXPECT_EQ(*runs.cell, invented().cell);
}

TEST_F(File, TornAtAnyByteOfItsLastLineItGoesOnWithTheOneBefore) {
  three_readings();
  const auto whole = read_file(path);
  const auto last = whole.rfind('\n', whole.size() - 2) + 1;
  for (std::size_t size = last; size < whole.size(); ++size) {
    write_file(path, whole.substr(0, size));
    RunFile file(path, invented());
    EXPECT_EQ(file.readings().size(), 2U);
    EXPECT_EQ(file.dropped().empty(), size == last) << "a whole line is not torn";
    file.append(reading(Kind::up, 60'000, 60'011.5), taken_s + 120);
    auto marked = whole;  // gone on with in the middle of the series
    marked[marked.size() - 2] = '1';
    ASSERT_EQ(read_file(path), marked) << "cut at byte " << size;
  }
}

// Between two series nothing is broken: only the first reading after a break within one is marked.
TEST_F(File, ABreakWithinASeriesIsMarkedAtTheReadingAfterIt) {
  three_readings();
  {
    RunFile file(path, invented());
    file.append(reading(Kind::up, 90'000, 90'020.0), taken_s + 180);
    file.append(reading(Kind::zero, 0, 1.0), taken_s + 240);
  }
  {
    RunFile file(path, invented());
    auto next_series = reading(Kind::zero, 0, 1.0);
    next_series.step.series = 2;
    file.append(next_series, taken_s + 300);
  }
  const auto runs = gauge::read_runs(read_file(path), path);
  ASSERT_EQ(runs.rows.size(), 6U);
  for (std::size_t i = 0; i < 6; ++i) EXPECT_EQ(runs.rows[i].resumed, i == 3) << i;
}

TEST_F(File, TornWithinItsHeaderItBeginsAnew) {
  three_readings();
  const auto whole = read_file(path);
  const auto header = whole.find('\n') + 1;
  for (std::size_t size = 0; size < header; size += 9) {
    write_file(path, whole.substr(0, size));
    const RunFile file(path, invented());
    EXPECT_TRUE(file.readings().empty());
    ASSERT_EQ(read_file(path), whole.substr(0, header)) << "cut at byte " << size;
  }
}

TEST_F(File, ZerosThatALossOfPowerLeftAreCutOff) {
  three_readings();
  const auto whole = read_file(path);
  write_file(path, whole + std::string(700, '\0'));
  const RunFile file(path, invented());
  EXPECT_EQ(file.readings().size(), 3U);
  EXPECT_EQ(read_file(path), whole);
}

TEST_F(File, OfOtherPartsIsRefusedByNameAndStaysAsItIs) {
  three_readings();
  auto other = invented();
  other.jack_serial = 1002;
  EXPECT_NE(refusal(other).find(":2: it is of jack 1001, and now it is 1002"), std::string::npos)
      << refusal(other);
  other = invented();
  std::swap(other.sensor_serial[0], other.sensor_serial[1]);
  EXPECT_NE(refusal(other).find("sensor A 2001"), std::string::npos);
  other = invented();
  other.origin = gauge::Origin::hardware;
  EXPECT_NE(refusal(other).find("origin simulated"), std::string::npos);
  other = invented();
  other.cell.serial = "R-18";
  EXPECT_NE(refusal(other).find("reference cell R-17"), std::string::npos);
  other = invented();
  other.cell.due_s += 1;
  EXPECT_NE(refusal(other).find("due date"), std::string::npos);
  other = invented();
  other.ambient_c.reset();
  EXPECT_NE(refusal(other).find(":1: is no capture with these columns"), std::string::npos);
  other = invented();
  other.ambient_c = 23.0;
  EXPECT_EQ(refusal(other), "") << "the room may be warmer by now";
}

TEST_F(File, AForeignFileStaysAsItIs) {
  for (const char* text : {"x,y\n1,2\n", "minutes of the meeting\n", "run,direction\n"}) {
    write_file(path, text);
    EXPECT_NE(refusal(invented()).find("is no capture"), std::string::npos) << text;
  }
}

TEST_F(File, HeldByAnotherProgramIsSaid) {
  const RunFile file(path, invented());
  EXPECT_NE(refusal(invented()).find("another program is writing it"), std::string::npos);
}

// A full disk, as the limit on a file's size gives it: part of the line is written, and taken back.
TEST_F(File, WhatCanNotBeWrittenLeavesTheFileAsItWas) {
  RunFile file(path, invented());
  file.append(reading(Kind::zero, 0, 0.0), taken_s);
  const auto before = read_file(path);
  rlimit old{};
  ASSERT_EQ(getrlimit(RLIMIT_FSIZE, &old), 0);
  const auto ignored = std::signal(SIGXFSZ, SIG_IGN);
  const rlimit low{before.size() + 10, old.rlim_max};
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &low), 0);
  EXPECT_THROW(file.append(reading(Kind::up, 30'000, 30'040.0), taken_s), Problem);
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &old), 0);
  std::signal(SIGXFSZ, ignored);
  EXPECT_EQ(read_file(path), before);
  file.append(reading(Kind::up, 30'000, 30'040.0), taken_s);
  EXPECT_GT(read_file(path).size(), before.size());
}

}  // namespace
}  // namespace strandproof::host::test
