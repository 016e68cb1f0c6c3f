// The simulated jack as one more board: turns the plant's truth into raw samples and the controller's
// outputs into the plant's drive. Everything between controller and oil that is not oil lives here:
// channels, wiring faults, pendant, hardware emergency stop, output lease, mirror contacts.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "firmware/port/device.hpp"
#include "firmware/port/lease.hpp"
#include "firmware/port/sample.hpp"
#include "sim/board/channel.hpp"
#include "sim/board/noise.hpp"
#include "sim/board/pendant.hpp"
#include "sim/fault/fault.hpp"
#include "sim/plant/plant.hpp"

namespace strandproof::sim {

struct BoardParameters {
  std::uint64_t seed = 1;
  std::uint32_t first_tick = 0;
  ChannelParameters pressure_a, pressure_b, stroke, load_cell, oil_temperature;
  bool load_cell_fitted = false;
  double strand_length = 60.0;    // m, chuck to chuck
  unsigned mirror_delay_ms = 20;  // contactor and shut-off mirror contacts; catalogue range, assumed
};

// Oil temperature: 4 mA is -20 degC, 20 mA is 100 degC, on every board.
inline constexpr double oil_low_degc = -20.0;
inline constexpr double oil_high_degc = 100.0;

class SimBoard {
 public:
  SimBoard(const plant::Parameters& plant, const BoardParameters& board, std::vector<fault::Fault> faults);

  // The sample of this tick. Called once before each advance().
  const port::RawSample& sample(const Pendant& hands);
  [[nodiscard]] const port::RawSample& sampled() const { return sample_; }  // the last one
  // One millisecond: the controller's outputs if it finished its tick (nothing: it did not, and the
  // leases run out), then the plant.
  void advance(std::optional<port::OutputBits> outputs);

  [[nodiscard]] const plant::Truth& truth() const { return plant_.truth(); }
  // The next strand of the bed, whole and slack. False if the jack still carries something.
  [[nodiscard]] bool thread_strand();
  [[nodiscard]] fault::Watch& faults() { return faults_; }
  [[nodiscard]] const fault::Watch& faults() const { return faults_; }
  [[nodiscard]] port::OutputBits driven() const { return driven_; }  // what really was energised
  [[nodiscard]] std::uint64_t ticks() const { return ticks_; }       // since the start
  [[nodiscard]] double time_s() const { return time_s_; }

 private:
  // Of the channels that convert each tick, and of their noise.
  enum Lane : std::size_t { pressure_a, pressure_b, stroke, load_cell, lanes };
  using Values = std::array<double, lanes>;
  using Counts = std::array<std::uint16_t, lanes>;

  // Inputs of a sound board besides the pendant and the mirrors.
  static constexpr std::uint16_t healthy = static_cast<std::uint16_t>(
      port::bit(port::Input::emergency_stop_1) | port::bit(port::Input::emergency_stop_2) |
      port::bit(port::Input::barrier_1) | port::bit(port::Input::barrier_2) |
      port::bit(port::Input::grip_closed) | port::bit(port::Input::oil_level_ok) |
      port::bit(port::Input::supply_ok));

  [[nodiscard]] std::uint16_t digital(const Pendant& hands);
  // What is done seldom is kept out of what is done every tick: inlined it has every tick save its registers.
  [[nodiscard, gnu::noinline]] std::uint16_t upset_digital() const;  // while a fault is on
  [[gnu::noinline]] void sample_oil();
  [[nodiscard]] Wiring wiring(fault::Place place) const;
  [[nodiscard]] Upset upset(fault::Place place) const;
  // What a sensor sees: the truth of this tick, or an older one.
  [[nodiscard]] double seen(fault::Place place, double now, std::vector<double>& past) const;
  // What the converters read while a fault is on.
  [[nodiscard, gnu::noinline]] Counts upset_sample();
  void put(Counts counts);
  [[nodiscard]] bool stop_circuit_open() const;
  [[nodiscard]] bool valve(port::Output output, fault::Place place, unsigned& waited_ms) const;
  void ail_plant();
  // What advance() does where the outputs have changed, a contact follows or a fault is on.
  [[gnu::noinline]] void turn(port::OutputBits allowed);

  plant::Plant plant_;
  BoardParameters parameters_;
  Noise noise_;
  NoiseAhead ahead_;
  Channels<lanes> channels_;
  Channels<1> oil_;
  fault::Watch faults_;
  port::OutputLease lease_;
  port::OutputBits driven_ = 0;
  plant::Drive drive_;                       // of the last tick,
  bool settled_ = false;                     // and nothing but the outputs will change it
  std::uint16_t pressed_ = 0;                // keys of this tick,
  std::uint16_t contacts_ = healthy;         // and what a sound board adds to them
  unsigned motor_ms_ = 0, shut_off_ms_ = 0;  // ticks that the mirror has lagged behind its output
  unsigned advance_wait_ = 0, lower_wait_ = 0, seat_wait_ = 0, shut_off_wait_ = 0;  // of a slow valve
  std::uint32_t faults_known_ = 0;                     // changes of the watch that the plant has taken in
  std::vector<double> past_a_, past_b_, past_stroke_;  // of a late sensor, newest last
  bool turned_ = false;                                // the contactor has been closed once
  bool motor_mirror_ = false, shut_off_mirror_ = false;
  bool broken_ = false;
  double wires_at_ = 0.0, snag_at_ = 0.0;  // m from the live end, of the last of its kind: it also ends there
  port::RawSample sample_;
  std::uint64_t ticks_ = 0;
  double time_s_ = 0.0;
};

}  // namespace strandproof::sim
