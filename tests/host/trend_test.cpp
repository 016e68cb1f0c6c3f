// Force against slope over the last pulls: limits to one step on either side, and what the scatter allows.
#include "host-tool/check/trend.hpp"

#include <gmock/gmock.h>

#include <cmath>

#include "tests/host/check_pulls.hpp"

namespace strandproof::host::check {
namespace {

using testing::HasSubstr;

std::vector<Slope> made(std::size_t n, double first, double last, double plan_ratio = 0.02) {
  std::vector<Slope> all;
  for (std::size_t i = 0; i < n; ++i) {
    all.push_back({1001, 2, 3, 1, 1, i + 1, 0, i < n / 2 ? first : last, plan_ratio});
  }
  return all;
}

TEST(Trend, SaysNothingOfTooFewPulls) {
  EXPECT_EQ(trend_of(made(9, 1.0, 1.5)).state, TrendState::too_few);
  EXPECT_EQ(trend_of(made(10, 1.0, 1.0)).state, TrendState::steady);
  EXPECT_FALSE(warns(trend_of(std::vector<Slope>{})));
}

// Without scatter the least departure that is called one is 0.5 %.
TEST(Trend, ALeastDepartureIsHeldToOnBothSides) {
  for (const double sign : {1.0, -1.0}) {
    EXPECT_EQ(trend_of(made(20, 1.0, 1.0 + sign * 0.0049)).state, TrendState::steady);
    EXPECT_EQ(trend_of(made(20, 1.0, 1.0 + sign * 0.0051)).state, TrendState::moved);
  }
}

// By hand: readings +-s about their mean have the standard deviation s sqrt(20/18) over two windows of ten,
// the difference of two means of ten the standard error of that times sqrt(2/10); three of them is the limit.
TEST(Trend, ScatterWidensTheLimitByThreeStandardErrors) {
  auto all = made(20, 1.0, 1.0);
  constexpr double s = 0.01;
  for (std::size_t i = 0; i < all.size(); ++i) all[i].ratio += i % 2 == 0 ? s : -s;
  const auto t = trend_of(all);
  const double by_hand = 3.0 * s * std::sqrt(20.0 / 18.0) * std::sqrt(0.2);
  EXPECT_NEAR(t.scatter, s * std::sqrt(20.0 / 18.0), 1e-12);
  EXPECT_NEAR(t.moved_limit, by_hand, 1e-12);
  EXPECT_EQ(t.state, TrendState::steady);
  for (std::size_t i = 10; i < 20; ++i) all[i].ratio += by_hand * 1.01;
  EXPECT_EQ(trend_of(all).state, TrendState::moved);
}

TEST(Trend, TheMeanIsHeldAgainstThePlansOwnUncertainty) {
  EXPECT_EQ(trend_of(made(10, 1.019, 1.019)).state, TrendState::steady);
  EXPECT_EQ(trend_of(made(10, 1.021, 1.021)).state, TrendState::off_plan);
  EXPECT_EQ(trend_of(made(10, 0.979, 0.979)).state, TrendState::off_plan);
}

TEST(Trend, BothExplanationsAreNamedInEachWarning) {
  for (const auto& t : {trend_of(made(20, 1.0, 1.01)), trend_of(made(10, 1.05, 1.05))}) {
    EXPECT_TRUE(warns(t));
    EXPECT_THAT(text(t), HasSubstr("either the table no longer fits the jack"));
    EXPECT_THAT(text(t), HasSubstr("or the k of the plans is not that of these strands"));
  }
}

TEST(Trend, NotANumberIsNoSteadyTrend) {
  auto all = made(20, 1.0, 1.0);
  all[15].ratio = std::nan("");
  EXPECT_NE(trend_of(all).state, TrendState::steady);
}

using TrendArchiveTest = archive::ArchiveTest;

TEST_F(TrendArchiveTest, SlopesComeFromRecordsAndTheirInstructions) {
  archive::Archive a{path_};
  add_pull(a, {.sequence = 1, .position = 1, .revision = 1, .ratio = 1.5});
  add_pull(a, {.sequence = 2, .position = 2, .revision = 2, .ratio = 1.01});
  add_pull(a, {.sequence = 3, .position = 3, .revision = 2, .ratio = 0.0});  // the span was not reached
  add_pull(a, {.sequence = 4, .position = 4, .revision = 2, .ratio = 0.99});
  const auto found = slopes(a, archive::test_jack, 2, 10);
  EXPECT_EQ(found.pulls, 2U);
  ASSERT_EQ(found.first.size(), 2U);
  EXPECT_EQ(found.first[0].sequence, 2U);
  EXPECT_NEAR(found.first[0].ratio, 1.01, 1e-6);
  EXPECT_NEAR(found.first[1].ratio, 0.99, 1e-6);
  EXPECT_NEAR(found.first[1].plan_ratio, 0.02, 1e-12);
  ASSERT_EQ(found.last.size(), 2U);
  EXPECT_EQ(found.last[0].sequence, 2U);
  EXPECT_EQ(slopes(a, 1002, 2, 10).pulls, 0U);
}

// Only the ends are read; the trend is that of all the pulls.
TEST_F(TrendArchiveTest, TheEndsOfALongTableSayWhatAllOfItsPullsDo) {
  archive::Archive a{path_};
  std::vector<Slope> all;
  for (std::uint64_t n = 1; n <= 57; ++n) {
    const double ratio = 1.0 + 2e-4 * static_cast<double>(n) + (n % 3 == 0 ? 1e-3 : 0.0);
    add_pull(a, {.sequence = n, .position = 1, .revision = 2, .ratio = ratio});
    all.push_back(
        {archive::test_jack, 2, 3, 1, 0, n, 0, std::round(archive::plan_k * ratio) / archive::plan_k, 0.02});
  }
  const auto read = slopes(a, archive::test_jack, 2, 10);
  EXPECT_EQ(read.first.size() + read.last.size(), 30U);
  const Trend t = trend_of(a, archive::test_jack, 2), whole = trend_of(all);
  EXPECT_EQ(t.state, TrendState::moved);
  EXPECT_EQ(text(t), text(whole));
  EXPECT_DOUBLE_EQ(t.first_mean, whole.first_mean);
  EXPECT_DOUBLE_EQ(t.last_mean, whole.last_mean);
  EXPECT_DOUBLE_EQ(t.moved_limit, whole.moved_limit);
}

}  // namespace
}  // namespace strandproof::host::check
