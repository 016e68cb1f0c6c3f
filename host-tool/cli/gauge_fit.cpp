#include <fmt/core.h>

#include <cmath>
#include <ctime>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/cli/gauge_print.hpp"
#include "host-tool/gauge/plain.hpp"
#include "host-tool/gauge/reading_rules.hpp"
#include "host-tool/gauge/runs.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::cli {
namespace {

// 17 digits: every double comes back as it was.
void print_plain(const gauge::PlainData& data, const gauge::Fit& fit) {
  fmt::print("{} readings, degree {}{}, {} degrees of freedom\n", data.readings.size(), fit.degree,
             fit.through_origin ? " through the origin" : "", fit.residual_dof);
  for (std::size_t k = fit.through_origin ? 1 : 0; k < fit.coefficient.size(); ++k) {
    fmt::print("B{:<2} {: .16e}   standard deviation {:.16e}\n", k, fit.coefficient[k],
               fit.standard_error[k]);
  }
  fmt::print("residual standard deviation {:.16e}\nresidual sum of squares     {:.16e}\n", fit.residual_sd,
             fit.residual_ss);
  fmt::print("R-squared {}\n",
             std::isnan(fit.r_squared)
                 ? std::string{"not defined: y has no spread"}
                 : fmt::format("{:.16f}{}", fit.r_squared, fit.through_origin ? " (uncentred)" : ""));
  print_lack_of_fit(fit.lack_of_fit, "");
  for (std::size_t i = 0; i < fit.reading.size(); ++i) {
    const auto& r = fit.reading[i];
    if (!r.outlier && !r.high_leverage) continue;
    fmt::print("line {}: residual {:.4g}, studentised {:.2f}, leverage {:.3f}: {}; it stays in the fit\n",
               data.lines[i], r.residual, r.studentised, r.leverage, r.outlier ? "outlier" : "high leverage");
  }
}

Exit fit_plain(const Common& common, const GaugeFit& o) {
  if (!o.degree) throw bad_input("a plain fit needs its degree; give --degree 1 to 10");
  const std::string text = read_file(o.runs);
  const auto data = gauge::read_plain(text, o.runs, gauge::csv_options(o.separator, o.decimal));
  const auto fit = gauge::fit_polynomial(data.readings, *o.degree, o.through_origin);
  const std::string json = gauge::plain_json(data, fit);
  if (!o.output.empty()) write_output(o.output, json, "\"degree\"", "a plain fit");
  if (common.json) {
    fmt::print("{}", json);
  } else {
    print_plain(data, fit);
  }
  return Exit::good;
}

gauge::ClassLimits limits_of(const std::string& file) {
  if (file.empty()) {
    return gauge::read_class_limits(gauge::shipped_class_limits(), "host-tool/gauge/iso7500_limits.json");
  }
  return gauge::read_class_limits(read_file(file), file);
}

gauge::TableOptions options_of(const GaugeFit& o) {
  gauge::TableOptions t{};
  t.degree = o.degree;
  t.through_origin = o.through_origin;
  t.points = o.points;
  t.valid_s = std::int64_t{o.valid_days} * 86400;
  if (o.class_wanted) t.class_wanted = static_cast<int>(std::lround(10.0 * *o.class_wanted));
  t.split_percent = o.split_percent;
  t.declared.reference_ppm = o.reference_ppm;
  t.declared.resolution_n = o.resolution_n;
  t.declared.temperature_k = o.temperature_k;
  t.declared.temperature_ppm_per_k = o.temperature_ppm_per_k;
  t.declared.temperature_gain_ppm_per_k = o.temperature_gain_ppm_per_k;
  t.declared.sensor_ppm = o.sensor_ppm;
  t.declared.sensor_gain_ppm = o.sensor_gain_ppm;
  t.declared.friction_scatter_percent = o.friction_scatter_percent;
  t.declared.other_ppm = o.other_ppm;
  t.csv = gauge::csv_options(o.separator, o.decimal);
  t.limits = limits_of(o.class_limits);
  return t;
}

}  // namespace

Exit gauge_fit(const Common& common, const GaugeFit& o) {
  if (o.plain) return fit_plain(common, o);
  if (o.output.empty()) throw bad_input("no file for the table; give one with -o TABLE.json");
  const auto options = options_of(o);
  const std::string text = read_file(o.runs);
  const auto runs = gauge::read_runs(text, o.runs, options.csv);
  gauge::check_clock(runs, std::time(nullptr));
  const auto table = gauge::make_table(runs, options);
  write_table(common, table, {o.runs, sha256_hex(text)}, o.output);
  return Exit::good;
}

}  // namespace strandproof::host::cli
