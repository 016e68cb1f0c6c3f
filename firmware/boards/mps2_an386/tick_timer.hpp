// How long ticks take on the board's own timer: SysTick, 25 MHz, counting down over 24 bits (0.67 s).
// It measures only; no tick waits for it. Under -icount it counts instructions, else the host's time.
#pragma once

#include <cstdint>

namespace strandproof::board {

class TickTimer {
 public:
  static constexpr std::uint32_t counts_per_ms = 25'000;

  void start() {
    at(reload) = mask;
    at(current) = 0;  // any write clears
    at(control) = 5;  // enabled, processor clock, no interrupt
  }

  void begin() { begun_ = at(current); }
  // moving: an output that moves oil is energised, so this tick had to be done in time.
  void end(bool moving) {
    const std::uint32_t taken = (begun_ - at(current)) & mask;
    std::uint32_t& longest = moving ? longest_moving_ : longest_at_rest_;
    longest = taken > longest ? taken : longest;
  }

  [[nodiscard]] std::uint32_t longest_moving() const { return longest_moving_; }    // counts of 40 ns
  [[nodiscard]] std::uint32_t longest_at_rest() const { return longest_at_rest_; }  // counts of 40 ns

 private:
  static constexpr std::uint32_t control = 0xE000E010, reload = 0xE000E014, current = 0xE000E018;
  static constexpr std::uint32_t mask = 0xFFFFFF;
  static volatile std::uint32_t& at(std::uint32_t address) {
    return *reinterpret_cast<volatile std::uint32_t*>(address);
  }

  std::uint32_t begun_ = 0, longest_moving_ = 0, longest_at_rest_ = 0;
};

}  // namespace strandproof::board
