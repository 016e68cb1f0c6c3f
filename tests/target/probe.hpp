// A stand-in for the firmware's app that works every part of the board: float arithmetic, flash, the
// link and, on request, the faults that the board must report. Compiled for both machines; the desktop's
// answers are the reference for the target's.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/port/device.hpp"
#include "firmware/port/flash.hpp"
#include "firmware/port/sample.hpp"
#include "firmware/port/serial.hpp"

namespace strandproof::probe {

// Requests, as counts of the load cell's input.
enum class Request : std::uint16_t {
  none = 0,
  overflow_stack = 1,
  write_null = 2,
  run_data = 3,
  write_flash_directly = 4,
  divide_by_zero = 5,
  hang = 6,
};

struct ProbeAnswer {
  std::uint8_t outputs = 0;
  std::uint8_t state = 0;
  std::uint8_t cause = 0;
  std::uint8_t load_state = 0;
};

class Probe {
 public:
  Probe(const port::Device& device, port::Flash& flash, port::Serial& serial)
      : device_{device}, flash_{flash}, serial_{serial} {}

  void start() {}
  // The answer's four bytes are a hash over every float computed so far.
  ProbeAnswer tick(const port::RawSample& sample);

 private:
  void compute(const port::RawSample& sample);
  void hash(float value);
  void use_flash(std::uint32_t tick);
  void echo();

  const port::Device& device_;
  port::Flash& flash_;
  port::Serial& serial_;
  std::uint32_t hash_ = 2166136261U;  // FNV-1a, 32 bits
  float filtered_ = 0.0F;
  float fit_x_ = 0.0F, fit_xx_ = 0.0F, fit_xy_ = 0.0F, fit_y_ = 0.0F;
};

// What the board does for the requests; the desktop has no need of it.
void obey(Request request);

}  // namespace strandproof::probe
