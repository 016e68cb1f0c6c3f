// The whole firmware on the desktop as a Brain: app, simulated flash, simulated serial line.
#pragma once

#include <array>
#include <memory>
#include <string>

#include "firmware/port/device.hpp"
#include "sim/board/brain.hpp"

namespace strandproof::sim {

class SimFlash;

// What a row of the interlock table saw in the last tick.
struct RowLook {
  std::uint8_t cause = 0;
  std::int64_t value = 0, limit = 0;  // proto/peer/measured.hpp; a row that only says yes or no has neither
  bool lowest = false;                // the limit is a lowest value
  bool judged = false;                // it was looked at
  bool active = false;
};

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
  [[nodiscard]] bool link_speaks() const override;
  std::vector<std::uint8_t> flash_image() override;

  // Takes the supply away and gives it back: the firmware boots again from the same flash.
  void power_cycle() override;
  [[nodiscard]] std::array<std::string, 4> display() const override;
  [[nodiscard]] const SimFlash& flash() const;
  void watch_rows();  // else rows() tells of the tick of the last trip alone
  // In the order of the table: the first active one is the first cause.
  void rows(std::vector<RowLook>& into) const;

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

}  // namespace strandproof::sim
