#include "host-tool/gauge/pairs.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "host-tool/base/text.hpp"
#include "host-tool/gauge/reading_rules.hpp"

namespace strandproof::host::gauge {
namespace {

enum PairColumn : std::size_t { channel, direction, pressure, force, column_count };

constexpr std::array<ColumnSpec, column_count> columns{{
    {"channel", Quantity::plain, true},
    {"direction", Quantity::plain, true},
    {"pressure", Quantity::pressure, true},
    {"force", Quantity::force, true},
}};

std::size_t read_channel(const Csv& csv) {
  const auto text = csv.text(channel);
  if (text == "A") return 0;
  if (text == "B") return 1;
  throw csv.problem(channel, fmt::format("channel '{}' is none of A, B", shown(text)));
}

Column& column_of(Table& t, const Csv& csv) {
  const std::size_t c = read_channel(csv);
  const auto text = csv.text(direction);
  if (text == "up") return t.increasing[c];
  if (text == "down") return t.decreasing[c];
  throw csv.problem(direction, fmt::format("direction '{}' is none of up, down", shown(text)));
}

std::uint32_t rounded(const Csv& csv, std::size_t column, double largest) {
  const double value = csv.number(column);
  if (!(value >= 0.5 && value <= largest)) {
    throw csv.problem(column,
                      fmt::format("'{}' in column {} is out of range; a pair at no load makes no point",
                                  shown(csv.text(column)), csv.column_name(column)));
  }
  return static_cast<std::uint32_t>(std::lround(value));
}

void add_pair(Table& t, const Csv& csv) {
  Column& column = column_of(t, csv);
  const Point p{rounded(csv, pressure, 2e6), rounded(csv, force, 1e8)};
  if (!column.points.empty()) {
    const Point& before = column.points.back();
    if (p.pressure_mbar <= before.pressure_mbar || p.force_n <= before.force_n) {
      throw csv.problem(
          p.pressure_mbar <= before.pressure_mbar ? pressure : force,
          "does not rise after the pair before it of the same channel and direction; sort the pairs "
          "by rising force");
    }
  }
  column.points.push_back(p);
  column.lines.push_back(csv.line());
}

void check_count(const Column& column, const std::string& name, const char* which, bool may_be_empty) {
  const std::size_t n = column.points.size();
  if ((n == 0 && may_be_empty) || (n >= points_min && n <= points_max)) return;
  throw refused(
      fmt::format("{}: channel {} has {} pairs; a column of a table takes 5 to 24", name, which, n));
}

Problem pair_problem(const std::string& name, const Column& column, std::size_t i, const std::string& what) {
  return refused(fmt::format("{}:{}: {}", name, column.lines[i], what));
}

constexpr double crooked_part = 0.05;  // of the force, and
constexpr double apart_part = 0.02;
constexpr double floor_part = 0.01;  // of the largest force

// One pair among its neighbours: a jack is nearly a straight line.
void check_straight(const Column& column, const std::string& name) {
  const double floor = floor_part * (column.empty() ? 0.0 : column.points.back().force_n);
  for (std::size_t i = 1; i + 1 < column.points.size(); ++i) {
    const Point& a = column.points[i - 1];
    const Point& b = column.points[i + 1];
    const Point& p = column.points[i];
    const double share =
        (1.0 * p.pressure_mbar - a.pressure_mbar) / (1.0 * b.pressure_mbar - a.pressure_mbar);
    const double line = a.force_n + share * (1.0 * b.force_n - a.force_n);
    if (std::abs(p.force_n - line) <= crooked_part * p.force_n + floor) continue;
    throw pair_problem(
        name, column, i,
        fmt::format("{:.2f} kN, where the pairs beside it make {:.2f} kN; look for a slip of the pen "
                    "in this pair or beside it",
                    p.force_n / 1e3, line / 1e3));
  }
}

// Both channels read the same oil; on the way down friction helps to hold.
void check_sides(const Table& t, const std::string& name) {
  const double floor = floor_part * t.increasing[0].points.back().force_n;
  for (std::size_t i = 0; i < t.increasing[1].points.size(); ++i) {
    const Point& p = t.increasing[1].points[i];
    const auto a = interpolate(t.increasing[0].points, p.pressure_mbar);
    if (!a || std::abs(*a - p.force_n) <= apart_part * p.force_n + floor) continue;
    throw pair_problem(
        name, t.increasing[1], i,
        fmt::format("channel B makes {:.2f} kN of this pressure and channel A {:.2f} kN; both read the "
                    "same oil: look at channels and units",
                    p.force_n / 1e3, *a / 1e3));
  }
  for (std::size_t c = 0; c < 2; ++c) {
    for (std::size_t i = 0; i < t.decreasing[c].points.size(); ++i) {
      const Point& p = t.decreasing[c].points[i];
      const auto up = interpolate(t.increasing[c].points, p.pressure_mbar);
      if (!up || (p.force_n >= *up - 0.005 * p.force_n - 200.0 && p.force_n <= 1.12 * *up + 2'000.0))
        continue;
      throw pair_problem(
          name, t.decreasing[c], i,
          fmt::format("{:.2f} kN going down, where {:.2f} kN stand going up; friction holds the load on "
                      "the way down, by 12 % and 2 kN at most: sort out up and down",
                      p.force_n / 1e3, *up / 1e3));
    }
  }
}

void check_plausible(const Table& t, const std::string& name) {
  for (const auto& column : t.increasing) {
    const Point& top = column.points.back();
    if (const auto wrong = no_jack(top.pressure_mbar, top.force_n); !wrong.empty())
      throw pair_problem(name, column, column.points.size() - 1, wrong);
  }
  for (std::size_t c = 0; c < 2; ++c) {
    check_straight(t.increasing[c], name);
    check_straight(t.decreasing[c], name);
  }
  check_sides(t, name);
}

void check_certificate(const Certificate& c, const std::string& name) {
  const auto lacks = [&](const char* what, const char* option) {
    return refused(fmt::format("{}: the certificate's {} is missing; give it with {}", name, what, option));
  };
  if (c.issuer.empty()) throw lacks("issuer", "--issuer");
  if (c.number.empty()) throw lacks("number", "--certificate");
  if (c.expanded_ppm == 0) throw lacks("expanded uncertainty", "--uncertainty-ppm");
  if (c.sensor_serial[0] == c.sensor_serial[1]) {
    throw refused(fmt::format("{}: sensors A and B have the same serial {}; correct --sensor-a or --sensor-b",
                              name, c.sensor_serial[0]));
  }
  if (c.due_s <= c.calibrated_s) {
    throw refused(
        fmt::format("{}: the due date is not after the calibration; correct --calibrated or --due", name));
  }
}

Table with_certificate(const Certificate& c) {
  Table t{};
  t.jack_serial = c.jack_serial;
  t.sensor_serial = c.sensor_serial;
  t.origin = c.origin;
  t.calibrated_s = c.calibrated_s;
  t.due_s = c.due_s;
  t.first_taken_s = c.calibrated_s;
  t.imported = Imported{c.issuer, c.number};
  t.iso_class.tenths = c.class_tenths.value_or(0);
  t.uncertainty_ppm = c.expanded_ppm;
  t.within_practice = c.expanded_ppm <= 20'000;
  t.notes.push_back(
      fmt::format("IMPORTED: pairs of {}, certificate {}; class and uncertainty are the issuer's, "
                  "nothing was fitted or judged here",
                  c.issuer, c.number));
  t.notes.push_back(
      "between the pairs the table is straight lines; how far that is off the jack is not known");
  return t;
}

double lowest_initial(const Table& t) {
  double lowest = 0.0;
  for (const auto& column : t.increasing) {
    lowest = std::max(lowest, std::ceil(column.points.front().force_n * (1.0 + 1e-6 * t.uncertainty_ppm)));
  }
  return lowest;
}

}  // namespace

Table read_pairs(std::string_view text, const std::string& name, const CsvOptions& options,
                 const Certificate& certificate) {
  check_certificate(certificate, name);
  Table t = with_certificate(certificate);
  Csv csv{text, name, options, columns};
  while (csv.next()) add_pair(t, csv);
  check_count(t.increasing[0], name, "A, up", false);
  check_count(t.increasing[1], name, "B, up", false);
  check_count(t.decreasing[0], name, "A, down", true);
  check_count(t.decreasing[1], name, "B, down", true);
  check_plausible(t, name);
  t.lowest_initial_n = lowest_initial(t);
  return t;
}

}  // namespace strandproof::host::gauge
