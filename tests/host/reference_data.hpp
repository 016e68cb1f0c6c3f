// Reference data sets as readings: files of tests/reference, and those that have a formula.
#pragma once

#include <array>
#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "host-tool/gauge/plain.hpp"

namespace strandproof::host::test {

inline std::string reference_text(const std::string& name) {
  std::ifstream file{std::string{STRANDPROOF_TESTS_DIR "/reference/"} + name};
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

inline std::vector<gauge::Observation> reference_data(const std::string& name) {
  return gauge::read_plain(reference_text(name), name, {}).readings;
}

// Two readings at each load, deflection over load; the file's columns are run, load and deflection.
inline std::vector<gauge::Observation> pontius() {
  std::istringstream file{reference_text("nist-pontius.csv")};
  std::string line;
  std::getline(file, line);
  std::vector<gauge::Observation> out;
  while (std::getline(file, line)) {
    const auto first = line.find(',');
    const auto second = line.find(',', first + 1);
    const double load = std::stod(line.substr(first + 1, second - first - 1));
    out.push_back({load, std::stod(line.substr(second + 1)), static_cast<int>(load)});
  }
  return out;
}

// NIST StRD Wampler: x = 0 to 20, a polynomial of degree 5, and for Wampler3 to 5 a disturbance of m times d.
inline std::vector<gauge::Observation> wampler(const std::array<double, 6>& b, double m = 0.0) {
  constexpr std::array d{759,   -2048, 2048,  -2048, 2523,  -2048, 2048,  -2048, 1838,  -2048, 2048,
                         -2048, 1838,  -2048, 2048,  -2048, 2523,  -2048, 2048,  -2048, 759};
  std::vector<gauge::Observation> out;
  for (int x = 0; x <= 20; ++x) {
    double y = 0.0;
    for (auto c = b.rbegin(); c != b.rend(); ++c) y = y * x + *c;
    out.push_back({static_cast<double>(x), y + m * d[static_cast<std::size_t>(x)], x});
  }
  return out;
}

}  // namespace strandproof::host::test
