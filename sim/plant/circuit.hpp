// The hydraulic circuit: which flow runs where, for given pressures and openings.
//
//   pump -> check -> hose -> shut-off -+- advance -> load-holding check -> cap chamber
//             |relief                  +- lower -> sequence 2 MPa -> rod chamber; its pilot opens the
//             tank                     |            load-holding valve: cap -> throttle -> tank
//                                      +- seat -> seating tube
// De-energised, lower joins the rod chamber to the tank, and seat the tube.
#pragma once

#include "sim/plant/oil.hpp"
#include "sim/plant/orifice.hpp"
#include "sim/plant/parameters.hpp"

namespace strandproof::plant {

// Openings 0 to 1 and what the pump does.
struct Openings {
  double advance = 0.0, lower = 0.0, seat = 0.0, shut_off = 0.0;
  double tank = 1.0;   // rod chamber to tank
  double speed = 0.0;  // of the motor, 0 to 1
  double stage = 0.0;  // fast stage, 0 to 1
};

// Gauge pressures, Pa, and the oil at them.
struct Nodes {
  double p_pump = 0.0, p_cap = 0.0, p_rod = 0.0, p_seat = 0.0;
  Specific pump, cap, rod;
};

// Flows in units of N (volume at atmospheric pressure), with their slopes by the pressure drop.
struct Flows {
  double pump = 0.0;
  double pump_G = 0.0;       // m3/s/Pa, of the pump's by its line's pressure: denser oil is more of it
  Flow relief;               // hose to tank
  Flow advance, feed, seat;  // hose to cap chamber, rod chamber, seating tube
  Flow drain;                // seating tube to tank
  Flow lower;                // cap chamber to tank: throttle and leak
  Flow piston;               // cap to rod chamber
  Flow tank;                 // rod chamber to tank (negative: made up from it)
};

class Circuit {
 public:
  Circuit() = default;
  explicit Circuit(const Parameters& p);
  [[nodiscard]] Flows flows(const Openings& open, const Nodes& at) const;
  // m3/s at the line's pressure p: what the stages sweep less what slips back; the check valve lets none
  // back.
  [[nodiscard]] double pump_flow(const Openings& open, double p) const {
    const double swept =
        open.speed * pump_.scale * (pump_.Q_slow + open.stage * (pump_.Q_fast - pump_.Q_slow));
    return at_least(0.0, swept - slip(open, p));
  }

 private:
  [[nodiscard]] double slip(const Openings& open, double p) const {
    return at_least(0.0, pump_.G_slip * open.speed * p);
  }
  [[nodiscard]] Flow checked(double shut_off, double valve, double dp, const Specific& upstream) const;
  [[nodiscard]] Flow lowering(const Openings& open, const Nodes& at) const;
  [[nodiscard]] Flow rod_to_tank(const Openings& open, const Nodes& at) const;

  Pump pump_;
  Valves valves_;
  Ram ram_;
  double R_hose_ = 0.0, C_valve_ = 0.0, C_throttle_ = 0.0;
};

}  // namespace strandproof::plant
