// How near the stop comes to the jack force, over many jacks that differ: issue 2, "Measured". Each seed
// is one jack with its own valve delay, pump, air, noise and friction, calibrated on its own rig through
// the controller's rig mode; then one pull whose friction is scattered against that of the rig.
//
//   accuracy [--seeds N] [--first SEED] [--threads N] [--worst]
//
// Prints median, 99 % and maximum of
//   control  true force at the end of settle less what the noise-free table gives for the true state
//            (interface.md, control accuracy): friction scatter and the table's own error
//   stop     what the noise-free table gives for the true state less the jack force: the stop itself
//   force    true force at the end of settle less the jack force: both together
// each over the jack force. Fails (exit 1) if a pull does not end within limits or a bound of the issue is
// not kept: median near 0, 99 % within 0.25 %, maximum within 0.6 %, for control and for force.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "sim/bench/machine.hpp"
#include "sim/bench/timeline.hpp"
#include "sim/checkers/checkers.hpp"
#include "sim/main/control_brain.hpp"
#include "tests/accuracy/jacks.hpp"
#include "tests/accuracy/seeds.hpp"

namespace strandproof::sim {
namespace {

constexpr double median_bound = 0.0005;
constexpr double p99_bound = 0.0025;
constexpr double max_bound = 0.006;

struct Outcome {
  std::uint64_t seed = 0;
  std::string failure;
  double control = 0.0, stop = 0.0, force = 0.0;  // relative to the jack force
  double ticks = 0.0;
};

PlainTable calibrate(const Scenario& s, Outcome& out) {
  SimBoard board(rig_plant(s), board_of(s, true), {});
  ControlBrain brain(s);
  Bench bench(board, brain);
  const RigRuns runs = run_rig(bench, s);
  out.failure = runs.failure;
  out.ticks += static_cast<double>(board.ticks());
  return out.failure.empty() ? fit_plain_table(runs) : PlainTable{};
}

void pull(const Scenario& s, const PlainTable& table, Outcome& out) {
  const PlannedPull plan = plan_pull(s);
  SimBoard board(bed_plant(s), board_of(s, false), {});
  ControlBrain brain(s);
  if (brain.install(table) != 0 || brain.load(plan) != 0) {
    out.failure = "table or instruction refused";
    return;
  }
  Bench bench(board, brain);
  Timeline timeline;
  Checkers checkers({.force = plan.limit,
                     .pressure = s.jack.pressure_limit,
                     .seated = plan.seated,
                     .force_window = plan.force_window,
                     .elongation_min = plan.elongation_min,
                     .elongation_max = plan.elongation_max});
  bench.watch(timeline);
  bench.watch(checkers);
  bench.person().command("pull");
  const bool in_time = bench.run(s.time_limit);
  checkers.judge({brain.verdict()});
  out.ticks += static_cast<double>(board.ticks());
  const Snapshot& settled = timeline.end_of_settle();
  if (!in_time || bench.person().failed() || brain.verdict() != verdict::within_limits || !settled.taken) {
    out.failure = bench.person().failure() + " " + std::string(cause_text(timeline.first_cause()).what) +
                  " " + std::string(verdict_text(brain.verdict()));
    return;
  }
  if (!checkers.breaches().empty()) {
    out.failure = "breach: " + checkers.breaches().front().what;
    return;
  }
  const double by_table = table_force(table, timeline.last_moving(), settled, plan.stiffness);
  out.control = (settled.force_n - by_table) / plan.jack;
  out.stop = (by_table - plan.jack) / plan.jack;
  out.force = (settled.force_n - plan.jack) / plan.jack;
}

Outcome run_seed(std::uint64_t seed) {
  Outcome out;
  out.seed = seed;
  const Scenario s = jack_of_seed(seed);
  try {
    const PlainTable table = calibrate(s, out);
    if (out.failure.empty()) {
      pull(s, table, out);
    }
  } catch (const std::exception& error) {
    out.failure = error.what();
  }
  return out;
}

struct Figures {
  double median, p99, max;
};

// Median of the signed values, the others of their size. The 99 % point is the smallest size that at least
// 99 % of all do not exceed.
Figures figures(const std::vector<Outcome>& all, double Outcome::*which) {
  std::vector<double> values, sizes;
  for (const Outcome& o : all) {
    values.push_back(o.*which);
    sizes.push_back(o.*which < 0.0 ? -(o.*which) : o.*which);
  }
  std::sort(values.begin(), values.end());
  std::sort(sizes.begin(), sizes.end());
  const std::size_t n = values.size();
  return {values[n / 2], sizes[(99 * n + 99) / 100 - 1], sizes[n - 1]};
}

// Of fewer than 100 pulls the 99 % point is the maximum: then the maximum's bound is the one that holds.
bool report(const char* name, const Figures& f, std::size_t count, bool bound) {
  const bool good = f.median <= median_bound && f.median >= -median_bound &&
                    (count < 100 || f.p99 <= p99_bound) && f.max <= max_bound;
  std::printf("%-8s median %+.4f %%  99 %% %.4f %%  max %.4f %%%s\n", name, 100 * f.median, 100 * f.p99,
              100 * f.max,
              !bound ? ""
              : good ? "  kept"
                     : "  NOT KEPT");
  return good || !bound;
}

}  // namespace

int run(const SeedArguments& arguments) {
  const std::size_t count = arguments.seeds;
  const std::vector<Outcome> all = by_seeds(arguments.first, count, arguments.threads, run_seed);
  std::size_t failed = 0;
  double ticks = 0.0;
  for (const Outcome& o : all) {
    ticks += o.ticks;
    if (!o.failure.empty()) {
      ++failed;
      std::printf("seed %llu: %s\n", static_cast<unsigned long long>(o.seed), o.failure.c_str());
    }
  }
  std::printf("%zu pulls from seed %llu, %zu not ended within limits, %.0f million ticks with their rigs\n",
              count, static_cast<unsigned long long>(arguments.first), failed, ticks / 1e6);
  bool good = failed == 0;
  good = report("control", figures(all, &Outcome::control), count, true) && good;
  good = report("stop", figures(all, &Outcome::stop), count, false) && good;
  good = report("force", figures(all, &Outcome::force), count, true) && good;
  if (arguments.worst) {
    const auto by_size = [](const Outcome& a, const Outcome& b) {
      return std::abs(a.force) < std::abs(b.force);
    };
    const Outcome& w = *std::max_element(all.begin(), all.end(), by_size);
    std::printf("worst: seed %llu, force %+.4f %%, stop %+.4f %%\n", static_cast<unsigned long long>(w.seed),
                100 * w.force, 100 * w.stop);
  }
  return good ? 0 : 1;
}

}  // namespace strandproof::sim

int main(int argc, char** argv) {
  strandproof::sim::SeedArguments arguments;
  return strandproof::sim::read_arguments(argc, argv, arguments) ? strandproof::sim::run(arguments) : 2;
}
