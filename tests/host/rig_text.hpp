// Calibration runs as text, for the tests: an invented jack whose force is known at every pressure.
#pragma once

#include <fmt/core.h>

#include <string>
#include <string_view>

namespace strandproof::host::test {

inline constexpr std::string_view rig_header =
    "run,direction,set_point_n,pressure_a_mbar,pressure_b_mbar,reference_n,stroke_um,oil_c,jack_serial,"
    "sensor_a_serial,sensor_b_serial,origin,taken_at\n";

inline std::string rig_row(int run, std::string_view direction, int set_point_n, double a_mbar, double b_mbar,
                           double reference_n) {
  return fmt::format("{},{},{},{},{},{},120000,21.5,1001,2001,2002,simulated,2026-05-04T09:30:00+02:00\n",
                     run, direction, set_point_n, a_mbar, b_mbar, reference_n);
}

// Ideal jack: 48.00 cm2, friction 3 % and 0.6 kN. Going up F = 4.656 p - 0.6, down F = 4.944 p + 0.6, p in
// MPa, F in kN; that is 0.4656 N/mbar - 600 N and 0.4944 N/mbar + 600 N. Set points of 15 to 150 kN.
inline double up_mbar(double force_n) {
  return (force_n + 600.0) / 0.4656;
}
inline double down_mbar(double force_n) {
  return (force_n - 600.0) / 0.4944;
}

// Series up from zero to zero, the last one with a run down; scatter_n: series r reads (r - 2) * scatter_n
// beside the ideal force.
inline std::string ideal_jack(int runs, double scatter_n = 0.0) {
  std::string text{rig_header};
  for (int run = 1; run <= runs; ++run) {
    text += rig_row(run, "zero", 0, 0, 0, 0);
    for (int f = 15000; f <= 150000; f += 15000) {
      text += rig_row(run, "up", f, up_mbar(f), up_mbar(f), f + (run - 2) * scatter_n);
    }
    for (int f = 150000; run == runs && f >= 15000; f -= 15000) {
      text += rig_row(run, "down", f, down_mbar(f), down_mbar(f), f);
    }
    text += rig_row(run, "zero", 0, 0, 0, 0);
  }
  return text;
}

// The same file with a declared reference cell, serial 9001.
inline std::string with_cell(std::string_view text, std::string_view cell_class, int from_n, int to_n,
                             std::string_view due) {
  std::string out;
  while (!text.empty()) {
    const auto end = text.find('\n');
    out += text.substr(0, end);
    out += out.find('\n') == out.npos ? ",cell_serial,cell_class,cell_from_n,cell_to_n,cell_due\n"
                                      : fmt::format(",9001,{},{},{},{}\n", cell_class, from_n, to_n, due);
    text.remove_prefix(end + 1);
  }
  return out;
}

}  // namespace strandproof::host::test
