// The check sum over the live gauge table: a few bytes every few ticks, all of it well within a second, so
// that a bit that flips in memory is found even where no look-up passes it (H20).
#pragma once

#include <cstdint>
#include <span>
#include <type_traits>

#include "firmware/control/gauge_table.hpp"
#include "firmware/units/units.hpp"
#include "proto/crc32c.hpp"

namespace strandproof::app {

class TableScrub {
 public:
  static constexpr std::size_t bytes_at_once = 32;
  static constexpr unsigned ticks_between = 6;

  // From now on this very object is watched: it has to outlive the scrub and to change only by another
  // start().
  void start(const control::GaugeTable& table) {
    bytes_ = {reinterpret_cast<const std::uint8_t*>(&table), sizeof table};
    wanted_ = proto::crc32c(bytes_);
    at_ = 0;
    sum_ = 0;
    changed_ = false;
  }

  void step() {
    if (++waited_ < ticks_between || bytes_.empty()) {
      return;
    }
    waited_ = 0;
    const std::size_t n = bytes_.size() - at_ < bytes_at_once ? bytes_.size() - at_ : bytes_at_once;
    sum_ = proto::crc32c(bytes_.subspan(at_, n), sum_);
    at_ += n;
    if (at_ == bytes_.size()) {
      changed_ = changed_ || sum_ != wanted_;
      at_ = 0;
      sum_ = 0;
    }
  }

  // Stays true until the next start(): what was wrong once is not trusted again.
  [[nodiscard]] bool changed() const { return changed_; }

 private:
  std::span<const std::uint8_t> bytes_;
  std::uint32_t wanted_ = 0, sum_ = 0;
  std::size_t at_ = 0;
  unsigned waited_ = 0;
  bool changed_ = false;
};

static_assert(std::is_trivially_copyable_v<control::GaugeTable>, "its bytes are its value");
static_assert(2 * sizeof(control::GaugeTable) * TableScrub::ticks_between <=
                  TableScrub::bytes_at_once * units::ticks_per_second,
              "a bit that flips just behind the cursor is found within a second as well");

}  // namespace strandproof::app
