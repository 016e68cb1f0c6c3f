// The report against what can be worked out by hand.
#include "sim/campaign/report.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "sim/campaign/engine.hpp"
#include "tests/campaign/support.hpp"

namespace strandproof::sim {
namespace {

// Of 1 to 1000 millionths and their negatives: order statistics by counting.
TEST(Spread, QuantilesAreOrderStatistics) {
  Spread s;
  for (int i = 1; i <= 1000; ++i) {
    s.add(i * 1e-6);
  }
  EXPECT_NEAR(s.quantile(0.5), 500e-6, 1e-12);
  EXPECT_NEAR(s.quantile(0.99), 990e-6, 1e-12);
  EXPECT_NEAR(s.size_quantile(0.999), 999e-6, 1e-12);
  EXPECT_NEAR(s.quantile(0.9901), 991e-6, 1e-12);
  for (int i = 1; i <= 1000; ++i) {
    s.add(-i * 1e-6);
  }
  EXPECT_NEAR(s.quantile(0.5), -1e-6, 1e-12);
  EXPECT_NEAR(s.size_quantile(0.5), 500e-6, 1e-12);
  EXPECT_EQ(s.count(), 2000U);
  EXPECT_EQ(s.bars(-1000.5e-6, 1000.5e-6, 3), (std::vector<std::uint64_t>{667, 666, 667}));
  s.add(0.3);
  EXPECT_EQ(s.most(), 0.3);
  EXPECT_NEAR(s.quantile(1.0), 0.05, 1e-12) << "beyond the steps it stands in the last one";
  EXPECT_EQ(Spread().quantile(0.5), 0.0);
}

class ReportTest : public test::FolderTest {
 protected:
  Report reduced(const Campaign& c, const OnePull& one = test::toy) {
    RunOptions o;
    o.threads = 2;
    o.results = folder_ + "/r.csv";
    std::filesystem::remove(o.results);
    EXPECT_TRUE(run_campaign(c, o, one));
    return reduce(c, o.results);
  }
};

TEST_F(ReportTest, CountsWhatHappened) {
  Campaign c = parse_campaign(test::small, "small.toml");
  const Report r = reduced(c);
  std::uint64_t faulty = 0;
  std::uint64_t breached = 0;
  double worst = 0.0;
  for (std::uint32_t i = 0; i < c.pulls; ++i) {
    const Outcome o = test::toy(drawn(c, i));
    faulty += o.fault.empty() ? 0 : 1;
    breached += o.breach.empty() ? 0 : 1;
    worst = std::max(worst, std::abs(o.stop_error));
  }
  ASSERT_GT(breached, 0U);
  EXPECT_EQ(r.pulls, 200U);
  EXPECT_EQ(r.ends[0], breached);
  EXPECT_EQ(r.ends[4], 200U - breached);
  EXPECT_EQ(r.faults.at("strand-break").began + r.faults.at("pump-dead").began, faulty);
  EXPECT_EQ(r.faults.at("strand-break").ends[0], breached);
  EXPECT_EQ(r.breaches.at("force"), breached);
  ASSERT_EQ(r.worst.size(), 10U);
  for (std::size_t i = 1; i < r.worst.size(); ++i) {
    EXPECT_LE(end_of(r.worst[i - 1]), end_of(r.worst[i]));
  }
  EXPECT_NEAR(std::max(-r.stop_error.least(), r.stop_error.most()), worst, 1e-15);
}

// A row that acted before the fault began has not noticed it; what nobody noticed has bitten only if a limit
// was breached.
TEST_F(ReportTest, SaysHowManyFaultsWereNoticedAndHowManyBitUnnoticed) {
  Campaign c = parse_campaign(test::small, "small.toml");
  const auto one = [](const Scenario& s) {
    Outcome o = test::toy(s);
    if (o.fault == "pump-dead") {
      o.cause = 11;
      o.cause_s = s.strand.length < 30.0 ? 1.5 : 0.5;  // the toy's faults begin at 1 s
    }
    return o;
  };
  std::uint64_t noticed = 0;
  std::uint64_t bit = 0;
  for (std::uint32_t i = 0; i < c.pulls; ++i) {
    const Outcome o = one(drawn(c, i));
    noticed += o.cause_s > 1.0 ? 1 : 0;
    bit += o.breach.empty() ? 0 : 1;
  }
  const Report r = reduced(c, one);
  const FaultCount& pump = r.faults.at("pump-dead");
  ASSERT_GT(noticed, 0U);
  ASSERT_LT(noticed, pump.began);
  EXPECT_EQ(pump.noticed, noticed);
  EXPECT_EQ(pump.bit, 0U);
  EXPECT_EQ(r.faults.at("strand-break").noticed, 0U);
  EXPECT_EQ(r.faults.at("strand-break").bit, bit);
  const auto j = nlohmann::json::parse(report_json(r, "replay"));
  EXPECT_EQ(j["faults"]["pump-dead"]["noticed"], noticed);
  EXPECT_EQ(j["faults"]["strand-break"]["unnoticed_breach"], bit);
}

TEST_F(ReportTest, PageAndJsonSayTheSameAndNameTheReplay) {
  Campaign c = parse_campaign(test::small, "small.toml");
  add_sweep(c, "valves.lag=1 ms to 3 ms in 2");
  const Report r = reduced(c);
  const auto j = nlohmann::json::parse(report_json(r, "replay it"));
  const std::string html = report_html(r, "replay it");
  EXPECT_EQ(j["pulls"], 200);
  EXPECT_EQ(j["ends"]["a limit was breached"], r.ends[0]);
  EXPECT_EQ(j["cells"].size(), 2U);
  EXPECT_EQ(j["worst"][0]["replay"], "replay it " + std::to_string(r.worst[0].pull));
  test::expect_part(html, "replay it " + std::to_string(r.worst[9].pull));
  test::expect_part(html, "SIMULATED");
  test::expect_part(html, "<b>Breached: force</b>, " + std::to_string(r.ends[0]) + " pulls");
  EXPECT_EQ(html.find("http"), std::string::npos);
  EXPECT_EQ(html.find("fewer than 1 in"), std::string::npos) << "said only where nothing was breached";
  test::expect_part(report_text(r, "replay it"), "a limit was breached         " + std::to_string(r.ends[0]));
}

TEST_F(ReportTest, APartOfACampaignHasNoReport) {
  Campaign c = parse_campaign(test::small, "small.toml");
  (void)reduced(c);
  const std::string text = test::text_of(folder_ + "/r.csv");
  std::ofstream(folder_ + "/r.csv", std::ios::binary) << text.substr(0, text.rfind("\n199,") + 1);
  test::expect_part(test::problem_of([&] { (void)reduce(c, folder_ + "/r.csv"); }), "holds 199 of 200 pulls");
  std::ofstream(folder_ + "/r.csv", std::ios::binary) << text.substr(0, text.size() - 1);
  test::expect_part(test::problem_of([&] { (void)reduce(c, folder_ + "/r.csv"); }), "line 202 is no outcome");
  set_size(c, 200, 8);
  std::ofstream(folder_ + "/r.csv", std::ios::binary) << text;
  test::expect_part(test::problem_of([&] { (void)reduce(c, folder_ + "/r.csv"); }), "another campaign");
  test::expect_part(test::problem_of([&] { (void)reduce(c, folder_ + "/none.csv"); }),
                    "run the campaign first");
}

}  // namespace
}  // namespace strandproof::sim
