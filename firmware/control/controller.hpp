// The controller: one call a tick, measurements in, commands out. The shell computes predicates from the
// floats, the core decides, the books are kept. Calls no port and reads no clock.
#pragma once

#include "firmware/control/arming.hpp"
#include "firmware/control/core.hpp"
#include "firmware/control/detectors.hpp"
#include "firmware/control/pull.hpp"

namespace strandproof::control {

// What a tick was worth recording for.
struct TickReport {
  CoreStep step;
  Finding finding;          // of the cause, when step.event is a trip
  Cause was = Cause::none;  // cause before this tick, for the record of a reset
  bool pull_ended = false;
};

class Controller {
 public:
  Controller(const Jack& jack, const Settings& settings);
  Controller(const Controller&) = delete;
  Controller& operator=(const Controller&) = delete;

  // After a restart: the last recorded load state. Anything but no_load comes back as "not known".
  void restart(LoadState last, bool seat_begun, bool bed_loaded);

  [[nodiscard]] const Commands& tick(const Inputs& in);  // until the next
  [[nodiscard]] const TickReport& report() const { return report_; }

  [[nodiscard]] Refusal load(const PullInstruction& i);
  // table_serial or busy; install() refuses for the same reasons.
  [[nodiscard]] Refusal check_install(const GaugeTable& t) const;
  [[nodiscard]] Refusal install(const GaugeTable& t);
  void gates(const Gates& g) { gates_ = g; }
  void drop_instruction() { instruction_ = PullInstruction{}; }

  [[nodiscard]] const CoreState& core() const { return core_; }
  [[nodiscard]] const PullInstruction& instruction() const { return instruction_; }
  [[nodiscard]] const GaugeTable& table() const { return table_; }
  [[nodiscard]] const Pull& pull() const { return pull_; }
  [[nodiscard]] const Measures& measures() const { return m_; }
  [[nodiscard]] const Settings& settings() const { return settings_; }
  // What every interlock row saw in the tick of the last trip; after watch_rows() in the last tick.
  [[nodiscard]] const Looks& looks() const { return looks_; }
  void watch_rows() { rows_watched_ = true; }
  [[nodiscard]] ForcePair force() const;
  [[nodiscard]] bool pull_active() const { return pull_active_; }
  // What stopped this pull for good, none if it ran through: kept after the reset, for the record.
  [[nodiscard]] Cause pull_cause() const { return pull_cause_; }

 private:
  [[nodiscard]] ForcePair force_now();  // force(), as each tick asks for it
  [[nodiscard]] Predicates predicates(const Inputs& in, const ForcePair& f);
  void pull_predicates(Predicates& p, const ForcePair& f);
  void keep_books(units::Ticks now, const ForcePair& f);
  void entered(State from, units::Ticks now, const ForcePair& f);
  [[nodiscard]] bool ram_home() const;
  [[nodiscard]] bool reads_low(const Channel& c) const;
  [[nodiscard]] bool pressure_gone() const;
  [[nodiscard]] units::Length clearing_travel() const;
  void watch_no_load();
  [[nodiscard]] bool force_due();

  const Jack jack_;
  const Settings settings_;
  Measures m_{jack_};
  Pull pull_{m_, settings_};
  Detectors detectors_{jack_, settings_, m_};
  Looks looks_{};
  bool rows_watched_ = false;
  CoreState core_;
  PullInstruction instruction_, previous_;
  GaugeTable table_;
  LastPiece last_a_, last_b_;
  bool near_end_ = false;         // of slack or pull, as the last force said
  std::uint8_t force_waits_ = 0;  // ticks since
  const std::uint32_t low_sum16_ = m_.sum16_at(settings_.no_load_pressure);
  Gates gates_;
  Commands driven_;
  TickReport report_;
  std::uint16_t loaded_ms_ = 0;
  std::uint16_t no_load_ms_ = 0, stands_ms_ = 0;  // since the pressure is gone, since the ram stands
  std::uint8_t no_load_waits_ = 0;                // ticks since the last look
  units::Length clear_at_, stands_at_;  // stroke at which the strand is slack for sure; where the ram stands
  bool cleared_ = false;
  std::uint32_t settle_ms_ = 0, stopped_ms_ = 0;
  bool pull_active_ = false;
  Cause pull_cause_ = Cause::none;
};

}  // namespace strandproof::control
