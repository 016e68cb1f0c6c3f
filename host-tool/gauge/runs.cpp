#include "host-tool/gauge/runs.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

#include "host-tool/base/text.hpp"

namespace strandproof::host::gauge {
namespace {

enum Column : std::size_t {
  run,
  direction,
  set_point,
  pressure_a,
  pressure_b,
  reference,
  stroke,
  oil,
  ambient,
  jack,
  sensor_a,
  sensor_b,
  origin,
  taken_at,
  cell_serial,
  cell_class,
  cell_from,
  cell_to,
  cell_due,
  cell_ppm,
  resumed,
  column_count
};

constexpr std::array<ColumnSpec, column_count> columns{{
    {"run", Quantity::plain, true},
    {"direction", Quantity::plain, true},
    {"set_point", Quantity::force, true},
    {"pressure_a", Quantity::pressure, true},
    {"pressure_b", Quantity::pressure, true},
    {"reference", Quantity::force, true},
    {"stroke", Quantity::length, true},
    {"oil_c", Quantity::plain, true},
    {"ambient_c", Quantity::plain, false},
    {"jack_serial", Quantity::plain, true},
    {"sensor_a_serial", Quantity::plain, true},
    {"sensor_b_serial", Quantity::plain, true},
    {"origin", Quantity::plain, true},
    {"taken_at", Quantity::plain, true},
    {"cell_serial", Quantity::plain, false},
    {"cell_class", Quantity::plain, false},
    {"cell_from", Quantity::force, false},
    {"cell_to", Quantity::force, false},
    {"cell_due", Quantity::plain, false},
    {"cell_ppm", Quantity::plain, false},
    {"resumed", Quantity::plain, false},
}};

constexpr std::int64_t int_max = std::numeric_limits<int>::max();

Direction read_direction(const Csv& csv) {
  const auto text = csv.text(direction);
  if (text == "up") return Direction::up;
  if (text == "down") return Direction::down;
  if (text == "zero") return Direction::zero;
  throw csv.problem(direction, fmt::format("direction '{}' is none of up, down, zero", shown(text)));
}

Origin read_origin(const Csv& csv) {
  const auto text = csv.text(origin);
  if (text == "simulated") return Origin::simulated;
  if (text == "emulated") return Origin::emulated;
  if (text == "hardware") return Origin::hardware;
  throw csv.problem(origin, fmt::format("origin '{}' is none of simulated, emulated, hardware", shown(text)));
}

// A force or length that is kept as a whole number of N or um.
int rounded(const Csv& csv, std::size_t column, double low) {
  const double value = csv.number(column);
  if (!(value >= low && value <= static_cast<double>(int_max))) {
    throw csv.problem(column, fmt::format("'{}' in column {} is out of range; correct it",
                                          shown(csv.text(column)), csv.column_name(column)));
  }
  return static_cast<int>(std::lround(value));
}

RunRow read_row(const Csv& csv) {
  RunRow row{};
  row.run = static_cast<int>(csv.whole(run, 1, 1000));
  row.direction = read_direction(csv);
  row.set_point_n = rounded(csv, set_point, 0.0);
  row.pressure_mbar = {csv.number(pressure_a), csv.number(pressure_b)};
  row.reference_n = csv.number(reference);
  row.stroke_um = rounded(csv, stroke, -static_cast<double>(int_max));
  row.oil_c = csv.number(oil);
  row.ambient_c = csv.has(ambient) ? csv.number(ambient) : row.oil_c;
  row.taken_s = csv.time(taken_at);
  row.resumed = csv.has(resumed) && csv.whole(resumed, 0, 1) == 1;
  row.line = csv.line();
  return row;
}

int read_cell_class(const Csv& csv) {
  const auto text = csv.text(cell_class);
  if (text == "00") return 0;
  if (text == "0.5" || text == "0,5") return 5;
  if (text == "1") return 10;
  if (text == "2") return 20;
  throw csv.problem(cell_class,
                    fmt::format("cell_class '{}' is none of 00, 0.5, 1, 2 (ISO 376)", shown(text)));
}

std::optional<ReferenceCell> read_cell(const Csv& csv) {
  if (!csv.has(cell_serial)) return std::nullopt;
  ReferenceCell cell{};
  cell.serial = shown(csv.text(cell_serial));
  if (cell.serial.empty())
    throw csv.problem(cell_serial, "cell_serial is empty; write that of the certificate");
  cell.class_tenths = read_cell_class(csv);
  cell.from_n = csv.number(cell_from);
  cell.to_n = csv.number(cell_to);
  if (!(cell.from_n >= 0.0 && cell.to_n > cell.from_n)) {
    throw csv.problem(cell_to, fmt::format("{} is not above {}; write the range of the cell's certificate",
                                           csv.column_name(cell_to), csv.column_name(cell_from)));
  }
  cell.due_s = csv.time(cell_due);
  if (csv.has(cell_ppm)) cell.expanded_ppm = static_cast<std::uint32_t>(csv.whole(cell_ppm, 1, 100'000));
  return cell;
}

// A cell is declared whole or not at all.
void check_cell_columns(const Csv& csv) {
  bool any = csv.has(cell_ppm);
  for (std::size_t c = cell_serial; c <= cell_due; ++c) any = any || csv.has(c);
  for (std::size_t c = cell_serial; any && c <= cell_due; ++c) {
    if (csv.has(c)) continue;
    throw csv.line_problem(
        fmt::format("column '{}' is missing; a reference cell is declared by cell_serial, "
                    "cell_class, cell_from_n, cell_to_n and cell_due together",
                    csv.column_name(c)));
  }
}

void read_identity(const Csv& csv, Runs& runs) {
  constexpr std::int64_t serial_max = std::numeric_limits<std::uint32_t>::max();
  const bool first = runs.rows.empty();
  const auto same = [&](std::size_t c, auto now, auto& kept) {
    if (first) kept = now;
    if (now == kept) return;
    throw csv.problem(c,
                      fmt::format("{} changes within the file; one file holds one jack with its sensors and "
                                  "one reference cell, so split it",
                                  csv.column_name(c)));
  };
  const auto serial = [&](std::size_t c) { return static_cast<std::uint32_t>(csv.whole(c, 1, serial_max)); };
  same(jack, serial(jack), runs.jack_serial);
  same(sensor_a, serial(sensor_a), runs.sensor_serial[0]);
  same(sensor_b, serial(sensor_b), runs.sensor_serial[1]);
  if (runs.sensor_serial[0] == runs.sensor_serial[1]) {
    throw csv.problem(sensor_b, fmt::format("sensors A and B have the same serial {}; two channels are two "
                                            "sensors, write the serial of each",
                                            runs.sensor_serial[1]));
  }
  same(origin, read_origin(csv), runs.origin);
  if (csv.has(cell_serial)) same(cell_serial, read_cell(csv), runs.cell);
}

// Pressures and reference force against the row before of the same series and direction.
void check_order(const Csv& csv, const RunRow& row, const RunRow& before) {
  const double sign = row.direction == Direction::up ? 1.0 : -1.0;
  const auto check = [&](std::size_t c, double now, double earlier) {
    if (sign * (now - earlier) > 0.0) return;
    throw csv.problem(
        c, fmt::format("{} does not {} after line {} of the same run; sort out the run and take it again",
                       csv.column_name(c), sign > 0 ? "rise" : "fall", before.line));
  };
  check(pressure_a, row.pressure_mbar[0], before.pressure_mbar[0]);
  check(pressure_b, row.pressure_mbar[1], before.pressure_mbar[1]);
  check(reference, row.reference_n, before.reference_n);
}

}  // namespace

Runs read_runs(std::string_view text, const std::string& name, const CsvOptions& options) {
  Csv csv{text, name, options, columns};
  check_cell_columns(csv);
  Runs runs{};
  runs.name = name;
  runs.ambient_declared = csv.has(ambient);
  std::map<std::pair<int, Direction>, RunRow> last;
  while (csv.next()) {
    const RunRow row = read_row(csv);
    read_identity(csv, runs);
    if (row.direction != Direction::zero) {
      const auto key = std::pair{row.run, row.direction};
      if (const auto before = last.find(key); before != last.end()) check_order(csv, row, before->second);
      last.insert_or_assign(key, row);
    }
    runs.last_taken_s = runs.rows.empty() ? row.taken_s : std::max(runs.last_taken_s, row.taken_s);
    runs.rows.push_back(row);
  }
  if (runs.rows.empty()) {
    throw bad_input(fmt::format("{}:2:1: no runs below the header; add the readings", name));
  }
  return runs;
}

}  // namespace strandproof::host::gauge
