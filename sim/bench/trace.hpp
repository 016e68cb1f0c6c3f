// The trace of a run: a hash of every tick, and on request a file (trace_file.hpp).
#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "sim/bench/bench.hpp"
#include "sim/bench/fnv.hpp"
#include "sim/bench/trace_file.hpp"

namespace strandproof::sim {

class Trace final : public Observer {
 public:
  Trace() = default;
  // Throws std::runtime_error if the file can not be made.
  Trace(const std::string& path, const TraceNote& note) : file_{open_trace(path, note)} {}

  void tick(const Moment& moment) override;
  // FNV-1a, 64-bit words, over truth, sample, answer and outputs of every tick.
  [[nodiscard]] std::uint64_t hash() const { return hash_; }
  [[nodiscard]] std::uint64_t rows() const { return rows_; }
  // Writes what is left; throws std::runtime_error if not all could be written.
  void close();

 private:
  std::unique_ptr<TraceFile> file_;
  std::uint64_t hash_ = fnv_start;
  std::uint64_t rows_ = 0;
};

}  // namespace strandproof::sim
