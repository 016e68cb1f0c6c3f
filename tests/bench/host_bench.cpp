// libs: host_gauge
// What a calibration costs on the host: the fit alone, and a whole file to its table.
#include <benchmark/benchmark.h>

#include <string>
#include <vector>

#include "host-tool/gauge/table.hpp"
#include "tests/host/rig_text.hpp"

namespace {

namespace gauge = strandproof::host::gauge;

void quadratic_of_40_readings(benchmark::State& state) {
  std::vector<gauge::Observation> readings;
  for (int i = 0; i < 40; ++i) {
    const double p = 8000.0 * (i % 20 + 1);
    readings.push_back({p, 0.4656 * p - 600.0 + (i % 3 - 1) * 20.0, i % 20});
  }
  for (auto _ : state) benchmark::DoNotOptimize(gauge::fit_polynomial(readings, 2));
}
BENCHMARK(quadratic_of_40_readings);

// The limit is 50 ms.
void cubic_of_10000_readings(benchmark::State& state) {
  std::vector<gauge::Observation> readings;
  for (int i = 0; i < 10000; ++i) {
    const double p = 30.0 * (i + 1);
    readings.push_back({p, 0.4656 * p - 600.0 + (i % 7 - 3) * 20.0, i % 500});
  }
  for (auto _ : state) benchmark::DoNotOptimize(gauge::fit_polynomial(readings, 3));
}
BENCHMARK(cubic_of_10000_readings)->Unit(benchmark::kMillisecond);

void file_to_table(benchmark::State& state) {
  const std::string text = strandproof::host::test::ideal_jack(3, 20.0);
  for (auto _ : state) benchmark::DoNotOptimize(gauge::make_table(gauge::read_runs(text, "runs.csv"), {}));
}
BENCHMARK(file_to_table);

}  // namespace
