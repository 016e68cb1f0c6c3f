// The plant's tick: steady pulling on each stage, blocked under load, and a whole pull beside CVODE.
// libs: plant_pulls_by_cvode
#include <benchmark/benchmark.h>

#include <ctime>

#include "tests/plant/chain.hpp"
#include "tests/plant/gate.hpp"

namespace strandproof::plant {
namespace {

void per_tick(benchmark::State& state, double ticks) {
  state.counters["tick"] =
      benchmark::Counter(ticks, benchmark::Counter::kIsRate | benchmark::Counter::kInvert);
}

// One drive held from the same loaded state; fewer ticks than would carry the pull out of its phase.
void steady(benchmark::State& state, const Drive& drive, int ticks) {
  double done = 0.0;
  for (auto _ : state) {
    state.PauseTiming();
    Plant plant{Parameters{}};
    if (!pull_to(plant, 60e3)) {
      state.SkipWithError("the pull did not reach 60 kN");
      return;
    }
    run(plant, drive, 500);
    state.ResumeTiming();
    run(plant, drive, ticks);
    benchmark::DoNotOptimize(plant.truth().p_cap);
    done += ticks;
  }
  per_tick(state, done);
}
BENCHMARK_CAPTURE(steady, pull_fast, pull_fast, 4000)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(steady, pull_slow, pull_slow, 10000)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(steady, blocked, blocked, 10000)->Unit(benchmark::kMillisecond);

// What a strand of eight masses would add to each tick.
void eight_masses(benchmark::State& state) {
  const Strand s;
  Chain strand(9, s.L, s.A * s.E, s.A * rho_steel, 100e3, 1e-3);
  strand.cut(8);
  constexpr int ticks = 10'000;
  double done = 0.0;
  for (auto _ : state) {
    for (int i = 0; i < ticks; ++i) {
      strand.step();
    }
    benchmark::DoNotOptimize(strand.live_end());
    done += ticks;
  }
  per_tick(state, done);
}
BENCHMARK(eight_masses)->Unit(benchmark::kMicrosecond);

double thread_cpu_s() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

// Slack, pull, slow pull, settle, seat, lower to no load: what a campaign pays; and beside it, in the same
// run, CVODE at 1e-6 on the same equations and drive. Counters: ns a tick of the scheme, how many times it is
// faster.
void whole_pull(benchmark::State& state) {
  double ours = 0.0, at_ticks = 0.0, at_events = 0.0, ticks = 0.0;
  for (auto _ : state) {
    const double begin = thread_cpu_s();
    const Decider pull({Parameters{}, 130e3});
    const double made = thread_cpu_s();
    benchmark::DoNotOptimize(by_cvode(Parameters{}, pull.script(), 1e-6, Stops::at_ticks).locked);
    const double stepped = thread_cpu_s();
    benchmark::DoNotOptimize(by_cvode(Parameters{}, pull.script(), 1e-6, Stops::at_events).locked);
    ours += made - begin;
    at_ticks += stepped - made;
    at_events += thread_cpu_s() - stepped;
    for (const Stretch& s : pull.script()) {
      ticks += s.ticks;
    }
    if (pull.forces().locked < 100e3) {
      state.SkipWithError("the chuck did not take the strand");
    }
  }
  state.counters["tick_ns"] = 1e9 * ours / ticks;
  state.counters["than_cvode_at_ticks"] = at_ticks / ours;
  state.counters["than_cvode_at_events"] = at_events / ours;
}
BENCHMARK(whole_pull)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace strandproof::plant
