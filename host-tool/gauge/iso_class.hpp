// Relative errors of a force-indicating system and its class, after ISO 7500-1 (definitions and limits from
// memory of ISO 7500-1:2018, table 2: check the standard before quoting them).
#pragma once

#include <span>

namespace strandproof::host::gauge {

// One force level: the force that the table indicates, the reference forces that were read going up.
struct Level {
  double indicated_n;
  std::span<const double> reference_n;
};

struct LevelErrors {
  double accuracy_percent;       // q of the mean reference: 100 (indicated - mean) / mean
  double repeatability_percent;  // b: largest less smallest q of the single readings
};

// The worst level decides. tenths: 5, 10, 20, 30 for class 0.5, 1, 2, 3; 0: none of them, or fewer than three
// runs.
struct IsoClass {
  int tenths;
  LevelErrors worst;  // each by itself
};

LevelErrors level_errors(const Level& level);

// The best class whose limits both errors keep: 0.5, 1, 2 or 3 % for each; 0 if none.
int class_tenths(const LevelErrors& errors);

}  // namespace strandproof::host::gauge
