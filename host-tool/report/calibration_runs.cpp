#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "host-tool/gauge/run_rules.hpp"
#include "host-tool/report/calibration_parts.hpp"

namespace strandproof::host::report {
namespace {

using gauge::Direction;

constexpr std::size_t most_series = 5, most_rows = 14, most_summarised = 10;

struct Series {
  int run;
  Direction direction;
  std::map<int, const gauge::RunRow*> at;  // by set point, N
  const gauge::RunRow* zero_before = nullptr;
  const gauge::RunRow* zero_after = nullptr;
};

struct Material {
  std::vector<Series> series;  // as they stand in the file
  std::set<int> set_points;
  bool repeats = false;  // a set point twice in a series, or more zeros than before and after
};

Series& series_of(Material& m, const gauge::RunRow& row) {
  for (auto& s : m.series) {
    if (s.run == row.run && s.direction == row.direction) return s;
  }
  return m.series.emplace_back(Series{row.run, row.direction, {}});
}

// A zero before any reading of its run belongs to the run's first series, a later one to its last.
void place_zeros(const gauge::Runs& runs, Material& m) {
  for (const auto& row : runs.rows) {
    if (row.direction != Direction::zero) continue;
    Series* first = nullptr;
    Series* last = nullptr;
    for (auto& s : m.series) {
      if (s.run != row.run) continue;
      if (first == nullptr) first = &s;
      last = &s;
    }
    if (first == nullptr) continue;  // counted among the readings of the note
    const bool before = row.line < first->at.begin()->second->line;
    auto& slot = before ? first->zero_before : last->zero_after;
    m.repeats = m.repeats || slot != nullptr;
    slot = &row;
  }
}

Material sort_out(const gauge::Runs& runs) {
  Material m;
  for (const auto& row : runs.rows) {
    if (row.direction == Direction::zero) continue;
    m.repeats = !series_of(m, row).at.emplace(row.set_point_n, &row).second || m.repeats;
    m.set_points.insert(row.set_point_n);
  }
  place_zeros(runs, m);
  return m;
}

void add_cells(std::vector<std::string>& cells, const gauge::RunRow* row) {
  if (row == nullptr) {
    cells.insert(cells.end(), 3, "–");
    return;
  }
  cells.push_back(kilonewton(row->reference_n));
  for (const double mbar : row->pressure_mbar) cells.push_back(bar(mbar));
}

Grid every_reading(const Material& m) {
  Grid g;
  g.title = "Calibration runs";
  g.groups.push_back({"", 1});
  g.headings.emplace_back("set point\nkN");
  for (const auto& s : m.series) {
    g.groups.push_back(
        {fmt::format("series {}, {}", s.run, s.direction == Direction::up ? "increasing" : "decreasing"), 3});
    g.headings.insert(g.headings.end(), {"reference\nkN", "A\nbar", "B\nbar"});
  }
  const auto add = [&](const std::string& name, auto&& pick) {
    std::vector<std::string> cells{name};
    bool any = false;
    for (const auto& s : m.series) {
      const gauge::RunRow* row = pick(s);
      any = any || row != nullptr;
      add_cells(cells, row);
    }
    if (any) g.rows.push_back(cells);
  };
  add("zero before", [](const Series& s) { return s.zero_before; });
  for (const int point : m.set_points) {
    add(kilonewton(point, 1), [&](const Series& s) {
      const auto found = s.at.find(point);
      return found == s.at.end() ? nullptr : found->second;
    });
  }
  add("zero after", [](const Series& s) { return s.zero_after; });
  return g;
}

struct Sums {
  int count = 0;
  double reference = 0.0, low = 0.0, high = 0.0;
  std::array<double, 2> pressure{}, worst{};  // worst: deviation of the table, with its sign

  void add(const gauge::RunRow& row, const gauge::Table& table) {
    low = count == 0 ? row.reference_n : std::min(low, row.reference_n);
    high = count == 0 ? row.reference_n : std::max(high, row.reference_n);
    ++count;
    reference += row.reference_n;
    for (std::size_t c = 0; c < 2; ++c) {
      pressure[c] += row.pressure_mbar[c];
      const double off = deviation_n(row, table, c);
      if (std::abs(off) > std::abs(worst[c])) worst[c] = off;
    }
  }
};

const char* name_of(Direction direction) {
  if (direction == Direction::zero) return "zero";
  return direction == Direction::up ? "increasing" : "decreasing";
}

// Means of the readings that fall together; of: number of a reading's row, in its direction.
template <class Of>
Grid summary(const gauge::Runs& runs, const gauge::Table& table, Of of) {
  std::map<std::pair<Direction, int>, Sums> sums;
  for (const auto& row : runs.rows) {
    const int number = row.direction == Direction::zero ? 0 : of(row);
    sums[{row.direction, number}].add(row, table);
  }
  Grid g;
  g.headings = {"direction",   "readings",    "reference from\nkN",     "to\nkN", "mean\nkN",
                "A mean\nbar", "B mean\nbar", "largest deviation A\nN", "B\nN"};
  for (const auto& [key, s] : sums) {
    const double n = s.count;
    const bool zero = key.first == Direction::zero;
    g.rows.push_back({name_of(key.first), std::to_string(s.count), kilonewton(s.low), kilonewton(s.high),
                      kilonewton(s.reference / n), bar(s.pressure[0] / n), bar(s.pressure[1] / n),
                      zero ? "–" : fmt::format("{:+.0f}", s.worst[0]),
                      zero ? "–" : fmt::format("{:+.0f}", s.worst[1])});
  }
  return g;
}

std::string counted(const gauge::Runs& runs, const Material& m) {
  const auto [cold, warm] = std::minmax_element(
      runs.rows.begin(), runs.rows.end(), [](const auto& a, const auto& b) { return a.oil_c < b.oil_c; });
  const auto [in, out] =
      std::minmax_element(runs.rows.begin(), runs.rows.end(),
                          [](const auto& a, const auto& b) { return a.stroke_um < b.stroke_um; });
  return fmt::format(
      "{} readings in {} increasing and decreasing runs, zeros included. Oil {:.1f} to {:.1f} °C, stroke "
      "{:.1f} to {:.1f} mm.",
      runs.rows.size(), m.series.size(), cold->oil_c, warm->oil_c, in->stroke_um / 1e3, out->stroke_um / 1e3);
}

}  // namespace

Grid runs_grid(const gauge::Runs& runs, const gauge::Table& table) {
  const Material m = sort_out(runs);
  if (!m.repeats && m.series.size() <= most_series && m.set_points.size() <= most_rows) {
    Grid g = every_reading(m);
    g.note = counted(runs, m);
    return g;
  }
  const bool by_set_point = m.set_points.size() <= most_summarised;
  const double tenth = gauge::largest_reference(runs) / 10.0;
  Grid g = by_set_point ? summary(runs, table, [](const auto& row) { return row.set_point_n; })
                        : summary(runs, table, [&](const auto& row) {
                            return std::clamp(static_cast<int>(row.reference_n / tenth), 0, 9);
                          });
  g.title = by_set_point ? "Calibration runs, summarised by set point"
                         : "Calibration runs, summarised by tenths of the largest force";
  g.note =
      counted(runs, m) +
      " More than a page takes one by one: each row is a mean, each reading is in the picture below and in "
      "the file of the runs, whose SHA-256 stands at the foot.";
  return g;
}

}  // namespace strandproof::host::report
