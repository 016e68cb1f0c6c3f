// A campaign and a jack for tests, and the one line of what is thrown.
#pragma once

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>
#include <string>

#include "sim/campaign/campaign.hpp"
#include "sim/campaign/outcome.hpp"
#include "tests/folder_test.hpp"

namespace strandproof::sim::test {

using strandproof::test::expect_part;
using strandproof::test::FolderTest;

template <class Work>
std::string problem_of(Work work) {
  try {
    work();
  } catch (const std::exception& error) {
    EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos) << error.what();
    return error.what();
  }
  return "no problem";
}

inline std::string text_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

// A jack without plant or firmware: what it leaves depends on the scenario alone. A strand break above 100 kN
// with a slow valve passes a limit; everything else ends within limits.
inline Outcome toy(const Scenario& s) {
  Outcome o;
  o.verdict = 1;
  o.stop_error = (s.valves.delay - 0.02) * (s.seed % 2 == 0 ? 1.0 : -1.0) * 0.1;
  o.settled = true;
  o.peak = 1.0;
  o.duration_s = static_cast<double>(s.seed % 1000) / 10.0;
  for (const fault::Fault& f : s.faults) {
    o.fault = f.row->name;
    o.fault_s = 1.0;
    if (f.row->name == "strand-break" && f.trigger.at > 100e3 && s.valves.delay > 0.03) {
      o.breach = "force";
      o.verdict = 0;
    }
  }
  return o;
}

inline const char* const small = R"(
name = "small"
seed = 7
pulls = 200
[vary]
valves.delay = "uniform 5 ms to 40 ms"
oil.air = "normal 1 % sd 0.2 %"
strand.length = "one of 20 m, 40 m"
[[fault]]
kind = ["strand-break", "pump-dead"]
share = "50 %"
at = "uniform 20 kN to 120 kN"
[[operator]]
share = "25 %"
lines = ["pull", "lower-to-no-load"]
)";

}  // namespace strandproof::sim::test
