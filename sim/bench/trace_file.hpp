// The file behind a trace: one row a tick, in one of three formats.
//   .csv  first column seconds from the start, strictly rising; the unit in each column's name; '.' decimals;
//   no
//         lines above the header. Beside it FILE.json says what each column is.
//   .vcd  value change dump of IEEE 1364-2005, clause 18: for a viewer of waveforms. Bits have their own
//   names. .mat  level 5 MAT-file, uncompressed: each column is a variable; state_names holds the names of
//   the states.
#pragma once

#include <cstdint>
#include <cstdio>
#include <memory>
#include <string>
#include <string_view>

#include "sim/bench/bench.hpp"

namespace strandproof::sim {

// What of the run stands beside the rows.
struct TraceNote {
  std::string scenario;
  std::uint64_t seed = 0;
};

// A file that remembers whether everything was written.
class OutFile {
 public:
  // Throws std::runtime_error if it can not be made.
  explicit OutFile(const std::string& path);
  void write(std::string_view bytes);
  // Throws std::runtime_error if not all could be written.
  void close();
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  struct Closer {
    void operator()(std::FILE* file) const { std::fclose(file); }
  };
  std::string path_;
  std::unique_ptr<std::FILE, Closer> file_;
  bool failed_ = false;
};

class TraceFile {
 public:
  virtual ~TraceFile() = default;
  virtual void row(const Moment& moment) = 0;
  // The rest; throws as OutFile::close().
  virtual void close() = 0;
};

// By the ending of its name. Throws std::runtime_error: an unknown ending, or it can not be made.
std::unique_ptr<TraceFile> open_trace(const std::string& path, const TraceNote& note);

// One each.
std::unique_ptr<TraceFile> open_trace_csv(const std::string& path, const TraceNote& note);
std::unique_ptr<TraceFile> open_trace_vcd(const std::string& path, const TraceNote& note);
std::unique_ptr<TraceFile> open_trace_mat(const std::string& path, const TraceNote& note);

}  // namespace strandproof::sim
