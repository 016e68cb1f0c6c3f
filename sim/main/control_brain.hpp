// The controller alone as a Brain: no link, no records, no flash. For studies that need many pulls and
// put instruction and table in directly; what flies is LocalBrain with the whole firmware.
#pragma once

#include "firmware/control/controller.hpp"
#include "sim/bench/plan.hpp"
#include "sim/bench/rig.hpp"
#include "sim/bench/scenario.hpp"
#include "sim/board/brain.hpp"

namespace strandproof::sim {

class ControlBrain final : public Brain {
 public:
  explicit ControlBrain(const Scenario& scenario);

  Answer tick(const port::RawSample& sample) override;
  void link_write(std::span<const std::uint8_t>) override {}
  std::vector<std::uint8_t> link_read() override { return {}; }
  std::vector<std::uint8_t> flash_image() override { return {}; }

  // Refusal codes of the catalogue; 0 is done.
  [[nodiscard]] std::uint8_t install(const PlainTable& table);
  [[nodiscard]] std::uint8_t load(const PlannedPull& plan);
  // Of the last pull that ended, by the controller's own books.
  [[nodiscard]] std::uint8_t verdict() const { return verdict_; }
  [[nodiscard]] const control::Controller& controller() const { return controller_; }

 private:
  Scenario scenario_;
  control::Controller controller_;
  units::Ticks now_ = 0;
  std::uint8_t verdict_ = 0;
};

// What the jack of this scenario is to the controller.
control::Jack jack_of(const Scenario& scenario);

}  // namespace strandproof::sim
