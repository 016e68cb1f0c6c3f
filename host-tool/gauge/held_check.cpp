#include "host-tool/gauge/held_check.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::gauge {
namespace {

using Json = nlohmann::json;

constexpr std::int64_t day_s = 86'400;
constexpr std::int64_t longest_s = 400 * day_s;  // a year and a month; nobody calibrates less often
constexpr double point_slack_n = 1.0;

std::string lines_of(const char* name, const std::vector<Point>& points) {
  std::string text;
  for (const auto& p : points) text += fmt::format("{} {} {}\n", name, p.pressure_mbar, p.force_n);
  return text;
}

Problem changed(const std::string& name, const std::string& what) {
  return refused(fmt::format("{}: changed after the fit: {}; fit the runs again", name, what));
}

// The coefficients of the fit that the column states as taken.
std::vector<double> taken(const Json& column) {
  for (const auto& fit : column.at("fits")) {
    if (fit.at("degree") == column.at("degree")) return fit.at("coefficients_n_per_mbar_power");
  }
  return {};
}

void check_column(const Json& column, const std::vector<Point>& points, const char* key,
                  const std::string& name) {
  if (points.empty()) return;
  const auto coefficients = taken(column);
  const double allowed = point_slack_n + column.at("interpolation_error_n").get<double>();
  for (const auto& p : points) {
    double force = 0.0;
    for (auto c = coefficients.rbegin(); c != coefficients.rend(); ++c) force = force * p.pressure_mbar + *c;
    if (std::abs(force - p.force_n) <= allowed) continue;
    throw changed(name, fmt::format("{} has {} N at {} mbar, where its own fit gives {:.1f} N", key,
                                    p.force_n, p.pressure_mbar, force));
  }
}

// Figures that the jack will hold against those that they were made of.
void check_figures(const Json& j, const HeldTable& t, const std::string& name) {
  const double percent = j.at("uncertainty_worst").at("expanded_percent");
  if (t.uncertainty_ppm != static_cast<std::uint32_t>(std::ceil(1e4 * percent))) {
    throw changed(name, fmt::format("uncertainty_ppm is {}, where its budget gives {:.4f} %",
                                    t.uncertainty_ppm, percent));
  }
  const Json& stated = j.at("iso_7500_1").at("class");
  const double tenths = stated.is_null() ? 0.0 : 10.0 * stated.get<double>();
  if (std::lround(tenths) != static_cast<long>(t.class_tenths)) {
    throw changed(
        name, fmt::format("class_tenths is {}, where iso_7500_1 states {:g} tenths", t.class_tenths, tenths));
  }
}

void check_fitted(const Json& j, const HeldTable& t, const std::string& name) {
  const Json& columns = j.at("columns");
  for (std::size_t c = 0; c < 2; ++c) {
    const char* up = c == 0 ? "a_increasing" : "b_increasing";
    const char* down = c == 0 ? "a_decreasing" : "b_decreasing";
    check_column(columns.at(up), t.increasing[c], up, name);
    check_column(columns.at(down), t.decreasing[c], down, name);
  }
  check_figures(j, t, name);
}

}  // namespace

void check_dates(const HeldTable& t, const std::string& name, std::int64_t now_s) {
  if (t.calibrated_s > now_s + day_s) {
    throw refused(
        fmt::format("{}: calibrated {}, in the future of this computer ({}); set the clock that is "
                    "wrong, then fit again",
                    name, format_time(t.calibrated_s), format_time(now_s)));
  }
  if (t.due_s - t.calibrated_s > longest_s) {
    throw refused(
        fmt::format("{}: due {}, more than 400 days after its calibration of {}; fit again with a "
                    "shorter validity",
                    name, format_time(t.due_s), format_time(t.calibrated_s)));
  }
}

std::string held_digest(const HeldTable& t) {
  std::string text = fmt::format(
      "jack {}\nsensors {} {}\n{}\ncalibrated {}\ndue {}\nclass {}\nuncertainty {}\n", t.jack_serial,
      t.sensor_serial[0], t.sensor_serial[1], t.origin == Origin::hardware ? "hardware" : "simulated",
      t.calibrated_s, t.due_s, t.class_tenths, t.uncertainty_ppm);
  text += lines_of("a+", t.increasing[0]) + lines_of("a-", t.decreasing[0]);
  text += lines_of("b+", t.increasing[1]) + lines_of("b-", t.decreasing[1]);
  return sha256_hex(text);
}

std::string file_digest(std::string_view text) {
  auto j = nlohmann::ordered_json::parse(text, nullptr, false);
  if (!j.is_object()) return {};
  j.erase("file_sha256");
  return sha256_hex(j.dump(2) + "\n");
}

HeldTable read_sound(std::string_view text, const std::string& name, std::int64_t now_s) {
  HeldTable t = from_json(text, name);
  const Json j = Json::parse(text);
  const Json digest = j.value("held_sha256", Json());
  if (digest != held_digest(t)) {
    throw changed(name, digest.is_null() ? "it has no field 'held_sha256'"
                                         : "'held_sha256' is not the digest of what stands there");
  }
  check_dates(t, name, now_s);
  if (!j.contains("imported")) {
    try {
      check_fitted(j, t, name);
    } catch (const Json::exception&) {
      throw changed(name, "figures of its fit are missing or of another kind");
    }
  }
  if (file_digest(text) != j.value("file_sha256", "")) {
    throw changed(name, "'file_sha256' is not the digest of what stands there");
  }
  return t;
}

}  // namespace strandproof::host::gauge
