// A 4 to 20 mA signal with the levels of NAMUR NE 43: measuring between 3.8 and 20.5 mA, failure at
// 3.6 mA and less or 21.0 mA and more; what lies between is saturation and not valid either.
// A single bad sample is bridged with the last good one; three bad ones of the last four are a fault.
#pragma once

#include <bit>
#include <cstdint>

namespace strandproof::control {

class LoopSignal {
 public:
  // Counts of 24 mA / 65535. Rounded inward, so that a level exactly on a limit is judged as NE 43 has it.
  static constexpr std::uint16_t failure_low = 9830;      // <= 3.6 mA
  static constexpr std::uint16_t measuring_low = 10377;   // >= 3.8 mA
  static constexpr std::uint16_t measuring_high = 55977;  // <= 20.5 mA
  static constexpr std::uint16_t failure_high = 57344;    // >= 21.0 mA
  static constexpr float zero_counts = 4.0F * 65535.0F / 24.0F;
  static constexpr float span_counts = 16.0F * 65535.0F / 24.0F;

  // Takes this tick's sample.
  constexpr void sample(std::uint16_t counts) {
    const bool good = counts >= measuring_low && counts <= measuring_high;
    if (good && history_ == 0) {  // as nearly always: nothing bad to count or to forget
      counts_ = counts;
      return;
    }
    history_ = static_cast<std::uint8_t>(((std::uint32_t{history_} << 1U) | (good ? 0U : 1U)) & 0xFU);
    if (good) {
      counts_ = counts;
      age_ = 0;
    } else if (age_ < UINT16_MAX) {
      ++age_;
    }
    failed_ = ((three_of_four >> history_) & 1U) != 0;
  }

  [[nodiscard]] constexpr std::uint16_t counts() const { return counts_; }  // last good sample
  [[nodiscard]] constexpr std::uint16_t age() const { return age_; }        // ticks since then
  [[nodiscard]] constexpr bool failed() const { return failed_; }
  [[nodiscard]] constexpr bool seen() const { return counts_ != 0; }

 private:
  // Bit n: at least three of the four bits of n are set. Looked up, for the processors have no instruction
  // that counts bits.
  static constexpr std::uint16_t three_of_four = [] {
    unsigned patterns = 0;
    for (unsigned n = 0; n < 16; ++n) {
      patterns |= std::popcount(n) >= 3 ? 1U << n : 0U;
    }
    return static_cast<std::uint16_t>(patterns);
  }();

  std::uint16_t counts_ = 0;
  std::uint16_t age_ = UINT16_MAX;
  std::uint8_t history_ = 0xF;  // the last four, 1 is bad: nothing is good before it was seen
  bool failed_ = true;
};

}  // namespace strandproof::control
