#include "host-tool/gauge/run_rules.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/gauge/reading_rules.hpp"

namespace strandproof::host::gauge {
namespace {

constexpr double coldest_c = 10.0;
constexpr double warmest_c = 35.0;
constexpr double series_k = 2.0;
constexpr double zero_part = 0.005;  // of the largest reading; common practice

void check_set_points(const Runs& runs) {
  std::set<int> up;
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::up) up.insert(r.set_point_n);
  }
  if (up.size() < 5) {
    throw refused(fmt::format("{}: {} set points going up, a table needs at least 5; take more set points",
                              runs.name, up.size()));
  }
}

void check_zero_size(const Runs& runs) {
  const double limit = zero_part * largest_reference(runs);
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::zero && !(std::abs(r.reference_n) <= limit)) {
      throw refused_at(
          runs, r,
          fmt::format("the reference cell reads {:.0f} N at no load, more than 0.5 % of the largest "
                      "force; zero it and take the run again",
                      r.reference_n));
    }
  }
}

// A series in the order of the file: zero, readings, zero.
void check_one_series(const Runs& runs, const std::vector<const RunRow*>& rows) {
  const auto loaded = [](const RunRow* r) { return r->direction != Direction::zero; };
  const auto first = std::find_if(rows.begin(), rows.end(), loaded);
  if (first == rows.end()) return;
  const auto last = std::find_if(rows.rbegin(), rows.rend(), loaded).base();
  if (first == rows.begin()) {
    throw refused_at(runs, **first,
                     fmt::format("series {} has no zero before its first reading; read the zero, "
                                 "without tare, before and after each series",
                                 (*first)->run));
  }
  if (last == rows.end()) {
    throw refused_at(runs, **(last - 1),
                     fmt::format("series {} has no zero after its last reading; read the zero, "
                                 "without tare, before and after each series",
                                 (*first)->run));
  }
  const auto between = std::find_if_not(first, last, loaded);
  if (between == last) return;
  throw refused_at(runs, **between,
                   fmt::format("a zero within series {}: nothing is set to zero (tared) between "
                               "the readings of a series; take the series again",
                               (*between)->run));
}

void check_temperature(const Runs& runs, const std::vector<const RunRow*>& rows) {
  double mean = 0.0;
  for (const auto* r : rows) mean += r->ambient_c / static_cast<double>(rows.size());
  const char* what = runs.ambient_declared ? "ambient" : "oil";
  for (const auto* r : rows) {
    if (!(r->ambient_c >= coldest_c && r->ambient_c <= warmest_c)) {
      throw refused_at(runs, *r,
                       fmt::format("{} temperature {:g} degC is outside 10 to 35 degC; let rig and jack "
                                   "come to room temperature, or declare ambient_c",
                                   what, r->ambient_c));
    }
  }
  // The one that is farthest off: a single jump moves the mean, and the first reading past the limit would be
  // a good one.
  const auto off = [&](const RunRow* r) { return std::abs(r->ambient_c - mean); };
  const RunRow* worst =
      *std::max_element(rows.begin(), rows.end(), [&](auto* a, auto* b) { return off(a) < off(b); });
  if (off(worst) <= series_k) return;
  throw refused_at(runs, *worst,
                   fmt::format("{} temperature {:g} degC is more than 2 K from the mean of series {}; "
                               "let it settle and take the series again",
                               what, worst->ambient_c, worst->run));
}

void check_series(const Runs& runs) {
  std::map<int, std::vector<const RunRow*>> series;
  for (const auto& r : runs.rows) series[r.run].push_back(&r);
  for (const auto& [run, rows] : series) {
    check_one_series(runs, rows);
    check_temperature(runs, rows);
  }
}

void check_cell(const Runs& runs, const ReferenceCell& cell) {
  for (const auto& r : runs.rows) {
    if (r.taken_s > cell.due_s) {
      throw refused_at(runs, r,
                       fmt::format("reference cell {} was due on {}, before this reading; have it "
                                   "calibrated and take the runs again",
                                   cell.serial, format_time(cell.due_s)));
    }
    if (r.direction == Direction::zero) continue;
    if (!(r.reference_n >= cell.from_n && r.reference_n <= cell.to_n)) {
      throw refused_at(runs, r,
                       fmt::format("{:.0f} N lies outside the range of reference cell {}, {:.0f} to {:.0f} "
                                   "N; use a cell that covers the set points",
                                   r.reference_n, cell.serial, cell.from_n, cell.to_n));
    }
  }
}

void check_wanted(const Runs& runs, int wanted) {
  if (!runs.cell) {
    throw refused(
        fmt::format("{}: class {:g} is wanted, but the file declares no reference cell; add the columns "
                    "cell_serial, cell_class, cell_from_n, cell_to_n, cell_due",
                    runs.name, wanted / 10.0));
  }
  if (runs.cell->class_tenths > wanted) {
    throw refused(
        fmt::format("{}: reference cell {} is of class {:g}, worse than the class {:g} that is wanted; use "
                    "a better cell",
                    runs.name, runs.cell->serial, runs.cell->class_tenths / 10.0, wanted / 10.0));
  }
}

}  // namespace

Problem refused_at(const Runs& runs, const RunRow& row, const std::string& what) {
  return refused(fmt::format("{}:{}: {}", runs.name, row.line, what));
}

double largest_reference(const Runs& runs) {
  double largest = 0.0;
  for (const auto& r : runs.rows) largest = std::max(largest, r.reference_n);
  return largest;
}

void check_runs(const Runs& runs, const std::optional<int>& class_wanted) {
  check_set_points(runs);
  check_series(runs);
  check_zero_size(runs);
  check_readings(runs);
  if (runs.cell) check_cell(runs, *runs.cell);
  if (class_wanted) check_wanted(runs, *class_wanted);
}

}  // namespace strandproof::host::gauge
