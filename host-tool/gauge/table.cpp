#include "host-tool/gauge/table.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::gauge {
namespace {

constexpr double judged_from =
    0.2;  // of the largest force: ISO 7500-1 verifies from a fifth upwards (from memory)
constexpr std::array<const char*, 2> channel_name{"A", "B"};

double largest_reference(const Runs& runs) {
  double largest = 0.0;
  for (const auto& r : runs.rows) largest = std::max(largest, r.reference_n);
  return largest;
}

std::vector<Observation> readings(const Runs& runs, Direction direction, std::size_t channel) {
  std::vector<Observation> out;
  for (const auto& r : runs.rows) {
    if (r.direction == direction) out.push_back({r.pressure_mbar[channel], r.reference_n, r.set_point_n});
  }
  return out;
}

// The lowest degree that lack of fit does not reject. Without repeats nothing is rejected and the line is
// kept.
int choose_degree(const Column& column) {
  return column.line.lack_of_fit.rejected && column.quadratic ? 2 : 1;
}

void check_options(const TableOptions& o) {
  if (o.points < 5 || o.points > 24)
    throw refused("a gauge table has 5 to 24 points a column; change --points");
  if (o.degree && *o.degree != 1 && *o.degree != 2) {
    throw refused("a gauge table is fitted with degree 1 or 2; change --degree");
  }
}

// Equal steps of pressure from the lowest to the highest reading, in whole mbar inside them.
std::vector<Point> make_points(const Fit& fit, double low, double high, int count, const std::string& where) {
  const double first = std::ceil(low);
  const double step = (std::floor(high) - first) / (count - 1);
  std::vector<Point> points;
  for (int i = 0; i < count; ++i) {
    const double pressure = std::floor(first + step * i);
    const double force = std::round(fit.at(pressure));
    const bool in_range = pressure >= 0.0 && force >= 1.0 && pressure <= 2e6 && force <= 1e8;
    const bool rises = points.empty() ||
                       (in_range && pressure > points.back().pressure_mbar && force > points.back().force_n);
    if (!in_range || !rises) {
      throw refused(
          fmt::format("{}: the fitted table does not rise at {} mbar ({} N); look at the runs, or use "
                      "--degree 1",
                      where, pressure, force));
    }
    points.push_back({static_cast<std::uint32_t>(pressure), static_cast<std::uint32_t>(force)});
  }
  return points;
}

// Largest distance between the table's straight lines and its curve, looked for at 32 places in each step.
double interpolation_error(const Fit& fit, const std::vector<Point>& points) {
  constexpr int places = 32;
  double largest = 0.0;
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const double low = points[i].pressure_mbar;
    const double width = points[i + 1].pressure_mbar - low;
    for (int k = 0; k <= places; ++k) {
      const double pressure = low + width * k / places;
      const double table = *interpolate(points, pressure);
      largest = std::max(largest, std::abs(table - fit.at(pressure)));
    }
  }
  return largest;
}

double largest_percent(const Fit& fit, const std::vector<Observation>& all, double from_n) {
  double largest = 0.0;
  for (const auto& o : all) {
    if (o.y >= from_n) largest = std::max(largest, 100.0 * std::abs(fit.at(o.x) - o.y) / o.y);
  }
  return largest;
}

void check_zero(const Runs& runs) {
  const double limit = 0.005 * largest_reference(runs);
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::zero && !(std::abs(r.reference_n) <= limit)) {
      throw refused(
          fmt::format("{}:{}: the reference cell reads {:.0f} N at no load, more than 0.5 % of the largest "
                      "force; zero it and take the run again",
                      runs.name, r.line, r.reference_n));
    }
  }
}

void check_set_points(const Runs& runs) {
  std::set<int> up;
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::up) up.insert(r.set_point_n);
  }
  if (up.size() < 5) {
    throw refused(fmt::format("{}: {} set points going up; a table needs at least 5", runs.name, up.size()));
  }
}

void check_residual(const Runs& runs, const Column& column, std::size_t channel) {
  if (column.largest_percent <= 1.0) return;
  throw refused(fmt::format(
      "{}: channel {}: a reading lies {:.2f} % off the fitted curve, more than 1 %; look for air, "
      "friction or a wrong reading and take the run again",
      runs.name, channel_name[channel], column.largest_percent));
}

// Errors of each set point of the increasing branch from a fifth of the largest force upwards. The indicated
// force of a level is the table's at the mean pressure; each reference is brought to that pressure along the
// curve.
IsoClass classify(const Runs& runs, const Column& column, std::size_t channel) {
  std::map<int, std::vector<const RunRow*>> levels;
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::up && r.reference_n >= judged_from * largest_reference(runs)) {
      levels[r.set_point_n].push_back(&r);
    }
  }
  LevelErrors worst{};
  bool repeated = !levels.empty();
  for (const auto& [set_point, rows] : levels) {
    repeated = repeated && rows.size() >= 3;
    double mean_pressure = 0.0;
    for (const auto* r : rows) mean_pressure += r->pressure_mbar[channel] / static_cast<double>(rows.size());
    std::vector<double> reference;
    for (const auto* r : rows) {
      const double shift = mean_pressure - r->pressure_mbar[channel];
      reference.push_back(r->reference_n + column.chosen().slope(mean_pressure) * shift);
    }
    const auto e = level_errors({column.chosen().at(mean_pressure), reference});
    if (std::abs(e.accuracy_percent) > std::abs(worst.accuracy_percent))
      worst.accuracy_percent = e.accuracy_percent;
    worst.repeatability_percent = std::max(worst.repeatability_percent, e.repeatability_percent);
  }
  return {repeated ? class_tenths(worst) : 0, worst};
}

IsoClass worse(const IsoClass& a, const IsoClass& b) {
  if (a.tenths == 0) return a;
  return b.tenths == 0 || b.tenths > a.tenths ? b : a;
}

}  // namespace

std::optional<double> interpolate(const std::vector<Point>& points, double pressure_mbar) {
  if (points.empty() || !(pressure_mbar >= points.front().pressure_mbar)) return std::nullopt;
  for (std::size_t i = 1; i < points.size(); ++i) {
    const auto& a = points[i - 1];
    const auto& b = points[i];
    if (pressure_mbar > b.pressure_mbar) continue;
    const double part = (pressure_mbar - a.pressure_mbar) / (b.pressure_mbar - a.pressure_mbar);
    return a.force_n + part * (b.force_n - a.force_n);
  }
  return std::nullopt;
}

Column fit_column(const Runs& runs, Direction direction, std::size_t channel, const TableOptions& options) {
  check_options(options);
  const auto all = readings(runs, direction, channel);
  Column column{};
  if (all.empty()) return column;
  column.line = fit_polynomial(all, 1);
  std::set<double> distinct;
  for (const auto& o : all) distinct.insert(o.x);
  if (distinct.size() > 3) column.quadratic = fit_polynomial(all, 2);
  column.forced = options.degree.has_value();
  column.degree = options.degree.value_or(choose_degree(column));
  if (column.degree == 2 && !column.quadratic)
    throw refused("too few readings for a quadratic; use --degree 1");

  const auto [low, high] =
      std::minmax_element(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  const auto where = fmt::format("{}: channel {}, {}", runs.name, channel_name[channel],
                                 direction == Direction::up ? "up" : "down");
  column.points = make_points(column.chosen(), low->x, high->x, options.points, where);
  column.interpolation_n = interpolation_error(column.chosen(), column.points);
  column.largest_percent = largest_percent(column.chosen(), all, judged_from * largest_reference(runs));
  return column;
}

std::uint32_t expanded_uncertainty(const Runs& runs, const std::array<Column, 2>& increasing,
                                   const TableOptions& options) {
  const double from = judged_from * largest_reference(runs);
  const double reference = options.reference_ppm * 1e-6 / 2.0;
  const double other = options.other_ppm * 1e-6;
  double largest = 0.0;
  for (const auto& column : increasing) {
    const double scatter = column.chosen().residual_sd / from;
    const double interpolation = column.interpolation_n / from / std::sqrt(3.0);  // rectangular
    largest = std::max(largest, std::sqrt(scatter * scatter + interpolation * interpolation));
  }
  const double u = std::sqrt(largest * largest + reference * reference + other * other);
  return static_cast<std::uint32_t>(std::ceil(2.0 * u * 1e6));
}

Table make_table(const Runs& runs, const TableOptions& options) {
  check_set_points(runs);
  check_zero(runs);
  Table t{};
  t.jack_serial = runs.jack_serial;
  t.sensor_serial = runs.sensor_serial;
  t.origin = runs.origin;
  t.calibrated_s = runs.last_taken_s;
  t.due_s = runs.last_taken_s + options.valid_s;
  for (std::size_t channel = 0; channel < 2; ++channel) {
    t.increasing[channel] = fit_column(runs, Direction::up, channel, options);
    t.decreasing[channel] = fit_column(runs, Direction::down, channel, options);
    check_residual(runs, t.increasing[channel], channel);
  }
  t.iso_class = worse(classify(runs, t.increasing[0], 0), classify(runs, t.increasing[1], 1));
  t.uncertainty_ppm = expanded_uncertainty(runs, t.increasing, options);
  return t;
}

}  // namespace strandproof::host::gauge
