// A calibration of the invented jack as the report gets it: the texts of runs and table.
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <string>

#include "host-tool/base/files.hpp"
#include "host-tool/gauge/table_file.hpp"
#include "host-tool/report/calibration.hpp"
#include "tests/host/rig_text.hpp"

namespace strandproof::host::test {

inline std::string replaced(std::string text, const std::string& what, const std::string& with) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + with.size())) {
    text.replace(at, what.size(), with);
  }
  return text;
}

inline std::string of_hardware(const std::string& runs) {
  return replaced(runs, ",simulated,", ",hardware,");
}

// series going up at so many set points of a force that falls from series to series; the last one goes down.
inline std::string many_runs(int series, int set_points) {
  std::string text{rig_header};
  const auto force = [&](int i) { return 15000 + 135000 * i / (set_points - 1); };
  for (int run = 1; run <= series; ++run) {
    text += rig_row(run, "zero", 0, 0, 0, 0);
    for (int i = 0; i < set_points; ++i) {
      text += rig_row(run, "up", force(i), up_mbar(force(i)) + run, up_mbar(force(i)) + run, force(i));
    }
    for (int i = set_points - 1; run == series && i >= 0; --i) {
      text += rig_row(run, "down", force(i), down_mbar(force(i)), down_mbar(force(i)), force(i));
    }
    text += rig_row(run, "zero", 0, 0, 0, 0);
  }
  return text;
}

inline report::CalibrationInput calibration(const std::string& runs,
                                            const gauge::TableOptions& options = {}) {
  const auto table = gauge::make_table(gauge::read_runs(runs, "runs.csv"), options);
  return {.runs = runs,
          .runs_name = "runs.csv",
          .table = gauge::to_json(table, {"runs.csv", sha256_hex(runs)}),
          .table_name = "table.json",
          .issuer = "calibration room of an invented yard",
          .accreditation = ""};
}

}  // namespace strandproof::host::test
