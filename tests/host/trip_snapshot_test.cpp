// What a trip left behind, read back out of the archive: lines, CSV, picture, and everything that is missing
// named. The samples are those of the golden frames' kind, made by hand.
#include "host-tool/report/trip_snapshot.hpp"

#include <gmock/gmock.h>

#include "tests/host/archive_fixture.hpp"

namespace strandproof::host::report {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

// Rows of small numbers: zigzag of n >= 0 below 64 is one byte of 2 n.
std::string row(std::initializer_list<int> differences) {
  std::string bytes;
  for (const int d : differences) bytes += static_cast<char>(d >= 0 ? 2 * d : -2 * d - 1);
  return bytes;
}
// 10 mA, 5 mA and 12 mA as first row: 27306, 13653 and 32768 counts of 65535 for 24 mA; bits 0x04F00F.
const std::string first_row("\xd4\xaa\x03\xaa\xd5\x01\x80\x80\x04\x9e\xc0\x27", 12);

class TripSnapshot : public archive::ArchiveTest {
 protected:
  void SetUp() override {
    ArchiveTest::SetUp();
    kept_ = std::make_unique<archive::Archive>(path_);
  }
  archive::StoredRecord add(const wire::Record& r, std::uint64_t tick_ms) {
    const archive::StoredRecord stored{1001, 1, ++sequence_, tick_ms, r.SerializeAsString()};
    kept_->add(std::vector{stored});
    return stored;
  }
  archive::StoredRecord event(std::uint64_t tick_ms) {
    wire::Record r;
    r.mutable_event()->set_code(3);
    r.mutable_event()->set_cause(14);
    return add(r, tick_ms);
  }
  wire::Record head(std::uint64_t trip_ms, std::uint32_t cause) {
    wire::Record r;
    auto& s = *r.mutable_snapshot();
    s.set_trip_ms(trip_ms);
    s.set_cause(cause);
    s.set_state(4);
    s.set_pressure_span_mbar(700'000);
    s.set_stroke_span_um(600'000);
    // cause 14 beyond its limit and active; cause 2 has something left; cause 44 says no.
    s.set_rows(row({14, 50, 40, 1}) + row({-12, -20, 20, -1}) + row({42, -30, -60, 0}));
    return r;
  }
  archive::StoredRecord part(std::uint64_t trip_ms, std::uint32_t number, std::int32_t from_ms,
                             const std::string& rows) {
    wire::Record r;
    auto& s = *r.mutable_snapshot();
    s.set_trip_ms(trip_ms);
    s.set_cause(14);
    s.set_part(number);
    s.set_begin_ms(-2);
    s.set_from_ms(from_ms);
    s.set_total(5);
    s.set_rows(rows);
    return add(r, trip_ms + 400);
  }

  std::unique_ptr<archive::Archive> kept_;
  std::uint64_t sequence_ = 0;
};

TEST_F(TripSnapshot, IsFoundByItsEventAndByEachOfItsParts) {
  const auto trip = event(9000);
  const auto zero = add(head(9000, 14), 9010);
  const auto one = part(9000, 1, -2, first_row + row({1, -1, 0, 0}));
  const auto two = part(9000, 2, 0, first_row + row({0, 0, 0, 0}) + row({0, 0, 0, 0}));
  for (const auto& record : {trip, zero, one, two}) {
    const auto shot = snapshot_of(*kept_, record);
    ASSERT_TRUE(shot) << record.sequence;
    EXPECT_EQ(shot->samples.size(), 5U);
    EXPECT_TRUE(shot->missing.empty());
    EXPECT_EQ(samples_text(*shot), "5 samples from -2 to 2 ms");
  }
  EXPECT_FALSE(snapshot_of(*kept_, event(20'000))) << "a trip that has none";
}

// Worked by hand: the row of cause 14 is (14, 50, 40, active), that of 2 is (2, 30, 60), that of 44 (44, 0,
// 0).
TEST_F(TripSnapshot, EachDetectorStandsWithValueLimitAndMargin) {
  const auto shot = snapshot_of(*kept_, add(head(9000, 14), 9010));
  ASSERT_TRUE(shot);
  EXPECT_THAT(
      margin_lines(*shot),
      ElementsAre(
          testing::AllOf(HasSubstr("TRIPPED STRAND BREAK"), HasSubstr("0.11 %"), HasSubstr("limit 0.09 %"),
                         HasSubstr("margin -0.02 %")),
          testing::AllOf(Not(HasSubstr("TRIPPED")), HasSubstr("PRESSURE TOO HIGH OR TOO FAST"),
                         HasSubstr("30 mbar"), HasSubstr("60 mbar"), HasSubstr("margin        30 mbar")),
          testing::AllOf(HasSubstr("CALCULATION NOT VALID"), HasSubstr(" no"), Not(HasSubstr("limit")))));
  EXPECT_EQ(
      samples_text(*shot),
      "no samples: not in the archive, or the power was cut or the log full before the jack wrote them");
}

TEST_F(TripSnapshot, WhatIsMissingIsNamed) {
  const auto zero = add(head(9000, 14), 9010);
  part(9000, 2, 0, first_row);
  const auto shot = snapshot_of(*kept_, zero);
  EXPECT_EQ(samples_text(*shot), "1 samples from 0 to 0 ms; -2 to -1 ms are missing; 1 to 2 ms are missing");
  const auto orphan = part(12'000, 1, -2, first_row);
  EXPECT_THAT(margin_lines(*snapshot_of(*kept_, orphan)), ElementsAre(HasSubstr("is missing")));
}

TEST_F(TripSnapshot, ASecondTripShowsTheSamplesOfTheFirstInItsOwnTime) {
  add(head(9000, 14), 9010);
  part(9000, 1, -2,
       first_row + row({0, 0, 0, 0}) + row({0, 0, 0, 0}) + row({0, 0, 0, 0}) + row({0, 0, 0, 0}));
  auto second = head(9001, 16);
  second.mutable_snapshot()->set_since_ms(1);
  second.mutable_snapshot()->set_missed(2);
  const auto shot = snapshot_of(*kept_, add(second, 9020));
  ASSERT_EQ(shot->samples.size(), 5U);
  EXPECT_EQ(shot->samples.front().at_ms, -3);
  EXPECT_EQ(samples_text(*shot), "5 samples from -3 to 1 ms, taken for the trip 1 ms before");
  EXPECT_THAT(margin_lines(*shot).front(), HasSubstr("2 more trips right before it"));
  auto third = head(9300, 16);
  third.mutable_snapshot()->set_no_samples(true);
  EXPECT_EQ(samples_text(*snapshot_of(*kept_, add(third, 9400))),
            "no samples: those of an earlier trip were being written");
}

// 27306 counts are 10 mA: (10 - 4) / 16 of 70 MPa is 262.5 bar; 13653 are 5 mA: 43.75 bar; 32768 are 12 mA:
// 300 mm.
TEST_F(TripSnapshot, SamplesAreACsvInUnits) {
  const auto zero = add(head(9000, 14), 9010);
  part(9000, 1, -2, first_row);
  const std::string text = sample_csv(*snapshot_of(*kept_, zero), zero, "SIMULATED");
  EXPECT_EQ(text,
            sample_csv_header() +
                "1001,SIMULATED,1,9000,STRAND BREAK,-2,262496,43748,300007,27306,13653,32768,61455,4\r\n");
}

TEST_F(TripSnapshot, ThePictureMarksTheTripAndAsksForNothing) {
  const auto zero = add(head(9000, 14), 9010);
  EXPECT_EQ(snapshot_svg(*snapshot_of(*kept_, zero)), "");
  part(9000, 1, -2,
       first_row + row({0, 0, 0, 0}) + row({0, 0, 0, 0}) + row({0, 0, 0, 0}) + row({0, 0, 0, 0}));
  const std::string svg = snapshot_svg(*snapshot_of(*kept_, zero));
  EXPECT_THAT(svg, HasSubstr(">STRAND BREAK</text>"));
  EXPECT_THAT(svg, HasSubstr("MPa"));
  EXPECT_THAT(svg, HasSubstr("stroke, mm"));
  EXPECT_THAT(svg, HasSubstr("<rect")) << "the advance valve was on";
  EXPECT_THAT(svg, Not(HasSubstr("nan")));
  EXPECT_THAT(svg, Not(HasSubstr("http")));
}

}  // namespace
}  // namespace strandproof::host::report
