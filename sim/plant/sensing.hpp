// What the sensors show: first-order lags behind the truth, tick by tick.
#pragma once

#include "sim/plant/lanes.hpp"
#include "sim/plant/plant.hpp"
#include "sim/plant/scheme.hpp"

namespace strandproof::plant {

inline constexpr double tick_s = 1e-3;

class Sensing {
 public:
  // What the lags have for input.
  struct Inputs {
    double a, b, stroke, cell;
  };
  explicit Sensing(const Sensors& s)
      : a_{s.a_at_pump ? &Moving::p_pump : &Moving::p_cap},
        b_{s.b_at_pump ? &Moving::p_pump : &Moving::p_cap},
        sound_a_{a_},
        sound_b_{b_} {
    const Keep pressure(tick_s, s.tau_pressure), stroke(tick_s, s.tau_stroke), cell(tick_s, s.tau_cell);
    keep_ = {pressure.end, pressure.end, stroke.end, cell.end};
    before_ = {pressure.mean - pressure.end, pressure.mean - pressure.end, stroke.mean - stroke.end,
               cell.mean - cell.end};
    after_ = {1.0 - pressure.mean, 1.0 - pressure.mean, 1.0 - stroke.mean, 1.0 - cell.mean};
  }
  // Whatever the parameters say: at the pump if asked.
  void tap(bool a_at_pump, bool b_at_pump) {
    a_ = a_at_pump ? &Moving::p_pump : sound_a_;
    b_ = b_at_pump ? &Moving::p_pump : sound_b_;
  }

  [[nodiscard]] Inputs inputs(const Moving& m) const { return {m.*a_, m.*b_, m.x_ram, m.F_jack}; }
  // One tick, from what was to what is: first-order lags whose inputs move along a straight line in the tick,
  // exact.
  void follow(Truth& t, const Inputs& was) const {
    Sensed& shown = t;
    Lanes<4> lanes(shown);
    lanes.v = Lanes<4>(keep_).v * lanes.v + Lanes<4>(before_).v * Lanes<4>(was).v +
              Lanes<4>(after_).v * Lanes<4>(inputs(t)).v;
    lanes.put(shown);
  }

 private:
  double Moving::*a_;
  double Moving::*b_;
  double Moving::*sound_a_;
  double Moving::*sound_b_;
  Inputs keep_, before_, after_;  // shares
};

}  // namespace strandproof::plant
