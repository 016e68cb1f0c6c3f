// The limits of the classes as a JSON file: a person compares it with the standard and signs it with role and
// date. Without that no class is stated.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace strandproof::host::gauge {

// Percent, each the largest absolute value that is allowed.
struct ClassRow {
  int tenths;
  double accuracy, repeatability, reversibility, zero, resolution;
};

struct ClassLimits {
  std::string edition;         // standard, year and table
  std::string checked_by;      // role of the person who compared the file with the standard
  std::string date;            // of that, YYYY-MM-DD
  std::vector<ClassRow> rows;  // best class first
  std::string incomplete;      // "" or what is missing, as one line with file and remedy
};

// Format in host-tool/README.md. Throws Problem (fault) naming file and field if it is no such file or its
// rows are not four positive numbers that grow from class to class. An empty edition, checked_by or date is
// no error: the limits are then incomplete.
ClassLimits read_class_limits(std::string_view text, const std::string& name);

// host-tool/gauge/iso7500_limits.json as it was built in.
std::string_view shipped_class_limits();

}  // namespace strandproof::host::gauge
