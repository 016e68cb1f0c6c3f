// Why each row of the interlock table acted or did not in one pull: how near its value came to its limit,
// when and in which state, and what kept it from acting if its condition was met.
#pragma once

#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/main/local_brain.hpp"

namespace strandproof::sim {

struct Instant {
  double time_s = -1.0;  // from the start of the pull; negative: never
  std::uint8_t state = 0;
  std::uint8_t cause = 0;  // that the controller showed
};

struct WhyRow {
  std::uint8_t cause = 0;
  bool looked = false;   // in some tick
  bool limited = false;  // it has a value and a limit
  bool lowest = false;
  double left =
      std::numeric_limits<double>::infinity();  // of the limit, where it came nearest; below zero: beyond
  std::int64_t value = 0, limit = 0;            // there, in the row's unit
  Instant nearest;
  Instant met;    // its condition was true for the first time
  Instant acted;  // it was the cause that the controller showed for the first time
};

class Why final : public Observer {
 public:
  // The brain outlives this, or tick() is no longer called.
  void follow(LocalBrain& brain) {
    brain.watch_rows();
    brain_ = &brain;
  }
  void tick(const Moment& moment) override;
  [[nodiscard]] const std::vector<WhyRow>& rows() const { return rows_; }

 private:
  const LocalBrain* brain_ = nullptr;
  std::vector<RowLook> looks_;
  std::vector<WhyRow> rows_;
  std::uint8_t state_ = 0;  // shown in the tick before
};

// In one line each: the row, the value that came nearest to its limit, and why it did or did not act.
std::string why_text(const std::vector<WhyRow>& rows);
std::string why_json(const std::vector<WhyRow>& rows);

}  // namespace strandproof::sim
