// Why each row acted or not, against what the bench and the record say of the same pull.
#include "sim/main/why.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "sim/bench/names.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::sim {
namespace {

struct Explained {
  PullResult result;
  std::vector<WhyRow> rows;

  [[nodiscard]] const WhyRow& row(std::uint8_t cause) const {
    return *std::find_if(rows.begin(), rows.end(), [&](const WhyRow& r) { return r.cause == cause; });
  }
  [[nodiscard]] std::string line(std::uint8_t cause) const {
    const std::string text = why_text(rows);
    const auto begin = text.find("  " + std::string(cause_text(cause).what));
    return text.substr(begin, text.find('\n', begin) - begin);
  }
};

Explained explained(const std::vector<fault::Fault>& faults) {
  static const PlainTable table = table_from_rig(Scenario{});
  Scenario s;
  s.faults = faults;
  Why seen;
  Explained e;
  e.result = run_pull(s, table, {}, {}, &seen);
  e.rows = seen.rows();
  return e;
}

TEST(Why, InASoundPullNoRowActsAndEachHasSomethingLeft) {
  const Explained e = explained({});
  ASSERT_EQ(e.result.verdict, verdict::within_limits);
  ASSERT_GE(e.rows.size(), 19U);
  for (const WhyRow& r : e.rows) {
    EXPECT_LT(r.acted.time_s, 0.0) << e.line(r.cause);
    EXPECT_LT(r.met.time_s, 0.0) << e.line(r.cause);
    EXPECT_EQ(r.looked, r.cause != cause::h53_force_lost) << e.line(r.cause) << ": of several strokes";
    if (r.limited) {
      EXPECT_GT(r.left, 0.0) << e.line(r.cause);
    }
  }
  // The force came nearest to its limit at its peak, which the bench saw in the plant's truth.
  const WhyRow& force = e.row(cause::h01_over_force);
  EXPECT_NEAR(static_cast<double>(force.limit), e.result.plan.limit, 1.0);
  EXPECT_NEAR(static_cast<double>(force.value), e.result.timeline.peak_n(),
              0.01 * e.result.timeline.peak_n());
  EXPECT_NEAR(force.left, (e.result.plan.limit - static_cast<double>(force.value)) / e.result.plan.limit,
              1e-4);
  const WhyRow& elongation = e.row(103);
  EXPECT_TRUE(elongation.lowest);
  EXPECT_NEAR(static_cast<double>(elongation.value) * 1e-6, e.result.recorded_elongation_m, 0.002);
}

TEST(Why, TheRowThatActedSaysWhenAndTheRecordAgrees) {
  const Explained e = explained({{fault::find("strand-break"), {fault::By::force, 60e3}}});
  const WhyRow& row = e.row(cause::h14_strand_break);
  EXPECT_EQ(row.acted.time_s, e.result.timeline.first_cause_s());
  EXPECT_EQ(row.acted.state, state::main_pull) << "where it was, not where it went";
  EXPECT_LT(row.left, 0.0);
  EXPECT_EQ(
      std::count_if(e.rows.begin(), e.rows.end(), [](const WhyRow& r) { return r.acted.time_s >= 0.0; }), 1);
  EXPECT_NE(e.line(cause::h14_strand_break).find("acted: "), std::string::npos);
  EXPECT_NE(e.line(103).find("not looked at"), std::string::npos) << "it was never in the settle";
}

TEST(Why, ARowThatMayNotActInAStateSaysSo) {
  const Explained e = explained({{fault::find("barrier"), {fault::By::state, state::ended}}});
  const WhyRow& row = e.row(cause::h47_barrier_open);
  EXPECT_GE(row.met.time_s, 0.0);
  EXPECT_LT(row.acted.time_s, 0.0);
  EXPECT_NE(e.line(row.cause).find("ended, a state in which this row does not act"), std::string::npos)
      << e.line(row.cause);
}

TEST(Why, ARowThatCameSecondNamesTheFirst) {
  const Explained e = explained({{fault::find("emergency-stop"), {fault::By::force, 60e3}},
                                 {fault::find("pressure-a-open"), {fault::By::state, state::stopped}}});
  const std::string line = e.line(cause::h04_signal_lost);
  EXPECT_NE(line.find("before it came EMERGENCY STOP"), std::string::npos) << line;
}

TEST(Why, TheJsonSaysTheSame) {
  const Explained e = explained({{fault::find("strand-break"), {fault::By::force, 60e3}}});
  const auto j = nlohmann::json::parse(why_json(e.rows));
  ASSERT_EQ(j.size(), e.rows.size());
  for (std::size_t i = 0; i < j.size(); ++i) {
    EXPECT_EQ(j[i]["row"], cause_text(e.rows[i].cause).what);
    EXPECT_EQ(j[i]["acted"].is_null(), e.rows[i].acted.time_s < 0.0);
    EXPECT_EQ(j[i].contains("nearest"), e.rows[i].limited);
  }
}

}  // namespace
}  // namespace strandproof::sim
