#include "host-tool/gauge/runs.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <utility>

#include "host-tool/base/problem.hpp"
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
  jack,
  sensor_a,
  sensor_b,
  origin,
  taken_at,
  column_count
};

constexpr std::array<std::string_view, column_count> column_names{
    "run",       "direction", "set_point_n", "pressure_a_mbar", "pressure_b_mbar", "reference_n",
    "stroke_um", "oil_c",     "jack_serial", "sensor_a_serial", "sensor_b_serial", "origin",
    "taken_at"};

struct Field {
  std::string_view text;
  std::size_t at;  // offset in its line
};

// Where the reader stands; every message goes through it.
struct Place {
  const std::string& name;
  int line;
  [[nodiscard]] Problem problem(std::size_t offset, const std::string& what) const {
    return bad_input(fmt::format("{}:{}:{}: {}", name, line, offset + 1, what));
  }
};

std::vector<Field> split(std::string_view line) {
  std::vector<Field> fields;
  std::size_t start = 0;
  while (true) {
    const std::size_t comma = line.find(',', start);
    fields.push_back({line.substr(start, comma == line.npos ? line.npos : comma - start), start});
    if (comma == line.npos) return fields;
    start = comma + 1;
  }
}

// For each of our columns, where it stands in the file's lines.
using Order = std::array<std::size_t, column_count>;

Order read_header(std::string_view line, const Place& place) {
  if (line.find(';') != line.npos) {
    throw place.problem(line.find(';'),
                        "fields are separated by ';'; save with ',' between and '.' decimals");
  }
  constexpr auto absent = std::numeric_limits<std::size_t>::max();
  Order order;
  order.fill(absent);
  const auto fields = split(line);
  for (std::size_t i = 0; i < fields.size(); ++i) {
    const auto* found = std::find(column_names.begin(), column_names.end(), fields[i].text);
    if (found == column_names.end()) {
      const auto guess = nearest(fields[i].text, column_names);
      throw place.problem(fields[i].at, fmt::format("unknown column '{}'{}", shown(fields[i].text),
                                                    guess.empty() ? "; see the list in host-tool/README.md"
                                                                  : "; did you mean '" + guess + "'?"));
    }
    auto& slot = order[static_cast<std::size_t>(found - column_names.begin())];
    if (slot != absent)
      throw place.problem(fields[i].at, fmt::format("column '{}' twice; remove one", *found));
    slot = i;
  }
  for (std::size_t c = 0; c < column_count; ++c) {
    if (order[c] == absent) {
      throw place.problem(line.size(), fmt::format("column '{}' is missing; add it", column_names[c]));
    }
  }
  return order;
}

double number(const Field& field, std::size_t column, const Place& place) {
  double value = 0.0;
  const char* end = field.text.data() + field.text.size();
  const auto [stop, error] = std::from_chars(field.text.data(), end, value);
  if (error != std::errc{} || stop != end) {
    throw place.problem(field.at,
                        fmt::format("'{}' in column {} is not a number; write digits with a '.' only",
                                    shown(field.text), column_names[column]));
  }
  if (!std::isfinite(value)) {
    throw place.problem(field.at,
                        fmt::format("'{}' in column {} is not a finite number; take the reading again",
                                    shown(field.text), column_names[column]));
  }
  return value;
}

// A whole number from low to high.
std::int64_t whole(const Field& field, std::size_t column, std::int64_t low, std::int64_t high,
                   const Place& place) {
  std::int64_t value = 0;
  const char* end = field.text.data() + field.text.size();
  const auto [stop, error] = std::from_chars(field.text.data(), end, value);
  if (error != std::errc{} || stop != end || value < low || value > high) {
    throw place.problem(field.at,
                        fmt::format("'{}' in column {} is not a whole number from {} to {}; correct it",
                                    shown(field.text), column_names[column], low, high));
  }
  return value;
}

Direction read_direction(const Field& field, const Place& place) {
  if (field.text == "up") return Direction::up;
  if (field.text == "down") return Direction::down;
  if (field.text == "zero") return Direction::zero;
  throw place.problem(field.at, fmt::format("direction '{}' is none of up, down, zero", shown(field.text)));
}

Origin read_origin(const Field& field, const Place& place) {
  if (field.text == "simulated") return Origin::simulated;
  if (field.text == "emulated") return Origin::emulated;
  if (field.text == "hardware") return Origin::hardware;
  throw place.problem(field.at,
                      fmt::format("origin '{}' is none of simulated, emulated, hardware", shown(field.text)));
}

struct Line {
  RunRow row;
  std::uint32_t jack_serial;
  std::array<std::uint32_t, 2> sensor_serial;
  Origin origin;
  std::int64_t taken_s;
  std::vector<Field> fields;  // in the order of Column
};

Line read_line(std::string_view text, const Order& order, const Place& place) {
  const auto raw = split(text);
  if (raw.size() != column_count) {
    throw place.problem(raw.back().at,
                        fmt::format("{} fields where the header has {}; decimals take a '.', never a ','",
                                    raw.size(), static_cast<std::size_t>(column_count)));
  }
  Line l{};
  for (const std::size_t at : order) l.fields.push_back(raw[at]);
  const auto& f = l.fields;
  constexpr std::int64_t serial_max = std::numeric_limits<std::uint32_t>::max();
  constexpr std::int64_t int_max = std::numeric_limits<int>::max();
  const auto serial = [&](std::size_t c) {
    return static_cast<std::uint32_t>(whole(f[c], c, 1, serial_max, place));
  };
  l.row.run = static_cast<int>(whole(f[run], run, 1, 1000, place));
  l.row.direction = read_direction(f[direction], place);
  l.row.set_point_n = static_cast<int>(whole(f[set_point], set_point, 0, int_max, place));
  l.row.pressure_mbar = {number(f[pressure_a], pressure_a, place), number(f[pressure_b], pressure_b, place)};
  l.row.reference_n = number(f[reference], reference, place);
  l.row.stroke_um = static_cast<int>(whole(f[stroke], stroke, -int_max, int_max, place));
  l.row.oil_c = number(f[oil], oil, place);
  l.row.line = place.line;
  l.jack_serial = serial(jack);
  l.sensor_serial = {serial(sensor_a), serial(sensor_b)};
  l.origin = read_origin(f[origin], place);
  const auto taken = parse_time(f[taken_at].text);
  if (!taken) {
    throw place.problem(
        f[taken_at].at,
        fmt::format("taken_at '{}' is no time; write 2026-05-04T09:30:00+02:00", shown(f[taken_at].text)));
  }
  l.taken_s = *taken;
  return l;
}

void check_same(const Line& l, const Runs& runs, const Place& place) {
  const auto differs = [&](std::size_t c) {
    return place.problem(l.fields[c].at,
                         fmt::format("{} changes within the file; one file holds one jack with its "
                                     "sensors, so split it",
                                     column_names[c]));
  };
  if (l.jack_serial != runs.jack_serial) throw differs(jack);
  if (l.sensor_serial[0] != runs.sensor_serial[0]) throw differs(sensor_a);
  if (l.sensor_serial[1] != runs.sensor_serial[1]) throw differs(sensor_b);
  if (l.origin != runs.origin) throw differs(origin);
}

// Pressures and reference force against the row before of the same run and direction.
void check_order(const Line& l, const RunRow& before, const Place& place) {
  const double sign = l.row.direction == Direction::up ? 1.0 : -1.0;
  const auto check = [&](std::size_t c, double now, double earlier) {
    if (sign * (now - earlier) > 0.0) return;
    throw place.problem(
        l.fields[c].at,
        fmt::format("{} does not {} after line {} of the same run; sort out the run and take it again",
                    column_names[c], sign > 0 ? "rise" : "fall", before.line));
  };
  check(pressure_a, l.row.pressure_mbar[0], before.pressure_mbar[0]);
  check(pressure_b, l.row.pressure_mbar[1], before.pressure_mbar[1]);
  check(reference, l.row.reference_n, before.reference_n);
}

// Takes the next line off text, without its line end.
std::string_view next_line(std::string_view& text) {
  const std::size_t end = text.find('\n');
  std::string_view line = text.substr(0, end);
  text.remove_prefix(end == text.npos ? text.size() : end + 1);
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return line;
}

}  // namespace

Runs read_runs(std::string_view text, const std::string& name) {
  if (text.starts_with("\xEF\xBB\xBF") || text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    throw Place{name, 1}.problem(0, "the file starts with a byte-order mark; save it as UTF-8 without one");
  }
  if (text.empty()) throw Place{name, 1}.problem(0, "the file is empty; the first line names the columns");
  int line_number = 1;
  const Order order = read_header(next_line(text), Place{name, line_number});
  Runs runs{};
  runs.name = name;
  std::map<std::pair<int, Direction>, RunRow> last;
  while (!text.empty()) {
    const Place place{name, ++line_number};
    const Line l = read_line(next_line(text), order, place);
    if (runs.rows.empty()) {
      runs.jack_serial = l.jack_serial;
      runs.sensor_serial = l.sensor_serial;
      runs.origin = l.origin;
      runs.last_taken_s = l.taken_s;
    }
    check_same(l, runs, place);
    const auto key = std::pair{l.row.run, l.row.direction};
    if (l.row.direction != Direction::zero) {
      if (const auto before = last.find(key); before != last.end()) check_order(l, before->second, place);
      last.insert_or_assign(key, l.row);
    }
    runs.last_taken_s = std::max(runs.last_taken_s, l.taken_s);
    runs.rows.push_back(l.row);
  }
  if (runs.rows.empty()) throw Place{name, 2}.problem(0, "no runs below the header; add the readings");
  return runs;
}

}  // namespace strandproof::host::gauge
