// Calibration runs of a jack against a reference cell, as one CSV file, and their reader.
//
// The columns are in host-tool/README.md, "Calibration runs". The reader takes a text, not a path: it opens
// nothing. What is read is what stands there: zeros are readings, never subtracted (no tare).
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "host-tool/gauge/csv.hpp"

namespace strandproof::host::gauge {

enum class Direction { up, down, zero };

// Numbers of the wire (proto/SPEC.md, Identity.origin).
enum class Origin : std::uint32_t { simulated = 1, emulated = 2, hardware = 3 };

struct RunRow {
  int run;  // series, from 1
  Direction direction;
  int set_point_n;                      // names the repeats of one point; not a measurement
  std::array<double, 2> pressure_mbar;  // channels A and B
  double reference_n;                   // reference cell
  int stroke_um;
  double oil_c;
  double ambient_c;  // of the column ambient_c; without it the oil's
  std::int64_t taken_s;
  bool resumed;  // of the column resumed: the capture was interrupted before it, within its series
  int line;      // in the file, for messages
};

// The force-proving instrument, as its certificate declares it. Class after ISO 376 in tenths (00 is 0).
struct ReferenceCell {
  std::string serial;
  int class_tenths;  // 0, 5, 10, 20
  double from_n, to_n;
  std::int64_t due_s;
  std::optional<std::uint32_t> expanded_ppm;  // k = 2, if the file says it
  friend bool operator==(const ReferenceCell&, const ReferenceCell&) = default;
};

struct Runs {
  std::string name;  // of the file, for messages
  std::vector<RunRow> rows;
  std::uint32_t jack_serial;
  std::array<std::uint32_t, 2> sensor_serial;  // channels A and B
  Origin origin;
  std::int64_t last_taken_s;          // the latest taken_at, seconds since 1970 UTC
  std::optional<ReferenceCell> cell;  // nothing: the file declares none
  bool ambient_declared;
};

// Throws Problem (fault): file:line:column, what is wrong there and the remedy. Refuses a byte-order mark,
// missing, doubled or unknown columns, a field that is not a finite number with the declared decimal sign,
// serials, origins or cells that change within the file, and pressures or forces that do not rise (up) or
// fall (down) within one series.
Runs read_runs(std::string_view text, const std::string& name, const CsvOptions& options = {});

}  // namespace strandproof::host::gauge
