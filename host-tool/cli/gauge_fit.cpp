#include <fmt/core.h>

#include <cmath>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/gauge/runs.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::cli {
namespace {

void print_fit(const char* name, const gauge::Fit& fit, bool chosen) {
  fmt::print("    {:<9}  F =", name);
  for (std::size_t power = 0; power < fit.coefficient.size(); ++power) {
    fmt::print("{}{:.6g} (s.e. {:.2g}){}", power == 0 ? " " : " + ", fit.coefficient[power],
               fit.standard_error[power],
               power == 0   ? ""
               : power == 1 ? " p"
                            : " p^2");
  }
  fmt::print("   [p mbar, F N]{}\n", chosen ? "   <- taken" : "");
  fmt::print("               residual standard deviation {:.2f} N on {} degrees of freedom\n",
             fit.residual_sd, fit.residual_dof);
  const auto& l = fit.lack_of_fit;
  if (!l.available) {
    fmt::print("               lack of fit: not judged, no repeated set points\n");
    return;
  }
  fmt::print("               lack of fit: F = {:.2f} against {:.2f} at 5 % ({} and {} dof): {}\n", l.f,
             l.f_limit, l.groups_dof, l.pure_dof, l.rejected ? "rejected" : "not rejected");
}

void print_column(const char* name, const gauge::Column& column) {
  if (column.points.empty()) {
    fmt::print("  {}: no runs, column left empty\n", name);
    return;
  }
  fmt::print("  {}\n", name);
  print_fit("line", column.line, column.degree == 1);
  if (column.quadratic) print_fit("quadratic", *column.quadratic, column.degree == 2);
  fmt::print(
      "    {} points from {} to {} mbar ({} to {} N), chosen by {}; table leaves its curve by at most {:.1f} "
      "N\n",
      column.points.size(), column.points.front().pressure_mbar, column.points.back().pressure_mbar,
      column.points.front().force_n, column.points.back().force_n, column.forced ? "request" : "lack of fit",
      column.interpolation_n);
  if (column.chosen().lack_of_fit.rejected) {
    fmt::print(
        "    note: the taken curve is rejected too; the means leave it by more than the repeats scatter\n");
  }
}

void print_table(const gauge::Table& t, const GaugeFit& o) {
  if (t.origin != gauge::Origin::hardware) {
    fmt::print("{} - NOT FOR WORK ON A REAL JACK\n",
               t.origin == gauge::Origin::simulated ? "SIMULATED" : "SIMULATED (emulated)");
  }
  fmt::print("jack {}, sensors {} and {}, calibrated {}, due {}\n", t.jack_serial, t.sensor_serial[0],
             t.sensor_serial[1], format_time(t.calibrated_s), format_time(t.due_s));
  print_column("channel A, increasing", t.increasing[0]);
  print_column("channel A, decreasing", t.decreasing[0]);
  print_column("channel B, increasing", t.increasing[1]);
  print_column("channel B, decreasing", t.decreasing[1]);
  fmt::print("accuracy {:+.2f} %, repeatability {:.2f} %: ", t.iso_class.worst.accuracy_percent,
             t.iso_class.worst.repeatability_percent);
  if (t.iso_class.tenths == 0) {
    fmt::print("no class (needs three runs up and at most 3 %)\n");
  } else {
    fmt::print("keeps the limits of class {:g} (ISO 7500-1, from memory: check the standard)\n",
               t.iso_class.tenths / 10.0);
  }
  fmt::print(
      "expanded uncertainty (k = 2) {:.2f} % from a fifth of the largest force: reference cell {:.2f} %, "
      "scatter, "
      "table{}; temperature, drift and friction from pull to pull only as far as the runs show them\n",
      t.uncertainty_ppm / 1e4, o.reference_ppm / 1e4,
      o.other_ppm == 0 ? "" : fmt::format(", other {:.2f} % (k = 1)", o.other_ppm / 1e4));
}

}  // namespace

Exit gauge_fit(const Common& common, const GaugeFit& o) {
  const std::string text = read_file(o.runs);
  const auto runs = gauge::read_runs(text, o.runs);
  gauge::TableOptions options;
  options.degree = o.degree;
  options.points = o.points;
  options.valid_s = std::int64_t{o.valid_days} * 86400;
  options.reference_ppm = o.reference_ppm;
  options.other_ppm = o.other_ppm;
  const auto table = gauge::make_table(runs, options);
  const std::string json = gauge::to_json(table, {o.runs, sha256_hex(text)});
  write_file(o.output, json);
  if (common.json) {
    fmt::print("{}", json);
  } else {
    print_table(table, o);
    fmt::print("written: {}\n", o.output);
  }
  return Exit::good;
}

}  // namespace strandproof::host::cli
