#include "host-tool/cli/gauge_print.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/gauge/table_format.hpp"

namespace strandproof::host::cli {
namespace {

constexpr std::array<const char*, 4> degree_name{"", "line", "quadratic", "cubic"};
constexpr std::array<const char*, 4> power_name{"", " p", " p^2", " p^3"};

void print_fit(const gauge::Fit& fit, bool taken) {
  fmt::print("    {:<9}  F =", degree_name[static_cast<std::size_t>(fit.degree)]);
  const std::size_t first = fit.through_origin ? 1 : 0;
  for (std::size_t power = first; power < fit.coefficient.size(); ++power) {
    const double c = fit.coefficient[power];
    fmt::print("{}{:.6g} (s.e. {:.2g}){}",
               power == first ? (c < 0.0 ? " -" : " ")
               : c < 0.0      ? " - "
                              : " + ",
               std::abs(c), fit.standard_error[power], power_name[power]);
  }
  fmt::print("   [p mbar, F N]{}\n", taken ? "   <- taken" : "");
  fmt::print("               residual standard deviation {:.2f} N on {} degrees of freedom\n",
             fit.residual_sd, fit.residual_dof);
  print_lack_of_fit(fit.lack_of_fit, "               ");
}

void print_flags(const gauge::Column& column) {
  for (const auto& f : column.flagged) {
    fmt::print(
        "    line {} of the runs: {} (residual {:+.0f} N, studentised {:+.2f}, leverage {:.2f}); it stays in "
        "the fit\n",
        f.line, f.outlier ? "OUTLIER, look at this reading" : "high leverage", f.residual_n, f.studentised,
        f.leverage);
  }
}

void print_column(const char* name, const gauge::Column& column) {
  if (column.empty()) {
    fmt::print("  {}: no runs, column left empty\n", name);
    return;
  }
  fmt::print("  {}\n", name);
  for (const auto& fit : column.candidates) print_fit(fit, &fit == &column.chosen());
  fmt::print("    {} points from {} to {} mbar ({} to {} N)", column.points.size(),
             column.points.front().pressure_mbar, column.points.back().pressure_mbar,
             column.points.front().force_n, column.points.back().force_n);
  const auto& top = column.points.back();
  fmt::print(" as of a piston of {:.1f} cm2: compare with the jack's plate",
             100.0 * top.force_n / top.pressure_mbar);
  if (column.candidates.empty()) {
    fmt::print(", as the issuer gives them\n");
    return;
  }
  fmt::print(
      ", curve chosen by {};\n    the table leaves its curve by at most {:.1f} N, {:.2f} of a tenth of the "
      "uncertainty\n",
      column.forced ? "request" : "lack of fit", column.interpolation_n, column.interpolation_share);
  print_flags(column);
  if (column.chosen().lack_of_fit.rejected) {
    fmt::print(
        "    note: the taken curve is rejected too; the means leave it by more than the repeats scatter\n");
  }
}

void print_class(const gauge::IsoClass& c) {
  fmt::print(
      "ISO 7500-1, increasing, from a fifth of the largest force: q {:+.4f} %, b {:.4f} %, f0 {:.4f} %, a "
      "{:.4f} "
      "%",
      c.worst.accuracy_percent, c.worst.repeatability_percent, c.zero_percent, c.worst.resolution_percent);
  if (c.worst.reversibility_percent)
    fmt::print("; reversibility v {:+.4f} % (reported)", *c.worst.reversibility_percent);
  if (c.tenths == 0) {
    fmt::print("\n  class not stated: {}\n", c.not_stated);
  } else {
    fmt::print("\n  keeps the limits of class {:g} ({})\n", c.tenths / 10.0, c.edition);
  }
}

void print_budget(const gauge::Table& t) {
  const auto& w = t.worst;
  fmt::print(
      "expanded uncertainty {:.2f} % at {:.1f} kN, the largest from a fifth of the largest force (k = "
      "{:.2f}, "
      "{:.0f} effective degrees of freedom):\n  {} the 2 % rule of practice; standard uncertainties there:\n",
      w.expanded_percent, w.force_n / 1000.0, w.coverage_factor, std::min(w.effective_dof, 9999.0),
      t.within_practice ? "within" : "OUTSIDE");
  for (std::size_t p = 0; p < gauge::part_count; ++p) {
    if (w.part[p].standard_n <= 0.0) continue;
    fmt::print("    {:<24} {:8.1f} N  {:6.3f} %\n", gauge::part_name(static_cast<gauge::Part>(p)),
               w.part[p].standard_n, 100.0 * w.part[p].standard_n / w.force_n);
  }
  fmt::print("  over the range, channel A:\n");
  for (const auto& line : t.budget[0]) {
    fmt::print("    {:8.0f} mbar {:8.1f} kN  +/- {:7.1f} N  {:5.2f} %  (k = {:.2f})\n", line.pressure_mbar,
               line.force_n / 1000.0, line.expanded_n, line.expanded_percent, line.coverage_factor);
  }
}

void print_lower_limits(const gauge::Table& t) {
  for (std::size_t c = 0; c < 2; ++c) {
    const auto& l = t.lower_limit[c];
    fmt::print(
        "ASTM E74 style, channel {}: LLF {:.1f} N; lower limit of class A {:.1f} kN, of class AA {:.1f} kN\n",
        c == 0 ? 'A' : 'B', l.factor_n, l.class_a_n / 1000.0, l.class_aa_n / 1000.0);
  }
}

void print_cell(const gauge::ReferenceCell& c) {
  fmt::print("reference cell {}, class {} (ISO 376), {:.1f} to {:.1f} kN, due {}\n", c.serial,
             c.class_tenths == 0 ? "00" : fmt::format("{:g}", c.class_tenths / 10.0), c.from_n / 1000.0,
             c.to_n / 1000.0, format_time(c.due_s));
}

}  // namespace

void print_lack_of_fit(const gauge::LackOfFit& l, const char* indent) {
  if (!l.available) {
    fmt::print("{}lack of fit: not judged, no set points repeated, or nothing to judge in them\n", indent);
    return;
  }
  fmt::print("{}lack of fit: F = {:.4f} against {:.2f} at 5 % ({} and {} dof), pure error {:.4g}: {}\n",
             indent, l.f, l.f_limit, l.groups_dof, l.pure_dof, l.pure_sd,
             l.rejected ? "rejected" : "not rejected");
}

void write_table(const Common& common, const gauge::Table& table, const gauge::Source& source,
                 const std::string& output) {
  const std::string json = gauge::to_json(table, source);
  write_output(output, json, gauge::format_name, "a gauge table");
  if (common.json) {
    fmt::print("{}", json);
  } else {
    print_table(table);
    fmt::print("written: {}\n", output);
  }
}

void print_table(const gauge::Table& t) {
  if (t.origin != gauge::Origin::hardware) {
    fmt::print("{} - NOT FOR WORK ON A REAL JACK\n",
               t.origin == gauge::Origin::simulated ? "SIMULATED" : "SIMULATED (emulated)");
  }
  fmt::print("jack {}, sensors {} and {}, calibrated {}, due {}\n", t.jack_serial, t.sensor_serial[0],
             t.sensor_serial[1], format_time(t.calibrated_s), format_time(t.due_s));
  if (t.cell) print_cell(*t.cell);
  print_column("channel A, increasing", t.increasing[0]);
  print_column("channel A, decreasing", t.decreasing[0]);
  print_column("channel B, increasing", t.increasing[1]);
  print_column("channel B, decreasing", t.decreasing[1]);
  if (t.imported) {
    fmt::print(
        "{}; expanded uncertainty {:.2f} %\n",
        t.iso_class.tenths == 0 ? "class not stated" : fmt::format("class {:g}", t.iso_class.tenths / 10.0),
        t.uncertainty_ppm / 1e4);
  } else {
    print_class(t.iso_class);
    print_lower_limits(t);
    print_budget(t);
  }
  fmt::print("lowest initial force: {:.0f} N\n", t.lowest_initial_n);
  for (const auto& n : t.notes) fmt::print("note: {}\n", n);
}

}  // namespace strandproof::host::cli
