// Wall time: an annotation with a quality, and a lower bound on elapsed time that can be trusted.
// The lower bound is the largest trusted time ever recorded plus the powered time since; a clock that was
// lost or set back can only make it too early, never too late (interface.md, Time).
#pragma once

#include <cstdint>

#include "firmware/control/names.hpp"
#include "firmware/units/units.hpp"

namespace strandproof::app {

enum class ClockQuality : std::uint8_t { good = 0, set_by_host = 1, lost = 2, went_back = 3 };

class Clock {
 public:
  // At boot: the largest trusted time on record, 0 if there is none.
  void restart(std::uint64_t trusted_s) {
    trusted_s_ = trusted_s;
    base_ = 0;
    quality_ = ClockQuality::lost;
  }

  // From a paired host. A time before the lower bound is refused: it would make an overdue table fresh. One
  // far beyond it is refused too, for there is no way back: a laptop a decade ahead would end every table for
  // good.
  [[nodiscard]] control::Refusal set(std::uint64_t utc_s, units::Ticks now) {
    if (utc_s < lower_bound(now)) {
      return control::Refusal::clock_back;
    }
    if (trusted_s_ != 0 && utc_s - lower_bound(now) > leap_max_s) {
      return control::Refusal::clock_far;
    }
    trusted_s_ = utc_s;
    base_ = now;
    quality_ = ClockQuality::set_by_host;
    return control::Refusal::none;
  }

  // Seconds since 1970 UTC that have passed at the least; 0: no trusted time was ever recorded.
  [[nodiscard]] std::uint64_t lower_bound(units::Ticks now) const {
    return trusted_s_ == 0 ? 0 : trusted_s_ + (now - base_) / units::ticks_per_second;
  }
  [[nodiscard]] bool known() const {
    return quality_ == ClockQuality::good || quality_ == ClockQuality::set_by_host;
  }
  [[nodiscard]] ClockQuality quality() const { return quality_; }

  // Whether a table may be used: not past its due date even by the lower bound, and some trusted time seen
  // since it was loaded.
  [[nodiscard]] control::Refusal table_gate(std::uint64_t due_s, units::Ticks now) const {
    if (lower_bound(now) > due_s) {
      return control::Refusal::table_overdue;
    }
    return known() ? control::Refusal::none : control::Refusal::clock_not_known;
  }

 private:
  static constexpr std::uint64_t leap_max_s = 366ULL * 86'400;  // longer out of use: one year at a time

  std::uint64_t trusted_s_ = 0;
  units::Ticks base_ = 0;
  ClockQuality quality_ = ClockQuality::lost;
};

}  // namespace strandproof::app
