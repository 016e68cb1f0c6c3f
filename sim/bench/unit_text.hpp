// Values with their unit, as people write them in a scenario: "700 bar", "60 m", "130 kN", "8 in".
// Parsed without the locale; the result is in the SI base unit of the dimension.
#pragma once

#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>

namespace strandproof::sim {

enum class Dimension : std::uint8_t {
  pressure,
  force,
  length,
  area,
  volume,
  flow,
  stiffness,
  time,
  temperature,
  ratio,
  mass,
  speed,
};

// What is wrong and the remedy, in one line without the place; the reader of the file adds that.
class UnitError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

// "12.5 MPa" -> 12.5e6 for Dimension::pressure. Throws UnitError: no number, decimal comma, no unit,
// a unit of another dimension or an unknown one (the units that fit are listed), not finite.
double parse_quantity(std::string_view text, Dimension dimension);

// A bare number, '.' decimals, whole text. Throws UnitError.
double parse_number(std::string_view text);

// Units that fit, for messages and help: "bar, MPa, kPa, Pa, psi".
std::string units_of(Dimension dimension);
std::string_view name_of(Dimension dimension);

}  // namespace strandproof::sim
