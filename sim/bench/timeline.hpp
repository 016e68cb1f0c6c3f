// What a person would note down of a pull: each state with its time, the first cause, the peak, and
// the truth at the end of the settle.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/names.hpp"

namespace strandproof::sim {

struct Visit {
  std::uint8_t state = 0;
  double from_s = 0.0;
  double force_n = 0.0;   // true, on entering
  double stroke_m = 0.0;  // true, on entering
  std::uint8_t cause = 0;
};

// The truth at one moment that is judged.
struct Snapshot {
  bool taken = false;
  double time_s = 0.0, force_n = 0.0, pressure_pa = 0.0, stroke_m = 0.0;
};

class Timeline final : public Observer {
 public:
  void tick(const Moment& m) override;
  [[nodiscard]] const std::vector<Visit>& visits() const { return visits_; }
  [[nodiscard]] const Snapshot& datum() const { return datum_; }           // flow stopped, end of the datum
  [[nodiscard]] const Snapshot& last_moving() const { return moving_; }    // the tick that stopped the pull
  [[nodiscard]] const Snapshot& end_of_settle() const { return settle_; }  // 2 s after the stop
  [[nodiscard]] std::uint8_t first_cause() const { return first_cause_; }
  [[nodiscard]] double first_cause_s() const { return first_cause_s_; }
  [[nodiscard]] double peak_n() const { return peak_n_; }

 private:
  // Kept out of tick(): inlined they have every tick save its registers.
  [[gnu::noinline]] void enter(const Moment& m);
  [[gnu::noinline]] void end_settle(const Moment& m);

  std::vector<Visit> visits_;
  Snapshot datum_, moving_, settle_;
  std::uint8_t state_ = 0xFF, first_cause_ = 0;
  double first_cause_s_ = 0.0, peak_n_ = 0.0;
};

}  // namespace strandproof::sim
