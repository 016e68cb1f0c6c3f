// Windows, limits and times of the controller. One revision, printed on every record. The bounds that no
// revision may pass are asserted below. Values without another source are engineering choices of ours.
#pragma once

#include <cstdint>

#include "firmware/units/units.hpp"

namespace strandproof::control {

using namespace units::literals;

struct Settings {
  std::uint32_t revision = 1;

  // Stop.
  float slow_lead_s = 0.45F;        // fast stage off this long before the predicted stop
  float run_on_default_s = 0.030F;  // until this pull has shown its own (valves: 5 to 40 ms)
  float run_on_max_s = 0.150F;
  float learn_speed_min = 2.0e-3F;  // m/s; slower stops say too little about the run-on
  float first_passage = 1.0F;       // noise makes a threshold act early: this many deviations of the estimate

  // Settle.
  float top_up_below = 0.004F;     // of the jack force
  float settle_fall_max = 0.010F;  // of the jack force, from creep back
  units::Length creep_floor =
      0.15_mm;  // three deviations of the difference of two 200 ms means at 0.1 % noise

  // A pull in several strokes. A stroke ends this far before the usable stroke: run-on at full speed is less.
  units::Length stroke_margin = 10.0_mm;
  units::Length back_min = 5.0_mm;       // the ram does not go back onto its end stop
  units::Length ram_in = 15.0_mm;        // a ram further out is not where a long pull begins
  units::Length bite_min = 80.0_mm;      // a shorter stroke is not worth its re-bite
  units::Length take_up_loss = 20.0_mm;  // of each stroke but the first: grip, tail and the lift-off seen
  units::Length turned = 0.3_mm;  // then the slow stage: the tail is many times stiffer than its strand
  // Lift-off: the tail's line through these shares of the locked force, left by this much travel.
  float tail_low = 0.30F, tail_high = 0.75F;
  units::Length lift_travel = 8.0_mm;
  units::Length take_up_max = 50.0_mm;  // without a lift-off, of which grip and tail take some 15 mm
  float lift_off_window = 0.02F;        // H53, of the locked force, and
  units::Force lift_off_floor = units::Force::from_si(300.0F);

  // Limits on force, H01: raw samples carry noise of 0.1 % of span; 0.8 % of span is eight deviations.
  float raw_allowance = 0.008F;       // of the pressure span, two samples running
  float filtered_allowance = 0.004F;  // of the jack force, mean of 64 samples

  // H02: more pressure in 24 ms than thrice what the ram's travel explains, and this.
  units::Pressure dead_head_rise = 0.45_MPa;  // twelve deviations of the difference at 0.1 % noise
  units::Pressure dead_head_rise_tail =
      2.5_MPa;  // a tail is as much stiffer than its strand as it is shorter
  units::Pressure dead_head_rise_starting = 4.0_MPa;  // while friction is being overcome again
  std::uint16_t starting_ms = 300;

  // H05, H11, H14, H16, H17.
  float stuck_counts = 10.0F;
  std::uint16_t stuck_ticks = 50;
  units::Length motion_min = 0.4_mm;
  units::Pressure motion_pressure_min = 0.5_MPa;
  std::uint16_t no_motion_ms = 1000;
  // Of a re-stroke, back or on the tail, at the slow stage: 3 % of air in 0.4 L takes 2.5 s of 0.24 L/min for
  // its first 0.5 MPa.
  std::uint16_t no_motion_slow_ms = 4000;
  float break_drop = 0.05F;  // of the pressure before
  float break_drop_counts = 250.0F;
  float break_armed_counts = 600.0F;
  std::uint16_t stop_circuit_ms = 100;
  std::uint32_t enable_max_ms = 10 * 60 * 1000;

  // Channels (interface.md): the larger of the two.
  float trip_of_reading = 0.02F, trip_of_span = 0.01F;
  float accept_of_reading = 0.01F, accept_of_span = 0.005F;

  // H06, zero check before arming: each channel at rest, of its span; 0.5 % is common practice.
  float zero_of_span = 0.005F;

  units::Pressure no_load_pressure = 0.6_MPa;
  std::uint16_t no_load_ms = 200;
  std::uint16_t loaded_ms = 300;  // a valve that opens or shuts makes less of a peak
  // Then the ram comes back by what pressure and friction may still hold, over the strand's stiffness.
  float clearing_share = 1.5F;  // friction up to half of the pressure's part
  units::Length clearing_min = 5.0_mm;
  units::Length clearing_unknown = 25.0_mm;  // where no plan or no table says the stiffness or the ram
  units::Length standing = 0.5_mm;
  std::uint16_t home_ms = 1000;
  std::uint16_t stands_ms = 15'000;  // a signal that is stuck or lost: oil leaves a large ram slowly
  units::Pressure set_up_cap = 5.0_MPa;
  float ask_again_difference = 0.02F;  // H23

  // Longest time in a phase.
  std::uint32_t slack_max_ms = 120'000, main_max_ms = 400'000, slow_max_ms = 90'000;
  std::uint32_t take_up_max_ms = 120'000;
  std::uint32_t re_stroke_max_ms = 600'000;  // the ram goes back on the slow stage: 475 mm take 190 s
  std::uint32_t seat_max_ms = 60'000, lower_max_ms = 300'000;
};

inline constexpr Settings default_settings{};
inline constexpr unsigned strokes_max = 5;  // of one pull

constexpr bool bounded(const Settings& s) {
  return s.raw_allowance <= 0.02F && s.filtered_allowance <= 0.006F && s.settle_fall_max <= 0.02F &&
         s.run_on_max_s <= 0.2F && s.no_motion_ms <= 1000 && s.no_motion_slow_ms <= 5000 &&
         s.stop_circuit_ms <= 100 && s.break_drop <= 0.10F && s.trip_of_reading <= 0.02F &&
         s.trip_of_span <= 0.01F && s.set_up_cap <= 8.0_MPa && s.accept_of_reading <= s.trip_of_reading &&
         s.top_up_below < s.settle_fall_max && s.zero_of_span <= 0.01F && s.first_passage >= 0.0F &&
         s.lift_off_window <= 0.05F && s.lift_travel < s.take_up_loss && s.take_up_loss < s.take_up_max &&
         s.tail_low < s.tail_high && s.tail_high < 1.0F && s.dead_head_rise_tail < s.dead_head_rise_starting;
}
static_assert(bounded(default_settings));

// What control has to know of the jack it runs on.
struct Jack {
  std::uint32_t serial = 0, sensor_a_serial = 0, sensor_b_serial = 0;
  std::uint32_t origin = 0;  // as on the wire: 1 simulated, 2 emulated, 3 hardware; 0: none is said
  units::Pressure pressure_span, pressure_rig_rating, pressure_limit;
  units::Length stroke_span, stroke_usable;
};

}  // namespace strandproof::control
