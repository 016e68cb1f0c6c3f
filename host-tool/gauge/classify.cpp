#include "host-tool/gauge/classify.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "host-tool/gauge/run_rules.hpp"

namespace strandproof::host::gauge {
namespace {

constexpr std::size_t series_needed = 3;
constexpr std::size_t levels_needed = 5;

struct LevelRows {
  std::vector<const RunRow*> up;
  const RunRow* down = nullptr;  // of the last series that has one
};

std::map<int, LevelRows> levels_of(const Runs& runs) {
  std::map<int, LevelRows> levels;
  const double from = judged_from * largest_reference(runs);
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::up && r.reference_n >= from) levels[r.set_point_n].up.push_back(&r);
  }
  for (const auto& r : runs.rows) {
    const auto level = levels.find(r.set_point_n);
    if (r.direction == Direction::down && level != levels.end()) level->second.down = &r;
  }
  return levels;
}

// A reading's reference force at another pressure close by, along the curve of its branch.
double brought_to(double pressure_mbar, const RunRow& r, std::size_t channel, const Fit& branch) {
  return r.reference_n + branch.at(pressure_mbar) - branch.at(r.pressure_mbar[channel]);
}

LevelErrors errors_of(const LevelRows& rows, const Table& t, std::size_t channel) {
  double mean_pressure = 0.0;
  for (const auto* r : rows.up)
    mean_pressure += r->pressure_mbar[channel] / static_cast<double>(rows.up.size());
  const Column& up = t.increasing[channel];
  std::vector<double> reference;
  for (const auto* r : rows.up) reference.push_back(brought_to(mean_pressure, *r, channel, up.chosen()));
  Level level{interpolate(up.points, mean_pressure).value_or(up.chosen().at(mean_pressure)),
              reference,
              {},
              t.options.declared.resolution_n};
  if (rows.down != nullptr) {
    level.decreasing_n = brought_to(mean_pressure, *rows.down, channel, t.decreasing[channel].chosen());
  }
  return level_errors(level);
}

void keep_worst(LevelErrors& worst, const LevelErrors& e) {
  const auto larger = [](double a, double b) { return std::abs(b) > std::abs(a) ? b : a; };
  worst.accuracy_percent = larger(worst.accuracy_percent, e.accuracy_percent);
  worst.repeatability_percent = larger(worst.repeatability_percent, e.repeatability_percent);
  worst.resolution_percent = larger(worst.resolution_percent, e.resolution_percent);
  if (e.reversibility_percent) {
    worst.reversibility_percent = larger(worst.reversibility_percent.value_or(0.0), *e.reversibility_percent);
  }
}

// What the jack would show of force after unloading: the pressure that came back over the series, by the
// slope of the table's first step.
double zero_residual_n(const Runs& runs, const Column& up, std::size_t channel) {
  std::map<int, double> before;
  double largest = 0.0;
  for (const auto& r : runs.rows) {
    if (r.direction != Direction::zero) continue;
    const auto [at, fresh] = before.try_emplace(r.run, r.pressure_mbar[channel]);
    largest = std::max(largest, std::abs(r.pressure_mbar[channel] - at->second));
  }
  return largest * up.chosen().slope(up.points.front().pressure_mbar);
}

std::string why_not(const Runs& runs, const ClassLimits& limits, const std::map<int, LevelRows>& levels) {
  if (limits.rows.empty()) return "no file of class limits; give one with --class-limits";
  if (!limits.incomplete.empty()) return limits.incomplete;
  if (!runs.cell) return "the runs declare no reference cell; add the columns cell_serial to cell_due";
  if (levels.size() < levels_needed)
    return "fewer than five levels from a fifth of the largest force; add set points";
  for (const auto& [set_point, rows] : levels) {
    if (rows.up.size() < series_needed) {
      return fmt::format("fewer than three series at {} N; take three", set_point);
    }
  }
  return "";
}

}  // namespace

IsoClass classify(const Runs& runs, const Table& t) {
  const auto levels = levels_of(runs);
  const ClassLimits& limits = t.options.limits;
  IsoClass c{};
  for (std::size_t channel = 0; channel < 2; ++channel) {
    for (const auto& [set_point, rows] : levels) {
      const auto errors = errors_of(rows, t, channel);
      c.levels[channel].push_back({static_cast<double>(set_point), errors});
      keep_worst(c.worst, errors);
    }
    const double residual = zero_residual_n(runs, t.increasing[channel], channel);
    c.zero_percent = std::max(c.zero_percent, zero_percent(residual, largest_reference(runs)));
  }
  c.not_stated = why_not(runs, limits, levels);
  if (!c.not_stated.empty()) return c;
  c.edition = fmt::format("{}, checked by {} on {}", limits.edition, limits.checked_by, limits.date);
  c.tenths = class_tenths(c.worst, c.zero_percent, limits);
  if (c.tenths == 0) {
    c.not_stated = "the errors keep no class of the limits";
  } else if (runs.cell->class_tenths > c.tenths) {
    c.tenths = runs.cell->class_tenths;
  }
  return c;
}

}  // namespace strandproof::host::gauge
