// What the sensors show: first-order lags behind the truth, tick by tick.
#pragma once

#include "sim/plant/plant.hpp"
#include "sim/plant/scheme.hpp"

namespace strandproof::plant {

inline constexpr double tick_s = 1e-3;

// A first-order lag whose input moves along a straight line in the tick: exact.
class Lag {
 public:
  explicit Lag(double tau) : Lag{Keep(tick_s, tau)} {}
  void follow(double& value, double from, double to) const {
    value = keep_ * value + before_ * from + after_ * to;
  }

 private:
  explicit Lag(const Keep& k) : keep_{k.end}, before_{k.mean - k.end}, after_{1.0 - k.mean} {}
  double keep_, before_, after_;
};

class Sensing {
 public:
  // What the lags have for input.
  struct Inputs {
    double a, b, stroke, cell;
  };
  explicit Sensing(const Sensors& s)
      : a_{s.a_at_pump ? &Moving::p_pump : &Moving::p_cap},
        b_{s.b_at_pump ? &Moving::p_pump : &Moving::p_cap},
        pressure_{s.tau_pressure},
        stroke_{s.tau_stroke},
        cell_{s.tau_cell},
        sound_a_{a_},
        sound_b_{b_} {}
  // Whatever the parameters say: at the pump if asked.
  void tap(bool a_at_pump, bool b_at_pump) {
    a_ = a_at_pump ? &Moving::p_pump : sound_a_;
    b_ = b_at_pump ? &Moving::p_pump : sound_b_;
  }

  [[nodiscard]] Inputs inputs(const Moving& m) const { return {m.*a_, m.*b_, m.x_ram, m.F_jack}; }
  // One tick, from what was to what is.
  void follow(Truth& t, const Inputs& was) const {
    const Inputs is = inputs(t);
    pressure_.follow(t.p_a, was.a, is.a);
    pressure_.follow(t.p_b, was.b, is.b);
    stroke_.follow(t.stroke, was.stroke, is.stroke);
    cell_.follow(t.cell, was.cell, is.cell);
  }

 private:
  double Moving::*a_;
  double Moving::*b_;
  Lag pressure_, stroke_, cell_;
  double Moving::*sound_a_;
  double Moving::*sound_b_;
};

}  // namespace strandproof::plant
