#include "firmware/app/clock.hpp"

#include <gtest/gtest.h>

namespace strandproof::app {
namespace {

using control::Refusal;

constexpr std::uint64_t day = 86'400;
constexpr std::uint64_t start = 20'000 * day;

TEST(Clock, KnowsNothingUntilAHostHasSetIt) {
  Clock c;
  c.restart(0);
  EXPECT_EQ(c.table_gate(start, 5'000), Refusal::clock_not_known);
  EXPECT_EQ(c.set(start, 5'000), Refusal::none);
  EXPECT_EQ(c.table_gate(start + day, 6'000), Refusal::none);
  EXPECT_EQ(c.lower_bound(65'000), start + 60);
}

TEST(Clock, ATableIsOverdueByTheLowerBoundAloneAndNoClockCanTurnItBack) {  // H19, H36
  Clock c;
  c.restart(start + 2 * day);
  EXPECT_EQ(c.table_gate(start + day, 0), Refusal::table_overdue);
  EXPECT_EQ(c.set(start, 0), Refusal::clock_back);
  EXPECT_EQ(c.table_gate(start + day, 0), Refusal::table_overdue);
}

TEST(Clock, GoesForwardByAYearAtATimeForThereIsNoWayBack) {  // H36
  Clock c;
  c.restart(start);
  EXPECT_EQ(c.set(start + 366 * day + 1, 0), Refusal::clock_far);
  EXPECT_EQ(c.lower_bound(0), start) << "a refused time leaves nothing behind";
  EXPECT_EQ(c.set(start + 366 * day, 0), Refusal::none);
  EXPECT_EQ(c.set(start + 2 * 366 * day, 0), Refusal::none);
}

TEST(Clock, AfterARestartTheTimeIsALowerBoundButNotKnown) {
  Clock c;
  c.restart(start);
  EXPECT_EQ(c.quality(), ClockQuality::lost);
  EXPECT_EQ(c.lower_bound(10'000), start + 10);
  EXPECT_EQ(c.table_gate(start + day, 0), Refusal::clock_not_known);
}

TEST(Clock, DueToTheSecond) {
  Clock c;
  c.restart(0);
  ASSERT_EQ(c.set(start, 0), Refusal::none);
  EXPECT_EQ(c.table_gate(start, 999), Refusal::none);
  EXPECT_EQ(c.table_gate(start, 1'000), Refusal::table_overdue);
}

}  // namespace
}  // namespace strandproof::app
