#include "host-tool/gauge/table.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/classify.hpp"
#include "host-tool/gauge/reading_marks.hpp"
#include "host-tool/gauge/reading_rules.hpp"
#include "host-tool/gauge/run_rules.hpp"

namespace strandproof::host::gauge {
namespace {

constexpr std::array<const char*, 2> channel_name{"A", "B"};
constexpr double reference_ppm_default = 1000.0;  // k = 2; a cell that nobody declared
constexpr double practice_percent = 2.0;          // rule of practice of the trade

std::vector<Observation> readings(const Runs& runs, Direction direction, std::size_t channel) {
  std::vector<Observation> out;
  for (const auto& r : runs.rows) {
    if (r.direction == direction) out.push_back({r.pressure_mbar[channel], r.reference_n, r.set_point_n});
  }
  return out;
}

void check_options(const TableOptions& o) {
  if (o.points && (*o.points < points_min || *o.points > points_max)) {
    throw bad_input("a gauge table has 5 to 24 points a column; change --points");
  }
  if (o.degree && (*o.degree < 1 || *o.degree > table_degree_max)) {
    throw bad_input("a gauge table is fitted with degree 1, 2 or 3; change --degree");
  }
}

// The lowest degree that lack of fit does not reject; where all are rejected, the highest. Without repeats
// nothing is rejected and the line is kept.
void take_degree(Column& column, const std::optional<int>& degree) {
  column.forced = degree.has_value();
  const auto fits = [&](const Fit& f) { return degree ? f.degree == *degree : !f.lack_of_fit.rejected; };
  const auto found = std::find_if(column.candidates.begin(), column.candidates.end(), fits);
  if (found == column.candidates.end() && column.forced) {
    throw refused(fmt::format("too few readings for degree {}; use a lower --degree", *degree));
  }
  column.taken = found == column.candidates.end()
                     ? column.candidates.size() - 1
                     : static_cast<std::size_t>(found - column.candidates.begin());
}

void flag_readings(Column& column) {
  const auto& figures = column.chosen().reading;
  for (std::size_t i = 0; i < figures.size(); ++i) {
    const auto& f = figures[i];
    if (!f.outlier && !f.high_leverage) continue;
    column.flagged.push_back({column.lines[i], f.residual, f.leverage, f.studentised, f.outlier});
  }
}

double largest_percent(const Fit& fit, const std::vector<Observation>& all, double from_n) {
  double largest = 0.0;
  for (const auto& o : all) {
    if (o.y >= from_n) largest = std::max(largest, 100.0 * std::abs(fit.at(o.x) - o.y) / o.y);
  }
  return largest;
}

const Fit* friction_curve(const Table& t, std::size_t channel) {
  const Column& down = t.decreasing[channel];
  return down.candidates.empty() ? nullptr : &down.chosen();
}

BudgetLine budget_with(const Table& t, std::size_t channel, double pressure_mbar, double interpolation_n) {
  return budget_at(pressure_mbar, t.increasing[channel].chosen(), friction_curve(t, channel),
                   t.scatter[channel], t.options.declared, t.reference_ppm, interpolation_n);
}

// A tenth of the expanded uncertainty that there is without interpolation.
void fill_points(Table& t, const Runs& runs, Direction direction, std::size_t channel) {
  Column& column = direction == Direction::up ? t.increasing[channel] : t.decreasing[channel];
  if (column.candidates.empty()) return;
  const auto all = readings(runs, direction, channel);
  const auto [low, high] =
      std::minmax_element(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  PointsWanted wanted{low->x, high->x, t.options.points, {}, {}};
  wanted.allowed_n = [&](double p) { return 0.1 * budget_with(t, channel, p, 0.0).expanded_n; };
  wanted.where = fmt::format("{}: channel {}, {}", runs.name, channel_name[channel],
                             direction == Direction::up ? "up" : "down");
  auto chosen = choose_points(column.chosen(), wanted);
  column.points = std::move(chosen.points);
  column.interpolation_n = chosen.error_n;
  column.interpolation_share = chosen.error_share;
}

// The relative uncertainty grows towards low forces: a fifth of the largest force is looked at besides the
// points.
void fill_budget(Table& t, const Runs& runs) {
  const double from = judged_from * largest_reference(runs);
  for (std::size_t channel = 0; channel < 2; ++channel) {
    const auto& points = t.increasing[channel].points;
    std::vector<BudgetLine> judged;
    for (const auto& p : points) t.budget[channel].push_back(budget_at(t, channel, p.pressure_mbar));
    const auto fifth = t.increasing[channel].chosen().inverse(from, points.front().pressure_mbar,
                                                              points.back().pressure_mbar);
    if (fifth) judged.push_back(budget_at(t, channel, fifth->x));
    for (const auto& line : t.budget[channel]) {
      if (line.force_n >= from) judged.push_back(line);
    }
    for (const auto& line : judged) {
      if (line.expanded_percent > t.worst.expanded_percent) t.worst = line;
    }
  }
  t.uncertainty_ppm = static_cast<std::uint32_t>(std::ceil(1e4 * t.worst.expanded_percent));
  t.within_practice = t.worst.expanded_percent <= practice_percent;
}

// Both columns must hold the initial force with the reading's uncertainty to spare: the controller refuses an
// initial force outside its columns, and a reading below the first point is no force.
double lowest_initial(const Table& t) {
  double lowest = 0.0;
  for (const auto& lines : t.budget) {
    lowest = std::max(lowest, std::ceil(lines.front().force_n + lines.front().expanded_n));
  }
  return lowest;
}

void note(Table& t, bool when, const std::string& text) {
  if (when) t.notes.push_back(text);
}

void fill_notes(Table& t, const Runs& runs) {
  const Declared& d = t.options.declared;
  note(t, !t.cell, "the runs declare no reference cell: its class, range and due date were not checked");
  note(t, !d.reference_ppm && !(t.cell && t.cell->expanded_ppm),
       "uncertainty of the reference cell assumed as 0.10 % (k = 2); declare that of its certificate "
       "(--reference-ppm, or the column cell_ppm)");
  note(t, t.decreasing[0].candidates.empty(),
       "no decreasing run: lift-off and reversibility are not covered");
  note(t, t.scatter[0].series < 2,
       "one series only: what differs from series to series is not in the uncertainty");
  const int copy = copied_series(runs);
  note(t, copy != 0,
       fmt::format("series {} reads to the digit as one before it: a copied series shows no repeatability",
                   copy));
  note(t, channels_are_one(runs),
       "channels A and B read the same to the digit everywhere: two sensors never do; is one a copy?");
  note(t, !runs.ambient_declared, "no ambient temperature in the runs: the oil's was judged in its place");
  for (const auto& r : runs.rows) {
    note(t, r.resumed,
         fmt::format(
             "the capture was interrupted within series {} and gone on with at line {} of the runs, after "
             "another exercise",
             r.run, r.line));
  }
  std::string missing;
  const auto lacks = [&](bool when, const char* what) {
    if (when) missing += (missing.empty() ? "" : ", ") + std::string{what};
  };
  lacks(d.temperature_k * (d.temperature_ppm_per_k + d.temperature_gain_ppm_per_k) <= 0.0,
        "temperature (--temperature-k, --temperature-ppm-per-k, --temperature-gain-ppm-per-k)");
  lacks(d.sensor_ppm + d.sensor_gain_ppm <= 0.0,
        "linearity and drift of the sensors (--sensor-ppm, --sensor-gain-ppm)");
  lacks(d.friction_scatter_percent <= 0.0, "friction from pull to pull (--friction-scatter-percent)");
  note(t, !missing.empty(), "not declared and not in the uncertainty: " + missing);
  note(t, d.friction_scatter_percent > 0.0 && t.decreasing[0].candidates.empty(),
       "friction scatter was declared, but only a decreasing run shows the friction: it is not in the "
       "uncertainty");
}

void check_class_wanted(const Table& t) {
  if (!t.options.class_wanted) return;
  const int wanted = *t.options.class_wanted;
  if (t.iso_class.tenths != 0 && t.iso_class.tenths <= wanted) return;
  throw refused(fmt::format(
      "class {:g} is wanted, but {}; look at the levels, or ask for less with --class-wanted", wanted / 10.0,
      t.iso_class.tenths == 0 ? "the class is not stated: " + t.iso_class.not_stated
                              : fmt::format("the runs keep class {:g}", t.iso_class.tenths / 10.0)));
}

double settled_reference(const Declared& d, const std::optional<ReferenceCell>& cell) {
  if (d.reference_ppm) return *d.reference_ppm;
  return cell && cell->expanded_ppm ? static_cast<double>(*cell->expanded_ppm) : reference_ppm_default;
}

}  // namespace

Column fit_column(const Runs& runs, Direction direction, std::size_t channel, const TableOptions& options) {
  check_options(options);
  const auto all = readings(runs, direction, channel);
  Column column{};
  if (all.empty()) return column;
  for (const auto& r : runs.rows) {
    if (r.direction == direction) column.lines.push_back(r.line);
  }
  std::set<double> distinct;
  for (const auto& o : all) distinct.insert(o.x);
  for (int degree = 1; degree <= table_degree_max; ++degree) {
    // One reading more than it takes, or the curve only threads its readings.
    const bool carried = distinct.size() > static_cast<std::size_t>(degree) + 1;
    if (degree == 1 || carried)
      column.candidates.push_back(fit_polynomial(all, degree, options.through_origin));
  }
  take_degree(column, options.degree);
  column.largest_percent = largest_percent(column.chosen(), all, judged_from * largest_reference(runs));
  flag_readings(column);
  return column;
}

Table make_table(const Runs& runs, const TableOptions& options) {
  check_options(options);
  check_runs(runs, options.class_wanted);
  Table t{};
  t.jack_serial = runs.jack_serial;
  t.sensor_serial = runs.sensor_serial;
  t.origin = runs.origin;
  t.calibrated_s = runs.last_taken_s;
  t.due_s = runs.last_taken_s + options.valid_s;
  t.first_taken_s = first_taken_s(runs);
  t.reading_marks = reading_marks(runs);
  t.cell = runs.cell;
  t.options = options;
  t.reference_ppm = settled_reference(options.declared, runs.cell);
  for (std::size_t channel = 0; channel < 2; ++channel) {
    t.increasing[channel] = fit_column(runs, Direction::up, channel, options);
    t.decreasing[channel] = fit_column(runs, Direction::down, channel, options);
    t.scatter[channel] = scatter_of(runs, channel, t.increasing[channel].chosen());
    t.lower_limit[channel] = lower_limit(t.increasing[channel].chosen().residual_sd);
    fill_points(t, runs, Direction::up, channel);
    fill_points(t, runs, Direction::down, channel);
  }
  check_curves(runs, t);
  fill_budget(t, runs);
  t.lowest_initial_n = lowest_initial(t);
  t.iso_class = classify(runs, t);
  check_class_wanted(t);
  fill_notes(t, runs);
  return t;
}

BudgetLine budget_at(const Table& t, std::size_t channel, double pressure_mbar) {
  return budget_with(t, channel, pressure_mbar, t.increasing[channel].interpolation_n);
}

std::optional<double> expanded_n(const Table& t, std::size_t channel, double force_n) {
  const Column& column = t.increasing[channel];
  const auto at = column.chosen().inverse(force_n, column.points.front().pressure_mbar,
                                          column.points.back().pressure_mbar);
  return at ? std::optional{budget_at(t, channel, at->x).expanded_n} : std::nullopt;
}

}  // namespace strandproof::host::gauge
