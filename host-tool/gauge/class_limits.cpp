#include "host-tool/gauge/class_limits.hpp"

#include <fmt/core.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::gauge {
namespace {

using Json = nlohmann::json;

Problem problem(const std::string& name, const std::string& field, const std::string& what) {
  return bad_input(
      fmt::format("{}: field '{}' {}; compare with host-tool/gauge/iso7500_limits.json", name, field, what));
}

std::string text_of(const Json& j, const char* key, const std::string& name) {
  if (!j.contains(key) || !j.at(key).is_string()) throw problem(name, key, "is missing or not a text");
  return j.at(key).get<std::string>();
}

double percent_of(const Json& j, const char* key, const std::string& name) {
  const bool good = j.contains(key) && j.at(key).is_number();
  const double value = good ? j.at(key).get<double>() : 0.0;
  if (!(value > 0.0 && value <= 100.0)) throw problem(name, key, "is not a number above 0 and up to 100");
  return value;
}

ClassRow read_row(const Json& j, const std::string& name) {
  if (!j.is_object()) throw problem(name, "rows", "holds something else than a row");
  return {static_cast<int>(std::lround(10.0 * percent_of(j, "class", name))),
          percent_of(j, "accuracy_percent", name),
          percent_of(j, "repeatability_percent", name),
          percent_of(j, "reversibility_percent", name),
          percent_of(j, "zero_percent", name),
          percent_of(j, "resolution_percent", name)};
}

void check_rising(const ClassRow& row, const ClassRow& better, const std::string& name) {
  const bool rises = row.tenths > better.tenths && row.accuracy > better.accuracy &&
                     row.repeatability > better.repeatability && row.reversibility > better.reversibility &&
                     row.zero > better.zero && row.resolution > better.resolution;
  if (!rises) {
    throw problem(name, "rows",
                  fmt::format("are not wider for class {:g} than for the class before", row.tenths / 10.0));
  }
}

std::string missing(const ClassLimits& l, const std::string& name) {
  const char* field = l.edition.empty() ? "edition" : l.checked_by.empty() ? "checked_by" : "date";
  const bool whole = !l.edition.empty() && !l.checked_by.empty() && parse_time(l.date + "T00:00:00Z");
  if (whole) return "";
  return fmt::format(
      "{}: '{}' is not filled in; a person who has the standard compares the limits, enters role "
      "and date (YYYY-MM-DD), and gives the file with --class-limits",
      name, field);
}

Json parse(std::string_view text, const std::string& name) {
  const Json j = Json::parse(text, nullptr, false);
  if (j.is_discarded() || !j.is_object()) throw problem(name, "format", "can not be read: not a JSON object");
  if (text_of(j, "format", name) != "strandproof class limits") {
    throw problem(name, "format", "is not that of class limits");
  }
  if (!j.contains("version") || j.at("version") != 1) throw problem(name, "version", "is not 1");
  return j;
}

}  // namespace

ClassLimits read_class_limits(std::string_view text, const std::string& name) {
  const Json j = parse(text, name);
  ClassLimits l{
      text_of(j, "edition", name), text_of(j, "checked_by", name), text_of(j, "date", name), {}, ""};
  if (!j.contains("rows") || !j.at("rows").is_array() || j.at("rows").empty()) {
    throw problem(name, "rows", "is missing or empty");
  }
  for (const Json& row : j.at("rows")) {
    l.rows.push_back(read_row(row, name));
    if (l.rows.size() > 1) check_rising(l.rows.back(), l.rows[l.rows.size() - 2], name);
  }
  l.incomplete = missing(l, name);
  return l;
}

}  // namespace strandproof::host::gauge
