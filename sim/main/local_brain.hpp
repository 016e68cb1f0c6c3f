// The whole firmware on the desktop as a Brain: app, simulated flash, simulated serial line.
#pragma once

#include <array>
#include <memory>
#include <string>

#include "firmware/port/device.hpp"
#include "sim/board/brain.hpp"

namespace strandproof::sim {

class SimFlash;

class LocalBrain final : public Brain {
 public:
  // flash_file: empty for a clean memory that is forgotten, else kept there (see SimFlash::keep_in, throws).
  explicit LocalBrain(const port::Device& device, const std::string& flash_file = {});
  ~LocalBrain() override;
  LocalBrain(const LocalBrain&) = delete;
  LocalBrain& operator=(const LocalBrain&) = delete;

  Answer tick(const port::RawSample& sample) override;
  void link_write(std::span<const std::uint8_t> bytes) override;
  std::vector<std::uint8_t> link_read() override;
  std::vector<std::uint8_t> flash_image() override;

  // Takes the supply away and gives it back: the firmware boots again from the same flash.
  void power_cycle();
  [[nodiscard]] std::array<std::string, 4> display() const override;
  [[nodiscard]] const SimFlash& flash() const;

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

}  // namespace strandproof::sim
