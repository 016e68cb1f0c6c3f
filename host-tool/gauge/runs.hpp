// Calibration runs of a jack against a reference cell, as one CSV file, and their reader.
//
// The file: UTF-8 without byte-order mark, '.' decimals, comma separated, one header line, no quotes, columns
// in any order under the names of README.md. The reader takes a text, not a path: it opens nothing.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace strandproof::host::gauge {

enum class Direction { up, down, zero };

// Numbers of the wire (proto/SPEC.md, Identity.origin).
enum class Origin : std::uint32_t { simulated = 1, emulated = 2, hardware = 3 };

struct RunRow {
  int run;  // from 1
  Direction direction;
  int set_point_n;                      // names the repeats of one point; not a measurement
  std::array<double, 2> pressure_mbar;  // channels A and B
  double reference_n;                   // reference cell
  int stroke_um;
  double oil_c;
  int line;  // in the file, for messages
};

struct Runs {
  std::string name;  // of the file, for messages
  std::vector<RunRow> rows;
  std::uint32_t jack_serial;
  std::array<std::uint32_t, 2> sensor_serial;  // channels A and B
  Origin origin;
  std::int64_t last_taken_s;  // the latest taken_at, seconds since 1970 UTC
};

// Throws Problem (fault): file:line:column, what is wrong there and the remedy. Refuses a byte-order mark,
// missing, doubled or unknown columns, a field that is not a finite number with a '.', serials or origins
// that change within the file, and pressures or forces that do not rise (up) or fall (down) within one run.
Runs read_runs(std::string_view text, const std::string& name);

}  // namespace strandproof::host::gauge
