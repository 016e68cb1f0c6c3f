// The trace of a run: a hash of every tick, and on request a CSV file. First column seconds from the
// start, strictly rising; the unit in each column's name; '.' decimals; no lines above the header.
#pragma once

#include <cstdint>
#include <cstdio>
#include <memory>
#include <string>

#include "sim/bench/bench.hpp"
#include "sim/bench/fnv.hpp"

namespace strandproof::sim {

class Trace final : public Observer {
 public:
  Trace() = default;
  // Throws std::runtime_error if the file can not be made.
  explicit Trace(const std::string& path);

  void tick(const Moment& moment) override;
  // FNV-1a, 64-bit words, over truth, sample, answer and outputs of every tick.
  [[nodiscard]] std::uint64_t hash() const { return hash_; }
  [[nodiscard]] std::uint64_t rows() const { return rows_; }
  // Flushes; throws std::runtime_error if not all could be written.
  void close();

 private:
  struct Closer {
    void operator()(std::FILE* file) const { std::fclose(file); }
  };
  void row(const Moment& moment);
  std::string path_;
  std::unique_ptr<std::FILE, Closer> file_;
  std::uint64_t hash_ = fnv_start;
  std::uint64_t rows_ = 0;
  bool failed_ = false;
};

}  // namespace strandproof::sim
