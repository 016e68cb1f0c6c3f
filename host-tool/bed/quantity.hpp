// A dimensioned value as people write it in a plan: a number and a unit ("60 m", "8 in", "195 GPa", "5 %").
// Factors are the exact definitions: 1 in = 25.4 mm, 1 lbf = 4.4482216152605 N, 1 psi = 6894.757293168 Pa.
#pragma once

#include <string>
#include <string_view>

namespace strandproof::host::bed {

enum class Kind { force, length, area, modulus, stiffness, temperature_difference, ratio };

struct Reading {
  bool good;
  double si;              // N, m, m2, Pa, N/m, K, or a plain fraction for ratio
  std::string problem;    // what is wrong and which units fit; empty when good
  std::string unit = {};  // as it was written
  double unit_si = 1.0;   // what one of it is in SI
};

// '.' decimals, one blank or none before the unit, finite. A bare number and a bare "ton" are problems.
Reading read_quantity(std::string_view text, Kind kind);

}  // namespace strandproof::host::bed
