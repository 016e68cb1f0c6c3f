// A gauge table that drifts in use, pull by pull, in the simulated jack with its whole firmware: both
// pressure sensors creep by 1 % together, so that the channels agree and nothing trips. Force against slope
// notices, long before the due date of half a year; and says nothing where nothing drifts. Each pull has
// noise, oil, pump and valve delays of its own.
#include <gtest/gtest.h>

#include <cstdio>

#include "host-tool/check/trend.hpp"
#include "sim/bench/machine.hpp"
#include "sim/board/noise.hpp"
#include "sim/main/device.hpp"
#include "sim/main/host_session.hpp"
#include "sim/main/local_brain.hpp"
#include "sim/main/pull.hpp"

namespace strandproof::host::check {
namespace {

constexpr int pulls = 40;
constexpr double drift = 0.01;

sim::Scenario scenario_of(std::uint64_t seed) {
  sim::Scenario s;
  s.seed = seed;
  const auto u = sim::Noise(seed).uniform(0, 0);
  s.valves.delay = 0.005 + 0.035 * u[0];
  s.pump.scale = 0.8 + 0.4 * u[1];
  s.oil.air = 0.001 + 0.029 * u[2];
  s.jack.friction_scatter = 0.05 * (2.0 * u[3] - 1.0);
  return s;
}

// One pull with both sensors' gain off by `gain`; the record that the jack wrote of it.
Slope pull(int number, double gain, const sim::PlainTable& table) {
  const sim::Scenario s = scenario_of(static_cast<std::uint64_t>(number) + 1);
  const sim::PlannedPull plan = sim::plan_pull(s);
  sim::BoardParameters parameters = sim::board_of(s, false);
  parameters.pressure_a.gain += gain;
  parameters.pressure_b.gain += gain;
  sim::SimBoard board(sim::bed_plant(s), parameters, {});
  sim::LocalBrain brain(sim::device_of(s));
  sim::Bench bench(board, brain);
  sim::HostSession session(bench, s);
  EXPECT_EQ(session.provision(table, plan), "");
  for (const auto& line : s.operator_lines) bench.person().command(line);
  while (!bench.person().idle() && board.time_s() < s.time_limit) session.step();
  for (int i = 0; i < 500; ++i) session.step();  // the record is written
  const auto record = session.last_pull();
  EXPECT_TRUE(record) << "pull " << number;
  const double seen = record ? record->stiffness_seen_n_per_m() : 0.0;
  EXPECT_GT(seen, 0.0) << "pull " << number;
  return {1001,
          1,
          1,
          1,
          1,
          static_cast<std::uint64_t>(number),
          0,
          seen / plan.stiffness,
          plan.stiffness_uncertainty};
}

struct Series {
  std::vector<Slope> slopes;
  int warned_at = 0;  // number of the pull after which the trend warned; 0: never
};

Series series(double drift_at_the_end) {
  const sim::PlainTable table = sim::table_from_rig(sim::Scenario{});
  Series out;
  for (int i = 0; i < pulls; ++i) {
    out.slopes.push_back(pull(i, drift_at_the_end * i / (pulls - 1), table));
    if (out.warned_at == 0 && warns(trend_of(out.slopes))) out.warned_at = i + 1;
  }
  const auto t = trend_of(out.slopes);
  std::printf(
      "%d pulls, drift %.1f %%: first mean %.4f, last %.4f, scatter %.4f, limit %.4f, warned at pull %d\n",
      pulls, 100.0 * drift_at_the_end, t.first_mean, t.last_mean, t.scatter, t.moved_limit, out.warned_at);
  return out;
}

TEST(Drift, OnePercentOverFortyPullsIsNoticedInThem) {
  const Series s = series(drift);
  EXPECT_GT(s.warned_at, 0);
  EXPECT_EQ(trend_of(s.slopes).state, TrendState::moved);
}

TEST(Drift, AJackThatDoesNotDriftIsLeftInPeace) {
  EXPECT_EQ(series(0.0).warned_at, 0);
}

}  // namespace
}  // namespace strandproof::host::check
