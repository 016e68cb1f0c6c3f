// libs: host_gauge
// Calibration runs from anywhere: read or refused with one clear line, never a crash; what is read is then
// fitted.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/table.hpp"

namespace gauge = strandproof::host::gauge;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text{reinterpret_cast<const char*>(data), size};
  bool read = false;
  try {
    const auto runs = gauge::read_runs(text, "runs.csv");
    read = true;
    const auto table = gauge::make_table(runs, {});
    for (const auto& column : table.increasing) {
      for (std::size_t i = 1; i < column.points.size(); ++i) {
        const auto& a = column.points[i - 1];
        const auto& b = column.points[i];
        if (b.pressure_mbar <= a.pressure_mbar || b.force_n <= a.force_n) std::abort();
      }
    }
  } catch (const strandproof::host::Problem& p) {
    const std::string_view line = p.what();
    if (line.find('\n') != line.npos || line.size() > 400) std::abort();
    if (!read && !line.starts_with("runs.csv:")) std::abort();
  }
  return 0;
}
