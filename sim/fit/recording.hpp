// A bench trace as a fit sees it: what was energised in each millisecond and what the sensors read after it.
// Nothing of the plant's truth, also where the trace has it.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/scenario.hpp"

namespace strandproof::sim {

// In SI units. A channel that was not recorded is empty.
struct Recording {
  static constexpr std::size_t channels = 4;
  enum Channel : std::size_t { pressure_a, pressure_b, stroke, cell };

  std::vector<port::OutputBits> driven;  // one a millisecond
  std::array<std::vector<double>, channels> read;
  bool simulated = false;  // the file has a column of truth, which no real bench has
};

std::string_view channel_text(std::size_t channel);

// A CSV with a row a millisecond and these columns by name, in any order, others are not looked at:
//   time_s, driven_bits (bit 0 motor, 1 fast stage, 2 advance, 3 lower, 4 seat, 5 shut-off valve),
//   pressure_a_counts or pressure_a_mbar, the same of b, stroke_counts or stroke_um, and
//   load_cell_counts or load_cell_n if there was a reference cell.
// Counts are of 24 mA / 65535 over the spans of the scenario. At most `seconds` of it.
// Throws std::runtime_error with file, line, what is wrong and the remedy.
Recording read_recording(const std::string& path, const Scenario& scenario, double seconds);

// The same from a running bench.
class Recorder final : public Observer {
 public:
  explicit Recorder(const Scenario& scenario, bool with_cell) : scenario_{scenario}, with_cell_{with_cell} {}
  void tick(const Moment& moment) override;
  [[nodiscard]] const Recording& recording() const { return recording_; }

 private:
  Scenario scenario_;
  bool with_cell_;
  Recording recording_;
};

}  // namespace strandproof::sim
