#include "host-tool/bed/quantity.hpp"

#include <fmt/core.h>

#include <charconv>
#include <cmath>

#include "host-tool/base/text.hpp"

namespace strandproof::host::bed {
namespace {

constexpr double inch = 0.0254;
constexpr double lbf = 4.4482216152605;
constexpr double psi = 6894.757293168;

struct Unit {
  Kind kind;
  std::string_view name;
  double si;
};

constexpr Unit units[] = {
    {Kind::force, "N", 1.0},
    {Kind::force, "kN", 1e3},
    {Kind::force, "lbf", lbf},
    {Kind::force, "kip", 1e3 * lbf},
    {Kind::length, "mm", 1e-3},
    {Kind::length, "m", 1.0},
    {Kind::length, "in", inch},
    {Kind::length, "ft", 12 * inch},
    {Kind::area, "mm2", 1e-6},
    {Kind::area, "cm2", 1e-4},
    {Kind::area, "in2", inch* inch},
    {Kind::modulus, "MPa", 1e6},
    {Kind::modulus, "GPa", 1e9},
    {Kind::modulus, "psi", psi},
    {Kind::modulus, "ksi", 1e3 * psi},
    {Kind::stiffness, "N/mm", 1e3},
    {Kind::stiffness, "kN/mm", 1e6},
    {Kind::stiffness, "lbf/in", lbf / inch},
    {Kind::stiffness, "kip/in", 1e3 * lbf / inch},
    {Kind::temperature_difference, "K", 1.0},
    {Kind::temperature_difference, "degF", 5.0 / 9.0},
    {Kind::ratio, "%", 0.01},
};

std::string fitting(Kind kind) {
  std::string list;
  for (const auto& u : units) {
    if (u.kind == kind) list += (list.empty() ? "" : ", ") + std::string{u.name};
  }
  return list;
}

}  // namespace

Reading read_quantity(std::string_view text, Kind kind) {
  double value = 0.0;
  const char* end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc{} || !std::isfinite(value)) {
    return {false, 0.0,
            fmt::format("'{}' does not start with a number; write for instance \"12.5 {}\"", shown(text),
                        fitting(kind).substr(0, fitting(kind).find(',')))};
  }
  std::string_view unit{stop, static_cast<std::size_t>(end - stop)};
  if (unit.starts_with(',')) {
    return {false, 0.0,
            fmt::format("'{}' has a comma in its number; write a point for decimals", shown(text))};
  }
  if (!unit.empty() && unit.front() == ' ') unit.remove_prefix(1);
  for (const auto& u : units) {
    if (u.kind == kind && u.name == unit) return {true, value * u.si, {}, std::string{u.name}, u.si};
  }
  const std::string what = unit.empty() ? "has no unit" : fmt::format("has the unit '{}'", shown(unit));
  return {false, 0.0, fmt::format("'{}' {}; use one of {}", shown(text), what, fitting(kind))};
}

}  // namespace strandproof::host::bed
