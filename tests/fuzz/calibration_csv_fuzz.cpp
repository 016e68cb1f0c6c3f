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

namespace {

// The header declares how the file is written, its length how it is fitted.
gauge::TableOptions options_of(std::string_view text) {
  gauge::TableOptions o{};
  const auto header = text.substr(0, text.find('\n'));
  if (header.find('\t') != header.npos) o.csv = {'\t', '.'};
  if (header.find(';') != header.npos) o.csv = {';', ','};
  const auto way = text.size() % 5;
  o.through_origin = way == 1;
  if (way == 2) o.degree = 3;
  if (way == 3) o.points = 9;
  if (way == 4) o.class_wanted = 10;
  return o;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text{reinterpret_cast<const char*>(data), size};
  bool read = false;
  try {
    const auto options = options_of(text);
    const auto runs = gauge::read_runs(text, "runs.csv", options.csv);
    read = true;
    const auto table = gauge::make_table(runs, options);
    if (!(table.worst.expanded_percent > 0.0) || table.uncertainty_ppm == 0) std::abort();
    for (const auto& column : table.increasing) {
      if (column.points.size() < 5 || column.points.size() > 24) std::abort();
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
