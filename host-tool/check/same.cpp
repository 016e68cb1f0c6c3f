#include "host-tool/check/same.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/reading_marks.hpp"
#include "host-tool/gauge/run_rules.hpp"

namespace strandproof::host::check {
namespace {

using gauge::HeldTable;
using gauge::Point;

bool same_parts(const HeldTable& a, const HeldTable& b) {
  return a.jack_serial == b.jack_serial && a.sensor_serial == b.sensor_serial;
}

// Points that the later column does not reach say nothing; it must reach most of the judged range.
bool confirms(const std::vector<Point>& later, const std::vector<Point>& earlier, double ratio) {
  constexpr double reached = 0.9;
  const double from = gauge::judged_from * earlier.back().force_n;
  if (later.back().force_n < reached * earlier.back().force_n || later.front().force_n > from) return false;
  for (const auto& p : earlier) {
    const auto now = gauge::interpolate(later, p.pressure_mbar);
    if (p.force_n >= from && now && !(std::abs(*now - p.force_n) <= ratio * p.force_n)) return false;
  }
  return true;
}

}  // namespace

std::optional<HeldTable> table_of(const std::string& json) {
  try {
    return gauge::from_json(json, "archive");
  } catch (const Problem&) {
    return std::nullopt;
  }
}

std::string text_at(const std::string& json, const char* object, const char* field) {
  const auto j = nlohmann::json::parse(json, nullptr, false);
  if (!j.is_object() || !j.contains(object) || !j[object].is_object()) return {};
  const auto& in = j[object];
  return in.contains(field) && in[field].is_string() ? in[field].get<std::string>() : std::string{};
}

bool same_points(const HeldTable& a, const HeldTable& b) {
  return same_parts(a, b) && gauge::share_points(a.increasing[0], b.increasing[0]) &&
         gauge::share_points(a.increasing[1], b.increasing[1]);
}

bool same_calibration(const std::string& json, const std::string& other) {
  if (json == other) return true;
  const std::string runs = text_at(json, "source", "sha256");
  if (!runs.empty() && runs == text_at(other, "source", "sha256")) return true;
  if (gauge::share_readings(text_at(json, "source", "readings"), text_at(other, "source", "readings")))
    return true;
  const auto a = table_of(json);
  const auto b = table_of(other);
  return a && b && (same_points(*a, *b) || (same_parts(*a, *b) && a->calibrated_s == b->calibrated_s));
}

double largest_difference(const HeldTable& later, const HeldTable& earlier) {
  double worst = 0.0;
  for (std::size_t c = 0; c < 2; ++c) {
    const double from = gauge::judged_from * earlier.increasing[c].back().force_n;
    for (const auto& p : earlier.increasing[c]) {
      const auto now = gauge::interpolate(later.increasing[c], p.pressure_mbar);
      if (now && p.force_n >= from) worst = std::max(worst, std::abs(*now - p.force_n) / p.force_n);
    }
  }
  return worst;
}

bool confirms(const HeldTable& later, const HeldTable& earlier) {
  if (!same_parts(later, earlier) || earlier.uncertainty_ppm == 0) return false;
  const double ratio = earlier.uncertainty_ppm * 1e-6;
  return confirms(later.increasing[0], earlier.increasing[0], ratio) &&
         confirms(later.increasing[1], earlier.increasing[1], ratio);
}

}  // namespace strandproof::host::check
