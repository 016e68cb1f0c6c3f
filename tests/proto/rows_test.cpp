// Rows of numbers (SPEC.md, section 12) and the curve that parts make, from the specification's own example,
// from the golden file that the Python end wrote, and from what is not rows at all.
#include "proto/peer/rows.hpp"

#include <gtest/gtest.h>

#include "proto/peer/snapshot.hpp"
#include "tests/proto/golden.hpp"

namespace strandproof::proto {
namespace {

using Rows = std::vector<Row>;

TEST(Rows, TheExampleOfTheSpecification) {
  EXPECT_EQ(rows_of(raw_text("0a0102da040000"), 2), (Rows{{5, -1}, {6, 300}, {6, 300}}));
}

TEST(Rows, DifferencesWrap) {  // from the lowest number to the highest: a difference of -1
  EXPECT_EQ(rows_of(raw_text("ffffffff0f01"), 1), (Rows{{INT32_MIN}, {INT32_MAX}}));
}

TEST(Rows, WhatIsNoRowsIsRefused) {
  EXPECT_EQ(rows_of("", 3), Rows{});
  for (const char* bytes : {"0a", "0a01ff", "8000", "0a8100", "ffffffff1f", "ffffffffff0f", "80"}) {
    EXPECT_FALSE(rows_of(raw_text(bytes), bytes[0] == '8' || bytes[0] == 'f' ? 1 : 2)) << bytes;
  }
}

wire::Record golden_record(const std::string& what) {
  for (const Block& b : golden("frames.txt")) {
    wire::LogRecord stored;
    wire::Record record;
    if (b.at("what") == what && stored.ParseFromString(raw_text(b.at("payload"))) &&
        record.ParseFromString(stored.body())) {
      return record;
    }
  }
  ADD_FAILURE() << "no golden frame: " << what;
  return {};
}

TEST(Curve, APartOfThePythonEndIsReadAsItWasMeant) {
  const wire::Record part = golden_record("two points of a curve, falling");
  ASSERT_TRUE(part.has_curve());
  const wire::Record pull = golden_record("a pull whose curve stands before it");
  const PullCurve curve = curve_of(pull.pull(), {part.curve()});
  ASSERT_EQ(curve.points.size(), 2U);
  EXPECT_EQ(curve.points[0].at_ms, 41000U);
  EXPECT_EQ(curve.points[1].elongation_um, 249999);
  EXPECT_EQ(curve.points[1].force_n, INT32_MIN);
  EXPECT_EQ(curve.missing, 60U) << "the first 60 points are in no part that was given";
}

TEST(Curve, PartsAreJoinedInTheirOrderAndWhatIsMissingIsCounted) {
  wire::PullRecord pull;
  pull.set_curve_points(5);
  wire::CurvePart one, two, damaged;
  one.set_first(0);
  one.set_points(
      raw_text("020406"
               "020406"));
  two.set_first(2);
  two.set_points(
      raw_text("0a0a0a"
               "020202"));
  damaged.set_first(4);
  damaged.set_points(raw_text("0a0a"));
  const PullCurve curve = curve_of(pull, {damaged, two, one});
  ASSERT_EQ(curve.points.size(), 4U);
  EXPECT_EQ(curve.points[1].force_n, 6);
  EXPECT_EQ(curve.points[2].at_ms, 5U);
  EXPECT_EQ(curve.missing, 1U);
}

TEST(Curve, AnOlderRecordHoldsItsPointsItself) {
  const PullCurve curve = curve_of(golden_record("a stored pull").pull(), {});
  ASSERT_EQ(curve.points.size(), 5U);
  EXPECT_EQ(curve.points[4].elongation_um, 21000 + 22500 + 60000 - 40);
  EXPECT_EQ(curve.points[4].force_n, 15000 + 7100 + 7600 + 20300 - 60);
  EXPECT_FALSE(curve.points[0].at_ms);
  EXPECT_EQ(curve.missing, 0U);
}

TEST(Snapshot, ThePartsOfThePythonEndAreReadAsTheyWereMeant) {
  const wire::Record head = golden_record("what the detectors saw at a break");
  const wire::Record part = golden_record("two of its samples, the second with the outputs off");
  const TripSnapshot shot = snapshot_of({part.snapshot(), head.snapshot()});
  EXPECT_EQ(shot.head.cause(), 14U);
  ASSERT_EQ(shot.margins.size(), 3U);
  EXPECT_EQ(shot.margins[0].left(), 139'000 - 78'000);
  EXPECT_TRUE(shot.margins[1].active);
  EXPECT_EQ(shot.margins[1].left(), 250 - 1647);
  EXPECT_TRUE(shot.margins[2].lowest);
  EXPECT_EQ(shot.margins[2].left(), 250'000 - 347'000) << "below the lowest value";
  ASSERT_EQ(shot.samples.size(), 2U);
  EXPECT_EQ(shot.samples[0].at_ms, -1);
  EXPECT_EQ(shot.samples[0].inputs, 0xF07F);
  EXPECT_EQ(shot.samples[0].outputs, 0x27);
  EXPECT_EQ(shot.samples[1].pressure_a, 65535);
  EXPECT_EQ(shot.samples[1].pressure_b, 0);
  EXPECT_EQ(shot.samples[1].outputs, 0);
  EXPECT_EQ(shot.missing, (std::vector<TripSpan>{{-500, -2}, {1, 299}}));
}

}  // namespace
}  // namespace strandproof::proto
