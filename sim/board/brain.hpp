// What the plant's side sees of a controller, whichever machine it runs on: one sample in, one answer
// out, and the bytes of its link. The desktop firmware and the lock-stepped Cortex-M4F image are both
// a Brain, so a bench that runs on one runs on the other.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <stdexcept>
#include <string>
#include <vector>

#include "firmware/port/sample.hpp"

namespace strandproof::sim {

struct Answer {
  port::OutputBits outputs = 0;  // as the controller commanded them; the board's lease may drop them
  std::uint8_t state = 0;        // numbers of proto/catalogue.def
  std::uint8_t cause = 0;
  std::uint8_t load_state = 0;
  friend bool operator==(const Answer&, const Answer&) = default;
};

class Brain {
 public:
  virtual ~Brain() = default;
  virtual Answer tick(const port::RawSample& sample) = 0;
  virtual void link_write(std::span<const std::uint8_t> bytes) = 0;  // bytes from the host
  virtual std::vector<std::uint8_t> link_read() = 0;                 // bytes to the host since last asked
  // False where link_read() would bring nothing; asked every tick, it spares an empty vector.
  [[nodiscard]] virtual bool link_speaks() const { return true; }
  virtual std::vector<std::uint8_t> flash_image() = 0;  // the whole non-volatile memory
  // The supply came back: a boot from what the non-volatile memory has kept.
  virtual void power_cycle() { throw std::logic_error("the supply of this controller can not be cut"); }
  // The four lines that a person at the pendant reads; empty where they cannot be had.
  [[nodiscard]] virtual std::array<std::string, 4> display() const { return {}; }
};

}  // namespace strandproof::sim
