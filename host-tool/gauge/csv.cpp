#include "host-tool/gauge/csv.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <utility>

#include "host-tool/base/text.hpp"

namespace strandproof::host::gauge {
namespace {

struct Unit {
  Quantity quantity;
  std::string_view suffix;
  double factor;  // to mbar, N, um
};

// International pound 0.45359237 kg, inch 25.4 mm and 9.80665 m/s2, all exact by definition.
constexpr double newton_per_lbf = 0.45359237 * 9.80665;
constexpr Unit units[] = {
    {Quantity::pressure, "mbar", 1.0},
    {Quantity::pressure, "bar", 1e3},
    {Quantity::pressure, "kpa", 10.0},
    {Quantity::pressure, "mpa", 1e4},
    {Quantity::pressure, "psi", newton_per_lbf / (0.0254 * 0.0254) / 100.0},
    {Quantity::force, "n", 1.0},
    {Quantity::force, "kn", 1e3},
    {Quantity::force, "lbf", newton_per_lbf},
    {Quantity::force, "kip", 1e3 * newton_per_lbf},
    {Quantity::length, "um", 1.0},
    {Quantity::length, "mm", 1e3},
    {Quantity::length, "in", 25400.0},
};

std::string with_unit(const ColumnSpec& c, const Unit& u) {
  return fmt::format("{}_{}", c.name, u.suffix);
}

// Every header name that a column may have.
std::vector<std::pair<std::string, double>> names_of(const ColumnSpec& c) {
  if (c.quantity == Quantity::plain) return {{std::string{c.name}, 1.0}};
  std::vector<std::pair<std::string, double>> names;
  for (const auto& u : units) {
    if (u.quantity == c.quantity) names.emplace_back(with_unit(c, u), u.factor);
  }
  return names;
}

std::string unit_list(const ColumnSpec& c) {
  std::string list;
  for (const auto& [name, factor] : names_of(c)) list += (list.empty() ? "" : ", ") + name;
  return list;
}

std::string sign_name(char c) {
  return c == '\t' ? "tab" : fmt::format("'{}'", c);
}

}  // namespace

CsvOptions csv_options(const std::string& separator, const std::string& decimal) {
  CsvOptions o;
  o.separator = separator == "tab" ? '\t' : separator.size() == 1 ? separator[0] : '\0';
  if (o.separator != ',' && o.separator != ';' && o.separator != '\t') {
    throw bad_input(fmt::format(
        "--separator '{}' is none of ',' ';' tab; declare the sign that the file uses", shown(separator)));
  }
  o.decimal = decimal.size() == 1 ? decimal[0] : '\0';
  if (o.decimal != '.' && o.decimal != ',') {
    throw bad_input(fmt::format("--decimal '{}' is none of '.' ','; declare the sign that the file uses",
                                shown(decimal)));
  }
  if (o.decimal == o.separator) {
    throw bad_input("--separator and --decimal are both ','; save the file with ';' between its fields");
  }
  return o;
}

Csv::Csv(std::string_view text, std::string name, CsvOptions options, std::span<const ColumnSpec> columns)
    : rest_{text}, name_{std::move(name)}, options_{options}, columns_{columns}, slots_(columns.size()) {
  for (std::size_t c = 0; c < columns.size(); ++c) slots_[c].name = names_of(columns[c]).front().first;
  if (text.starts_with("\xEF\xBB\xBF") || text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    throw problem_at(0, "the file starts with a byte-order mark; save it as UTF-8 without one");
  }
  if (text.empty()) throw problem_at(0, "the file is empty; the first line names the columns");
  read_header();
}

std::vector<Csv::Field> Csv::split(std::string_view line) const {
  std::vector<Field> fields;
  std::size_t start = 0;
  while (true) {
    const std::size_t end = line.find(options_.separator, start);
    fields.push_back({line.substr(start, end == line.npos ? line.npos : end - start), start});
    if (end == line.npos) return fields;
    start = end + 1;
  }
}

// Takes the next line off the text, without its line end.
std::string_view Csv::take_line() {
  const std::size_t end = rest_.find('\n');
  std::string_view line = rest_.substr(0, end);
  rest_.remove_prefix(end == rest_.npos ? rest_.size() : end + 1);
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return line;
}

void Csv::read_header() {
  const std::string_view line = take_line();
  for (const char other : {';', '\t', ','}) {
    if (other == options_.separator || line.find(other) == line.npos) continue;
    throw problem_at(line.find(other),
                     fmt::format("fields are separated by {0}; declare it with --separator, or save with {1} "
                                 "between",
                                 sign_name(other), sign_name(options_.separator)));
  }
  const auto fields = split(line);
  header_fields_ = fields.size();
  for (std::size_t i = 0; i < fields.size(); ++i) place(fields[i], static_cast<int>(i));
  for (std::size_t c = 0; c < columns_.size(); ++c) {
    if (has(c) || !columns_[c].required) continue;
    const bool unit = columns_[c].quantity != Quantity::plain;
    throw problem_at(line.size(), fmt::format("column '{}' is missing; add it{}", slots_[c].name,
                                              unit ? " (or one of " + unit_list(columns_[c]) + ")" : ""));
  }
}

void Csv::place(const Field& field, int index) {
  std::vector<std::string> known;
  for (std::size_t c = 0; c < columns_.size(); ++c) {
    if (columns_[c].quantity != Quantity::plain && field.text == columns_[c].name) {
      throw problem_at(field.at, fmt::format("column '{}' names no unit; write one of {}", columns_[c].name,
                                             unit_list(columns_[c])));
    }
    for (const auto& [name, factor] : names_of(columns_[c])) {
      known.push_back(name);
      if (field.text != name) continue;
      if (has(c)) throw problem_at(field.at, fmt::format("column '{}' twice; remove one", name));
      slots_[c] = {index, factor, name};
      return;
    }
  }
  const auto guess = nearest(field.text, known);
  throw problem_at(field.at, fmt::format("unknown column '{}'{}", shown(field.text),
                                         guess.empty() ? "; see the list in host-tool/README.md"
                                                       : "; did you mean '" + guess + "'?"));
}

// Editors leave blank lines at the end; one inside is a reading that was lost.
bool Csv::next() {
  if (rest_.find_first_not_of("\r\n") == rest_.npos) return false;
  ++line_;
  if (rest_.front() == '\n' || rest_.starts_with("\r\n"))
    throw problem_at(0, "the line is blank; complete it or remove it");
  fields_ = split(take_line());
  if (fields_.size() == header_fields_) return true;
  throw problem_at(fields_.back().at,
                   fmt::format("{} fields where the header has {}; {}", fields_.size(), header_fields_,
                               options_.separator == ',' ? "decimals take a '.', never a ','"
                                                         : "complete the line or remove it"));
}

std::string Csv::column_name(std::size_t column) const {
  return slots_[column].name;
}

std::string_view Csv::text(std::size_t column) const {
  return fields_[static_cast<std::size_t>(slots_[column].field)].text;
}

// The field with '.' for its declared decimal sign and without a leading '+', which from_chars does not know;
// empty if it holds the other sign.
std::string Csv::with_point(const Field& field) const {
  const bool plus = field.text.starts_with('+') && !field.text.starts_with("+-");
  std::string text{field.text.substr(plus ? 1 : 0)};
  if (options_.decimal == '.') return text;
  if (text.find('.') != text.npos || std::count(text.begin(), text.end(), ',') > 1) return {};
  std::replace(text.begin(), text.end(), ',', '.');
  return text;
}

double Csv::number(std::size_t column) const {
  const Field& field = fields_[static_cast<std::size_t>(slots_[column].field)];
  const std::string text = with_point(field);
  double value = 0.0;
  const char* end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc{} || stop != end) {
    throw problem(column, fmt::format("'{}' in column {} is not a number; write digits with a '{}' only{}",
                                      shown(field.text), slots_[column].name, options_.decimal,
                                      options_.decimal == '.' && options_.separator != ',' &&
                                              field.text.find(',') != field.text.npos
                                          ? ", or declare --decimal ','"
                                          : ""));
  }
  value *= slots_[column].factor;
  if (!std::isfinite(value)) {
    throw problem(column, fmt::format("'{}' in column {} is not a finite number; take the reading again",
                                      shown(field.text), slots_[column].name));
  }
  return value;
}

std::int64_t Csv::whole(std::size_t column, std::int64_t low, std::int64_t high) const {
  const std::string_view field = text(column);
  std::int64_t value = 0;
  const char* end = field.data() + field.size();
  const auto [stop, error] = std::from_chars(field.data(), end, value);
  if (error != std::errc{} || stop != end || value < low || value > high) {
    throw problem(column, fmt::format("'{}' in column {} is not a whole number from {} to {}; correct it",
                                      shown(field), slots_[column].name, low, high));
  }
  return value;
}

std::int64_t Csv::time(std::size_t column) const {
  const auto t = parse_time(text(column));
  if (t) return *t;
  throw problem(column, fmt::format("{} '{}' is no time; write 2026-05-04T09:30:00+02:00",
                                    slots_[column].name, shown(text(column))));
}

Problem Csv::problem_at(std::size_t offset, const std::string& what) const {
  return bad_input(fmt::format("{}:{}:{}: {}", name_, line_, offset + 1, what));
}

Problem Csv::problem(std::size_t column, const std::string& what) const {
  return problem_at(fields_[static_cast<std::size_t>(slots_[column].field)].at, what);
}

Problem Csv::line_problem(const std::string& what) const {
  return problem_at(0, what);
}

}  // namespace strandproof::host::gauge
