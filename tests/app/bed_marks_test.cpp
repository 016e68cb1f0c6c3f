#include "firmware/app/bed_marks.hpp"

#include <gtest/gtest.h>

namespace strandproof::app {
namespace {

using control::Refusal;

TEST(BedMarks, ABreakStopsItsPositionAndItsBedUntilBothEntriesAreMade) {
  BedMarks m;
  m.broken(3, 7);
  EXPECT_EQ(m.gate(3, 7), Refusal::bed_inspect);
  EXPECT_EQ(m.gate(3, 8), Refusal::bed_inspect);
  EXPECT_EQ(m.gate(4, 7), Refusal::none);
  EXPECT_EQ(m.enter(3, 7, 2), Refusal::none);
  EXPECT_EQ(m.gate(3, 8), Refusal::none);
  EXPECT_EQ(m.gate(3, 7), Refusal::strand_replace);
  EXPECT_EQ(m.enter(3, 6, 1), Refusal::none) << "another position lifts nothing";
  EXPECT_EQ(m.gate(3, 7), Refusal::strand_replace);
  EXPECT_EQ(m.enter(3, 7, 1), Refusal::none);
  EXPECT_EQ(m.gate(3, 7), Refusal::none);
}

TEST(BedMarks, AnUnknownKindOfEntryIsRefusedAndChangesNothing) {
  BedMarks m;
  m.broken(1, 1);
  EXPECT_EQ(m.enter(1, 1, 0), Refusal::malformed);
  EXPECT_EQ(m.enter(1, 1, 3), Refusal::malformed);
  EXPECT_EQ(m.gate(1, 1), Refusal::bed_inspect);
}

TEST(BedMarks, WhenEveryPlaceIsTakenNoBedIsPulledAndNoMarkIsForgotten) {
  BedMarks m;
  for (std::uint32_t i = 1; i <= BedMarks::capacity; ++i) {
    EXPECT_EQ(m.gate(99, 1), Refusal::none) << i;
    m.broken(i, i);
  }
  EXPECT_EQ(m.gate(99, 1), Refusal::marks_full);
  m.broken(99, 1);  // can not happen, for no pull began; and would still take nobody's place
  for (std::uint32_t i = 1; i <= BedMarks::capacity; ++i) {
    EXPECT_EQ(m.gate(i, i), Refusal::bed_inspect) << i;
  }
  EXPECT_EQ(m.enter(5, 5, 2), Refusal::none);
  EXPECT_EQ(m.gate(99, 1), Refusal::marks_full) << "inspected, not yet replaced";
  EXPECT_EQ(m.enter(5, 5, 1), Refusal::none);
  EXPECT_EQ(m.gate(99, 1), Refusal::none);
}

TEST(BedMarks, ASecondBreakAtAPositionTakesNoSecondPlace) {
  BedMarks m;
  for (int i = 0; i < 40; ++i) {
    m.broken(2, 5);
  }
  EXPECT_EQ(m.enter(2, 5, 2), Refusal::none);
  EXPECT_EQ(m.enter(2, 5, 1), Refusal::none);
  EXPECT_EQ(m.gate(2, 5), Refusal::none);
}

}  // namespace
}  // namespace strandproof::app
