#include "host-tool/gauge/table_file.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/gauge/table_format.hpp"

namespace strandproof::host::gauge {
namespace {

using Json = nlohmann::ordered_json;

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

  // A number from low to high; nothing where the file says null.
  [[nodiscard]] std::optional<double> maybe(const char* key, double low, double high) const {
    const Json& j = field(key);
    if (j.is_null()) return std::nullopt;
    const bool good = j.is_number() && j.get<double>() >= low && j.get<double>() <= high;
    if (!good) throw problem(key, fmt::format("is not a number from {:g} to {:g}", low, high));
    return j.get<double>();
  }
  [[nodiscard]] double real(const char* key, double low, double high) const {
    const auto value = maybe(key, low, high);
    if (!value) throw problem(key, "is null");
    return *value;
  }
  [[nodiscard]] std::optional<int> maybe_int(const char* key, int low, int high) const {
    const auto value = maybe(key, low, high);
    return value ? std::optional{static_cast<int>(*value)} : std::nullopt;
  }
  [[nodiscard]] bool flag(const char* key) const {
    const Json& j = field(key);
    if (!j.is_boolean()) throw problem(key, "is neither true nor false");
    return j.get<bool>();
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

Declared read_declared(const Reader& r) {
  Declared d{};
  const auto reference = r.maybe("reference_ppm", 0, 1e6);
  if (reference) d.reference_ppm = static_cast<std::uint32_t>(*reference);
  d.resolution_n = r.real("resolution_n", 0, 1e6);
  d.temperature_k = r.real("temperature_k", 0, 1e3);
  d.temperature_ppm_per_k = r.real("temperature_ppm_per_k", 0, 1e6);
  d.temperature_gain_ppm_per_k = r.real("temperature_gain_ppm_per_k", 0, 1e6);
  d.sensor_ppm = r.real("sensor_ppm", 0, 1e6);
  d.sensor_gain_ppm = r.real("sensor_gain_ppm", 0, 1e6);
  d.friction_scatter_percent = r.real("friction_scatter_percent", 0, 100);
  d.other_ppm = r.real("other_ppm", 0, 1e6);
  return d;
}

ClassLimits read_limits(const Reader& r) {
  ClassLimits l{r.text("edition"), r.text("checked_by"), r.text("date"), {}, r.text("incomplete")};
  const Json& rows = r.field("rows");
  if (!rows.is_array()) throw r.problem("rows", "is no list");
  for (const Json& row : rows) {
    const bool good = row.is_array() && row.size() == 6 &&
                      std::all_of(row.begin(), row.end(), [](const Json& n) { return n.is_number(); });
    if (!good) throw r.problem("rows", "holds a row that is not six numbers");
    l.rows.push_back({row[0].get<int>(), row[1], row[2], row[3], row[4], row[5]});
  }
  return l;
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
              {},
              t.lowest_initial_n};
  for (std::size_t c = 0; c < 2; ++c) {
    h.increasing[c] = t.increasing[c].points;
    h.decreasing[c] = t.decreasing[c].points;
  }
  return h;
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
  h.lowest_initial_n = top.real("lowest_initial_n", 0, 1e9);
  const Json& columns = top.field("columns");
  h.increasing = {read_column(columns, name, "a_increasing", false),
                  read_column(columns, name, "b_increasing", false)};
  h.decreasing = {read_column(columns, name, "a_decreasing", true),
                  read_column(columns, name, "b_decreasing", true)};
  return h;
}

Source source_of(std::string_view text, const std::string& name) {
  const Json json = parse(text, name);
  const Reader r{Reader{json, name}.field("source"), name};
  return {r.text("file"), r.text("sha256")};
}

bool is_imported(std::string_view text, const std::string& name) {
  return parse(text, name).contains("imported");
}

TableOptions options_from_json(std::string_view text, const std::string& name) {
  const Json json = parse(text, name);
  const Reader top{json, name};
  if (json.contains("imported")) {
    throw bad_input(fmt::format(
        "{}: an imported table was not fitted here; its issuer's certificate is its report", name));
  }
  const Reader r{top.field("fit_options"), name};
  TableOptions o{};
  o.degree = r.maybe_int("degree", 1, table_degree_max);
  o.through_origin = r.flag("through_origin");
  o.points = r.maybe_int("points", points_min, points_max);
  o.valid_s = static_cast<std::int64_t>(r.real("valid_s", 1, 366 * 86400.0));
  o.class_wanted = r.maybe_int("class_wanted_tenths", 1, 100);
  o.split_percent = r.real("split_percent", 0, 100);
  const std::string separator = r.text("separator");
  o.csv = csv_options(separator == "\t" ? "tab" : separator, r.text("decimal"));
  o.declared = read_declared(r);
  o.limits = read_limits(Reader{r.field("class_limits"), name});
  return o;
}

}  // namespace strandproof::host::gauge
