// Relative errors of a force-indicating system and its class, after ISO 7500-1 (definitions from memory of
// ISO 7500-1:2018: check the standard before quoting them), and lower limits in the manner of ASTM E74.
// The limits of the classes are data, never constants of this program: class_limits.hpp.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "host-tool/gauge/class_limits.hpp"

namespace strandproof::host::gauge {

// One force level: the force that the table indicates, the reference forces that were read going up in the
// order of the series, and the one going down at the same indication, of the last series.
struct Level {
  double indicated_n;
  std::span<const double> reference_n;
  std::optional<double> decreasing_n = std::nullopt;
  double resolution_n = 0.0;  // r: the smallest step of force that is shown
};

struct LevelErrors {
  double accuracy_percent;                      // q of the mean reference: 100 (indicated - mean) / mean
  double repeatability_percent;                 // b: largest less smallest q of the single readings
  std::optional<double> reversibility_percent;  // v: 100 (down - up) / up, of the last series
  double resolution_percent;                    // a: 100 r / indicated
};

// What one level contributed, for the report.
struct LevelLine {
  double set_point_n;
  LevelErrors errors;
};

// The worst level decides. tenths: 5, 10, 20, 30 for class 0.5, 1, 2, 3; 0: not stated, and not_stated says
// why.
struct IsoClass {
  int tenths;
  LevelErrors worst;       // each by itself, of both channels; reversibility is reported, it does not decide
  double zero_percent;     // f0, of both channels
  std::string edition;     // of the limits, with who checked them and when
  std::string not_stated;  // "" if the class is stated
  std::array<std::vector<LevelLine>, 2> levels;  // channels A and B
};

LevelErrors level_errors(const Level& level);

// f0: 100 x residual indicated force after unloading / largest force of the range.
double zero_percent(double residual_n, double range_n);

// The best class whose limits q, b, f0 and a keep; 0 if none. Limits are inclusive.
int class_tenths(const LevelErrors& errors, double zero_percent, const ClassLimits& limits);

// In the manner of ASTM E74 (from memory): lower limit factor LLF = 2.4 s, s the residual standard deviation
// in force; the lower limit of class A is 400 LLF (0.25 %), of class AA 2000 LLF (0.05 %).
struct LowerLimit {
  double factor_n;  // LLF
  double class_a_n, class_aa_n;
};
LowerLimit lower_limit(double residual_sd_n);

}  // namespace strandproof::host::gauge
