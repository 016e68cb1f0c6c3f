// The controller's tick: in the main pull, where every detector looks, and in idle.
// libs: firmware_control
#include <benchmark/benchmark.h>

#include <vector>

#include "tests/control/toy_jack.hpp"

namespace strandproof::control {
namespace {

// Inputs of a whole pull up to the settle, so that the measured loop is the controller alone.
std::vector<Inputs> pull_inputs() {
  ToyJack toy;
  Controller c{toy.jack, default_settings};
  (void)c.install(toy_table(toy));
  (void)c.load(toy_instruction(toy));
  c.gates({.clock = Refusal::none});
  std::vector<Inputs> all;
  while (c.core().state != State::settle && all.size() < 120'000) {
    toy.is.confirm = all.size() > 1000 && all.size() < 1050;
    toy.is.enable_1 = toy.is.enable_2 = toy.is.advance = all.size() > 1200;
    all.push_back(toy.inputs());
    toy.move(c.tick(all.back()));
  }
  return all;
}

void whole_pull(benchmark::State& state) {
  const std::vector<Inputs> inputs = pull_inputs();
  const ToyJack toy;
  for (auto _ : state) {
    Controller c{toy.jack, default_settings};
    (void)c.install(toy_table(toy));
    (void)c.load(toy_instruction(toy));
    c.gates({.clock = Refusal::none});
    for (const Inputs& in : inputs) {
      benchmark::DoNotOptimize(c.tick(in));
    }
    if (c.core().state != State::settle) {
      state.SkipWithError("the pull did not reach its settle");
    }
  }
  state.counters["tick"] =
      benchmark::Counter(static_cast<double>(state.iterations()) * static_cast<double>(inputs.size()),
                         benchmark::Counter::kIsRate | benchmark::Counter::kInvert);
}
BENCHMARK(whole_pull)->Unit(benchmark::kMillisecond);

void idle_tick(benchmark::State& state) {
  ToyJack toy;
  Controller c{toy.jack, default_settings};
  Inputs in = toy.inputs();
  for (auto _ : state) {
    ++in.now;
    benchmark::DoNotOptimize(c.tick(in));
  }
}
BENCHMARK(idle_tick);

}  // namespace
}  // namespace strandproof::control
