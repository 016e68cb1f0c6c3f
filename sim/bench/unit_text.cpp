#include "sim/bench/unit_text.hpp"

#include <array>
#include <charconv>
#include <cmath>

namespace strandproof::sim {
namespace {

struct Unit {
  Dimension dimension;
  std::string_view text;
  double si;  // SI base units in one of it
};

// Exact by definition where the factor is not a power of ten: 1 in = 25.4 mm,
// 1 lbf = 4.4482216152605 N, 1 psi = 6894.757293168 Pa (trade.md section 9, row 41). No bare "ton".
constexpr std::array units{
    Unit{Dimension::pressure, "bar", 1e5},
    Unit{Dimension::pressure, "MPa", 1e6},
    Unit{Dimension::pressure, "GPa", 1e9},
    Unit{Dimension::pressure, "kPa", 1e3},
    Unit{Dimension::pressure, "Pa", 1.0},
    Unit{Dimension::pressure, "psi", 6894.757293168},
    Unit{Dimension::force, "kN", 1e3},
    Unit{Dimension::force, "N", 1.0},
    Unit{Dimension::force, "MN", 1e6},
    Unit{Dimension::force, "lbf", 4.4482216152605},
    Unit{Dimension::force, "kip", 4448.2216152605},
    Unit{Dimension::length, "m", 1.0},
    Unit{Dimension::length, "mm", 1e-3},
    Unit{Dimension::length, "cm", 1e-2},
    Unit{Dimension::length, "um", 1e-6},
    Unit{Dimension::length, "in", 0.0254},
    Unit{Dimension::length, "ft", 0.3048},
    Unit{Dimension::area, "mm2", 1e-6},
    Unit{Dimension::area, "cm2", 1e-4},
    Unit{Dimension::area, "m2", 1.0},
    Unit{Dimension::area, "in2", 0.0254 * 0.0254},
    Unit{Dimension::volume, "L", 1e-3},
    Unit{Dimension::volume, "mL", 1e-6},
    Unit{Dimension::volume, "m3", 1.0},
    Unit{Dimension::flow, "L/min", 1e-3 / 60.0},
    Unit{Dimension::flow, "mL/min", 1e-6 / 60.0},
    Unit{Dimension::flow, "m3/s", 1.0},
    Unit{Dimension::stiffness, "N/mm", 1e3},
    Unit{Dimension::stiffness, "kN/mm", 1e6},
    Unit{Dimension::stiffness, "kN/m", 1e3},
    Unit{Dimension::stiffness, "N/m", 1.0},
    Unit{Dimension::stiffness, "lbf/in", 4.4482216152605 / 0.0254},
    Unit{Dimension::time, "s", 1.0},
    Unit{Dimension::time, "ms", 1e-3},
    Unit{Dimension::time, "min", 60.0},
    Unit{Dimension::time, "h", 3600.0},
    Unit{Dimension::temperature, "degC", 1.0},
    Unit{Dimension::ratio, "%", 1e-2},
    Unit{Dimension::ratio, "ppm", 1e-6},
    Unit{Dimension::mass, "kg", 1.0},
    Unit{Dimension::mass, "g", 1e-3},
    Unit{Dimension::mass, "lb", 0.45359237},
    Unit{Dimension::speed, "mm/s", 1e-3},
    Unit{Dimension::speed, "m/s", 1.0},
};

constexpr std::array<std::string_view, 12> dimension_names{
    "a pressure",  "a force", "a length",      "an area", "a volume", "a flow",
    "a stiffness", "a time",  "a temperature", "a ratio", "a mass",   "a speed"};

std::string quoted(std::string_view text) {
  return '"' + std::string(text) + '"';
}

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) {
    return {};
  }
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

// Reads the leading number; returns what follows it.
std::string_view take_number(std::string_view text, double& value) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{}) {
    throw UnitError(quoted(text) + " does not begin with a number; write for example 12.5 with its unit");
  }
  const std::string_view rest = text.substr(static_cast<std::size_t>(end - text.data()));
  if (!rest.empty() && rest.front() == ',') {
    throw UnitError(quoted(text) + " has a decimal comma; write '.' for the decimals");
  }
  if (!std::isfinite(value)) {
    throw UnitError(quoted(text) + " is not a finite number; write one");
  }
  return rest;
}

}  // namespace

std::string_view name_of(Dimension dimension) {
  return dimension_names[static_cast<std::size_t>(dimension)];
}

std::string units_of(Dimension dimension) {
  std::string list;
  for (const Unit& unit : units) {
    if (unit.dimension == dimension) {
      list += (list.empty() ? "" : ", ") + std::string(unit.text);
    }
  }
  return list;
}

double parse_number(std::string_view text) {
  double value = 0.0;
  const std::string_view rest = take_number(trimmed(text), value);
  if (!rest.empty()) {
    throw UnitError(quoted(text) + " is not a number; this key has no unit");
  }
  return value;
}

double parse_quantity(std::string_view text, Dimension dimension) {
  double value = 0.0;
  const std::string_view unit = trimmed(take_number(trimmed(text), value));
  const std::string fits = std::string(name_of(dimension)) + ": write it in " + units_of(dimension);
  if (unit.empty()) {
    throw UnitError(quoted(text) + " has no unit; it is " + fits);
  }
  for (const Unit& known : units) {
    if (known.dimension == dimension && known.text == unit) {
      return value * known.si;
    }
  }
  for (const Unit& known : units) {
    if (known.text == unit) {
      throw UnitError(quoted(text) + " is " + std::string(name_of(known.dimension)) + ", wanted is " + fits);
    }
  }
  throw UnitError(quoted(text) + " has an unknown unit; wanted is " + fits);
}

}  // namespace strandproof::sim
