// The commands of `strandproof`: their options as plain values, and one function each. Each prints its own
// result and throws Problem for everything else. main.cpp is the only file that sees the command-line
// library.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::cli {

struct Common {
  std::string archive;  // file
  std::string keys;     // folder
  std::string port;     // serial device, or tcp://127.0.0.1:PORT; empty: the only jack that is found
  bool json = false;
};

struct GaugeFit {
  std::string runs;
  std::string output;
  std::optional<int> degree;
  int points = 12;
  int valid_days = 182;
  std::uint32_t reference_ppm = 1000;
  std::uint32_t other_ppm = 0;
};
Exit gauge_fit(const Common& common, const GaugeFit& options);

}  // namespace strandproof::host::cli
