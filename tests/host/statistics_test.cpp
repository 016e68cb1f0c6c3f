// Trips per hundred pulls and the drift of slopes, against a count by hand and the closed form of a line.
#include <cmath>

#include "tests/host/archive_fixture.hpp"
#include "tests/host/archive_yard.hpp"

namespace strandproof::host::archive {
namespace {

class StatisticsTest : public ArchiveTest {
 protected:
  // One pull a day from 2026-01-01 on; every 20th trips, every 25th is outside; the ratio of stiffness as
  // given.
  void fill_days(Archive& a, std::uint32_t days, double (*ratio)(std::uint32_t)) {
    std::vector<StoredRecord> all;
    for (std::uint32_t n = 0; n < days; ++n) {
      YardRecord pull{.device = 1001,
                      .sequence = 2 * n + 2,
                      .pull = true,
                      .utc_s = yard_begin + 86400 * static_cast<std::int64_t>(n),
                      .instruction = n + 1,
                      .bed = 1,
                      .position = 1,
                      .table = 1,
                      .verdict = n % 25 == 0 ? 3U : 1U,
                      .stiffness = static_cast<std::int32_t>(std::lround(1e6 * ratio(n)))};
      YardRecord event{
          .device = 1001, .sequence = 2 * n + 1, .utc_s = pull.utc_s - 5, .event = n % 20 == 1 ? 3U : 7U};
      all.push_back({1001, 1, event.sequence, 1, yard_body(event)});
      all.push_back({1001, 1, pull.sequence, 1, yard_body(pull)});
      a.add(yard_instruction(pull, 1000000));
    }
    a.add(all);
  }
};

TEST_F(StatisticsTest, TripsAndVerdictsAreCountedByMonth) {
  Archive a{path_};
  fill_days(a, 90, [](std::uint32_t) { return 1.0; });
  const auto s = a.statistics(1001, 0, INT64_MAX);
  ASSERT_EQ(s.months.size(), 3U);
  EXPECT_EQ(s.months[0].year, 2026);
  EXPECT_EQ(s.months[0].month, 1);
  EXPECT_EQ(s.months[0].pulls, 31U);
  EXPECT_EQ(s.months[0].trips, 2U);           // days 2 and 22
  EXPECT_EQ(s.months[0].within_limits, 29U);  // days 1 and 26 are outside
  EXPECT_EQ(s.months[1].pulls, 28U);
  EXPECT_EQ(s.pulls, 90U);
  EXPECT_EQ(s.trips, 5U);
  EXPECT_DOUBLE_EQ(s.trips_per_hundred, 500.0 / 90.0);
  EXPECT_NEAR(s.drift_per_year, 0.0, 1e-15);
}

// An exact line: the slope is the line's and the error nothing but the rounding of the stiffness to 1 N/m.
TEST_F(StatisticsTest, ALinesDriftIsFound) {
  Archive a{path_};
  fill_days(a, 200, [](std::uint32_t n) { return 1.0 - 0.02 * n / 365.25; });
  const auto s = a.statistics(1001, 0, INT64_MAX);
  EXPECT_NEAR(s.drift_per_year, -0.02, 1e-6);
  EXPECT_LT(s.drift_error, 1e-6);
  EXPECT_EQ(s.slopes, 200U);
}

// Alternating by +-d about a constant over n days (n even): least squares gives, in closed form, the slope
// -6 d n / (n (n^2 - 1)) a day, and the residual squares n d^2 less slope^2 n (n^2 - 1) / 12.
TEST_F(StatisticsTest, ScatterGivesTheStandardErrorOfTheTextbook) {
  constexpr double n = 100.0, d = 0.01;
  Archive a{path_};
  fill_days(a, 100, [](std::uint32_t day) { return day % 2 == 0 ? 1.01 : 0.99; });
  const auto s = a.statistics(1001, 0, INT64_MAX);
  const double tt = n * (n * n - 1.0) / 12.0;
  const double slope = -d * n / 2.0 / tt;
  const double error = std::sqrt((n * d * d - slope * slope * tt) / (n - 2.0) / tt);
  EXPECT_NEAR(s.drift_per_year, slope * 365.25, 1e-9);
  EXPECT_NEAR(s.drift_error, error * 365.25, 1e-9);
  EXPECT_NEAR(s.months[0].slope_deviation, std::sqrt((31.0 - 1.0 / 31.0) / 30.0) * d, 1e-12);
}

TEST_F(StatisticsTest, ASpanIsOfThisJackAndTimeAlone) {
  Archive a{path_};
  fill_days(a, 90, [](std::uint32_t) { return 1.0; });
  const auto february = a.statistics(1001, 1769904000, 1772323200);  // 2026-02-01 to 2026-03-01
  ASSERT_EQ(february.months.size(), 1U);
  EXPECT_EQ(february.pulls, 28U);
  EXPECT_EQ(a.statistics(1002, 0, INT64_MAX).pulls, 0U);
}

}  // namespace
}  // namespace strandproof::host::archive
