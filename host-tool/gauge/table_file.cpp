#include "host-tool/gauge/table_file.hpp"

#include <fmt/core.h>

#include <nlohmann/json.hpp>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::gauge {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* format_name = "strandproof gauge table";
constexpr int format_version = 1;

Json fit_json(const Fit& fit) {
  Json j;
  j["coefficients_n_per_mbar_power"] = fit.coefficient;
  j["standard_errors"] = fit.standard_error;
  j["residual_sd_n"] = fit.residual_sd;
  j["residual_dof"] = fit.residual_dof;
  j["largest_residual_n"] = fit.largest_residual;
  const auto& l = fit.lack_of_fit;
  if (!l.available) {
    j["lack_of_fit"] = nullptr;
    return j;
  }
  j["lack_of_fit"] = {{"f", l.f},
                      {"f_limit_5_percent", l.f_limit},
                      {"groups_dof", l.groups_dof},
                      {"pure_dof", l.pure_dof},
                      {"pure_sd_n", l.pure_sd},
                      {"rejected", l.rejected}};
  return j;
}

Json column_json(const Column& column) {
  Json points = Json::array();
  for (const auto& p : column.points) points.push_back({p.pressure_mbar, p.force_n});
  Json j;
  j["points_mbar_n"] = points;
  if (column.points.empty()) return j;
  j["degree"] = column.degree;
  j["degree_chosen_by"] = column.forced ? "request" : "lack of fit";
  j["interpolation_error_n"] = column.interpolation_n;
  j["largest_residual_percent"] = column.largest_percent;
  j["straight_line"] = fit_json(column.line);
  if (column.quadratic) j["quadratic"] = fit_json(*column.quadratic);
  return j;
}

// Field access whose every failure names the file, the field and the remedy.
class Reader {
 public:
  Reader(const Json& json, const std::string& name) : json_{json}, name_{name} {}

  [[nodiscard]] const Json& field(const char* key) const {
    if (!json_.is_object() || !json_.contains(key)) throw problem(key, "is missing");
    return json_.at(key);
  }

  [[nodiscard]] std::uint32_t number(const char* key, std::uint32_t low, std::uint32_t high) const {
    const Json& j = field(key);
    if (!j.is_number_unsigned() || j.get<std::uint64_t>() < low || j.get<std::uint64_t>() > high) {
      throw problem(key, fmt::format("is not a whole number from {} to {}", low, high));
    }
    return j.get<std::uint32_t>();
  }

  [[nodiscard]] std::string text(const char* key) const {
    const Json& j = field(key);
    if (!j.is_string()) throw problem(key, "is not a text");
    return j.get<std::string>();
  }

  [[nodiscard]] std::int64_t time(const char* key) const {
    const auto t = parse_time(text(key));
    if (!t) throw problem(key, "is not a time such as 2026-05-04T07:30:00Z");
    return *t;
  }

  [[nodiscard]] Problem problem(const std::string& key, const std::string& what) const {
    return bad_input(fmt::format("{}: field '{}' {}; make the table again with 'strandproof gauge fit'",
                                 name_, key, what));
  }

 private:
  const Json& json_;
  const std::string& name_;
};

Point read_point(const Json& pair, const Reader& reader, const char* key) {
  constexpr std::uint64_t largest = 1'000'000'000;
  const bool good = pair.is_array() && pair.size() == 2 && pair[0].is_number_unsigned() &&
                    pair[1].is_number_unsigned() && pair[0].get<std::uint64_t>() <= largest &&
                    pair[1].get<std::uint64_t>() <= largest;
  if (!good) throw reader.problem(key, "holds a point that is not two whole numbers [mbar, N]");
  return {pair[0].get<std::uint32_t>(), pair[1].get<std::uint32_t>()};
}

std::vector<Point> read_column(const Json& columns, const std::string& name, const char* key,
                               bool may_be_empty) {
  const Reader all{columns, name};
  const Json& list = Reader{all.field(key), name}.field("points_mbar_n");
  if (!list.is_array()) throw all.problem(key, "holds no list of points");
  if (list.empty() && may_be_empty) return {};
  if (list.size() < 5 || list.size() > 24) throw all.problem(key, "has not 5 to 24 points");
  std::vector<Point> points;
  for (const Json& pair : list) {
    const Point p = read_point(pair, all, key);
    const bool rises = points.empty() ||
                       (p.pressure_mbar > points.back().pressure_mbar && p.force_n > points.back().force_n);
    if (!rises) throw all.problem(key, fmt::format("does not rise at {} mbar", p.pressure_mbar));
    points.push_back(p);
  }
  return points;
}

Origin read_origin(const Reader& top) {
  const std::string text = top.text("origin");
  for (const auto origin : {Origin::simulated, Origin::emulated, Origin::hardware}) {
    if (text == origin_text(origin)) return origin;
  }
  throw top.problem("origin", "is none of simulated, emulated, hardware");
}

Json parse(std::string_view text, const std::string& name) {
  try {
    return Json::parse(text);
  } catch (const Json::parse_error& e) {
    throw bad_input(
        fmt::format("{}: not a JSON file (byte {}); make it with 'strandproof gauge fit'", name, e.byte));
  }
}

}  // namespace

std::string origin_text(Origin origin) {
  if (origin == Origin::simulated) return "simulated";
  return origin == Origin::emulated ? "emulated" : "hardware";
}

HeldTable held(const Table& t) {
  HeldTable h{t.jack_serial,
              t.sensor_serial,
              t.origin,
              t.calibrated_s,
              t.due_s,
              static_cast<std::uint32_t>(t.iso_class.tenths),
              t.uncertainty_ppm,
              {},
              {}};
  for (std::size_t c = 0; c < 2; ++c) {
    h.increasing[c] = t.increasing[c].points;
    h.decreasing[c] = t.decreasing[c].points;
  }
  return h;
}

std::string to_json(const Table& t, const Source& source) {
  Json j;
  j["format"] = format_name;
  j["version"] = format_version;
  j["origin"] = origin_text(t.origin);
  j["jack_serial"] = t.jack_serial;
  j["sensor_a_serial"] = t.sensor_serial[0];
  j["sensor_b_serial"] = t.sensor_serial[1];
  j["calibrated"] = format_time(t.calibrated_s);
  j["due"] = format_time(t.due_s);
  j["class_tenths"] = t.iso_class.tenths;
  j["accuracy_percent"] = t.iso_class.worst.accuracy_percent;
  j["repeatability_percent"] = t.iso_class.worst.repeatability_percent;
  j["uncertainty_ppm"] = t.uncertainty_ppm;
  j["source"] = {{"file", source.file}, {"sha256", source.sha256_hex}};
  j["columns"] = {{"a_increasing", column_json(t.increasing[0])},
                  {"a_decreasing", column_json(t.decreasing[0])},
                  {"b_increasing", column_json(t.increasing[1])},
                  {"b_decreasing", column_json(t.decreasing[1])}};
  return j.dump(2) + "\n";
}

HeldTable from_json(std::string_view text, const std::string& name) {
  const Json json = parse(text, name);
  const Reader top{json, name};
  if (top.text("format") != format_name) throw top.problem("format", "is not that of a gauge table");
  (void)top.number("version", format_version, format_version);
  constexpr std::uint32_t any = 0xFFFFFFFF;
  HeldTable h{};
  h.origin = read_origin(top);
  h.jack_serial = top.number("jack_serial", 1, any);
  h.sensor_serial = {top.number("sensor_a_serial", 1, any), top.number("sensor_b_serial", 1, any)};
  h.calibrated_s = top.time("calibrated");
  h.due_s = top.time("due");
  if (h.due_s <= h.calibrated_s) throw top.problem("due", "is not after the calibration");
  h.class_tenths = top.number("class_tenths", 0, 30);
  h.uncertainty_ppm = top.number("uncertainty_ppm", 0, 1'000'000);
  const Json& columns = top.field("columns");
  h.increasing = {read_column(columns, name, "a_increasing", false),
                  read_column(columns, name, "b_increasing", false)};
  h.decreasing = {read_column(columns, name, "a_decreasing", true),
                  read_column(columns, name, "b_decreasing", true)};
  return h;
}

}  // namespace strandproof::host::gauge
