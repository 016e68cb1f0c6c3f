// The controller by itself, with every float that it shows taken into a hash each tick. A whole pull
// compares only what leaves the firmware, and that is rounded: last bits inside it are seen here.
#pragma once

#include <array>
#include <cstdint>
#include <type_traits>

#include "firmware/control/controller.hpp"
#include "firmware/port/device.hpp"
#include "firmware/port/flash.hpp"
#include "firmware/port/sample.hpp"
#include "firmware/port/serial.hpp"

namespace strandproof::probe {

struct ControlAnswer {
  std::uint8_t outputs = 0, state = 0, cause = 0, load_state = 0;
};

// What the probe pulls by, sent to it over the link before its first tick. Both machines lay it out alike.
struct ControlSetting {
  static constexpr unsigned points = 6;
  struct Points {
    std::array<std::uint32_t, points> pressure_mbar{}, force_n{};
  };
  Points a_increasing, a_decreasing, b_increasing, b_decreasing;
  control::PullInstruction instruction;
};
static_assert(std::is_trivially_copyable_v<ControlSetting> && sizeof(ControlSetting) == 4 * 48 + 120);

class ControlProbe {
 public:
  ControlProbe(const port::Device& device, port::Flash&, port::Serial& serial);
  void start();
  // state is the controller's; the other three bytes are a hash over every float so far.
  ControlAnswer tick(const port::RawSample& sample);

 private:
  void hash(float value);
  void hash_channel(const control::Channel& c);
  void hash_all();

  void take_setting();

  const port::Device& device_;
  port::Serial& serial_;
  control::Controller controller_;
  units::Ticks now_ = 0;
  std::uint32_t hash_ = 2166136261U;  // FNV-1a, 32 bits
};

}  // namespace strandproof::probe
