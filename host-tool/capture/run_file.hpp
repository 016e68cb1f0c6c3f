// The file of a capture: the CSV of calibration runs (gauge/runs.hpp), written reading by reading. Each is on
// the disk before the next is asked for, so that nothing but the line under way can be lost.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "host-tool/base/files.hpp"
#include "host-tool/capture/capture.hpp"
#include "host-tool/gauge/runs.hpp"

namespace strandproof::host::capture {

// What stands in every line, and may not change within a file.
struct Declared {
  std::uint32_t jack_serial = 0;
  std::array<std::uint32_t, 2> sensor_serial{};
  gauge::Origin origin = gauge::Origin::simulated;
  gauge::ReferenceCell cell{};
  std::optional<double> ambient_c;  // may change when a capture goes on
};

class RunFile {
 public:
  // Makes the file, or opens one to go on with it: then a torn last line is cut off, and jack, sensors,
  // origin and cell must be those of the file. Throws Problem (fault) with file and line; a file that is no
  // capture of these columns, or of other parts, stays as it is.
  RunFile(const std::string& path, Declared declared);

  [[nodiscard]] const std::vector<Reading>& readings() const { return readings_; }  // that were there
  [[nodiscard]] std::int64_t first_taken_s() const { return first_taken_s_; }       // UTC; 0: no reading yet
  [[nodiscard]] const std::string& dropped() const { return dropped_; }  // the torn line; "" for none
  // The first reading after an interruption within its series is marked (column resumed).
  // Throws Problem (fault): not written; the file is as before.
  void append(const Reading& reading, std::int64_t taken_s);

 private:
  void cut_torn_line(std::string& text);
  void take_over(const std::string& text);

  AppendFile file_;
  Declared declared_;
  std::vector<Reading> readings_;
  std::string dropped_;
  std::int64_t first_taken_s_ = 0;
  int series_left_ = 0;  // the last one on file when it was opened, until the first reading after that
};

}  // namespace strandproof::host::capture
