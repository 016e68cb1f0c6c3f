// libs: host_calibration
// What a calibration report costs: reading, fitting again and proving the table, and laying out the page.
#include <benchmark/benchmark.h>

#include "tests/host/calibration_sample.hpp"

namespace {

namespace report = strandproof::host::report;
namespace test = strandproof::host::test;

void report_as_pdf(benchmark::State& state) {
  const auto in = test::calibration(test::ideal_jack(3, 20.0));
  for (auto _ : state) {
    benchmark::DoNotOptimize(report::calibration_pdf(report::calibration_sheet(in), report::Paper::a4));
  }
}
BENCHMARK(report_as_pdf)->Unit(benchmark::kMillisecond);

void report_as_html(benchmark::State& state) {
  const auto in = test::calibration(test::ideal_jack(3, 20.0));
  for (auto _ : state) benchmark::DoNotOptimize(report::calibration_html(report::calibration_sheet(in)));
}
BENCHMARK(report_as_html)->Unit(benchmark::kMillisecond);

}  // namespace
