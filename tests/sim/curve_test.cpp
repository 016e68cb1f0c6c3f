// The curve on a pull's record, read over the link, against the plant's own strand: what is kept of 128
// points is the pull, and what went wrong in it can be seen.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "proto/peer/rows.hpp"
#include "sim/bench/names.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

const PlainTable& table() {
  static const PlainTable made = table_from_rig(Scenario{});
  return made;
}

// Force and stroke of the plant from the tick in which the pull was armed.
class Truth final : public Observer {
 public:
  void tick(const Moment& m) override {
    if (armed_ || m.answer.state == state::ready) {
      armed_ = true;
      force_n.push_back(m.truth.F_strand_live);
      moving.push_back(m.answer.state == state::main_pull || m.answer.state == state::slow_pull);
    }
  }
  std::vector<double> force_n;
  std::vector<bool> moving;

 private:
  bool armed_ = false;
};

struct Pulled {
  PullResult result;
  Truth truth;
  wire::PullRecord record;
  proto::PullCurve curve;
  std::size_t parts = 0;
};

Pulled pulled(const Scenario& s) {
  Pulled p;
  p.result = run_pull(s, table(), {}, {&p.truth});
  std::vector<wire::CurvePart> parts;
  for (const wire::LogRecord& stored : p.result.log) {
    wire::Record r;
    EXPECT_TRUE(r.ParseFromString(stored.body()));
    if (r.has_curve()) {
      parts.push_back(r.curve());
    } else if (r.has_pull()) {
      p.record = r.pull();
    } else {
      EXPECT_TRUE(parts.empty() || p.record.instruction() != 0)
          << "something stands between a curve and its pull";
    }
  }
  p.parts = parts.size();
  p.curve = proto::curve_of(p.record, parts);
  return p;
}

// Where the line through the points lies at a millisecond.
double force_at(const proto::PullCurve& c, std::uint32_t ms) {
  const auto after = std::find_if(c.points.begin() + 1, c.points.end() - 1,
                                  [&](const proto::CurvePoint& p) { return *p.at_ms >= ms; });
  const auto& a = *(after - 1);
  const double share = (double{1} * ms - *a.at_ms) / (double{1} * *after->at_ms - *a.at_ms);
  return static_cast<double>(a.force_n) + share * static_cast<double>(after->force_n - a.force_n);
}

TEST(RecordedCurve, IsThePullWithinItsBoundAndTheSensorsOwn) {
  const Pulled p = pulled(Scenario{});
  ASSERT_GE(p.curve.points.size(), 4U);
  ASSERT_LE(p.curve.points.size(), 128U);
  EXPECT_EQ(p.curve.missing, 0U);
  EXPECT_EQ(p.record.curve_points(), p.curve.points.size());
  EXPECT_EQ(p.curve.points.front().elongation_um, 0);
  EXPECT_EQ(p.curve.points.back().elongation_um, p.record.elongation_um());
  EXPECT_EQ(p.curve.points.back().force_n, p.record.settle_n());
  std::size_t judged = 0;
  for (std::uint32_t ms = 1000; ms < p.truth.force_n.size(); ++ms) {
    // 0.6 s of the same flow: friction is overcome, and the line reaches back no further than that.
    if (p.truth.moving[ms] && p.truth.moving[ms - 600]) {
      ++judged;
      ASSERT_NEAR(force_at(p.curve, ms), p.truth.force_n[ms], p.record.curve_within_n() + 0.01 * 130e3) << ms;
    }
  }
  EXPECT_GT(judged, 5000U);
}

TEST(RecordedCurve, ShowsABreakFarDown) {
  Scenario s;
  s.faults = {{fault::find("strand-break"), {fault::By::force, 78e3}, 1e9}};
  s.operator_lines = {"pull", "lower-to-no-load"};
  const Pulled p = pulled(s);
  ASSERT_EQ(p.record.verdict(), verdict::must_be_replaced) << p.result.failure;
  EXPECT_EQ(p.curve.missing, 0U);
  const auto highest = std::max_element(p.curve.points.begin(), p.curve.points.end(),
                                        [](const auto& a, const auto& b) { return a.force_n < b.force_n; });
  EXPECT_GT(highest->force_n, 75'000);
  EXPECT_LT(p.curve.points.back().force_n, 25'000);
  EXPECT_LT(*p.curve.points.back().at_ms - *highest->at_ms, 1000U);
}

}  // namespace
}  // namespace strandproof::sim
