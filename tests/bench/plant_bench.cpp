// The plant's tick: steady pulling on each stage, blocked under load, and a whole pull with its transients.
// libs: sim_plant
#include <benchmark/benchmark.h>

#include "tests/plant/jack.hpp"

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

// Slack, pull, slow pull, settle, seat, lower to no load: what a campaign pays.
void whole_pull(benchmark::State& state) {
  double done = 0.0;
  for (auto _ : state) {
    Plant plant{Parameters{}};
    const auto drive = [&](const Drive& d, auto until) {
      for (int n = 0; n < 120'000 && !until(plant.truth(), n); ++n) {
        plant.step(d);
        done += 1.0;
      }
    };
    drive(pull_fast, [](const Truth& t, int) { return t.F_jack > 120e3; });
    drive(pull_slow, [](const Truth& t, int) { return t.F_jack > 130e3; });
    drive(blocked, [](const Truth&, int n) { return n >= 2000; });
    drive(push_wedges, [](const Truth&, int n) { return n >= 1500; });
    drive(let_down, [](const Truth& t, int) { return t.F_jack <= 0.0; });
    if (plant.truth().F_chuck < 100e3) {
      state.SkipWithError("the chuck did not take the strand");
    }
  }
  per_tick(state, done);
}
BENCHMARK(whole_pull)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace strandproof::plant
