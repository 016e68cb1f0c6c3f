// A jack in twenty lines, for tests of the shell alone: an ideal ram on a linear strand, valves that act
// after a delay, friction as a share of the force. It is not the plant of sim/ and shares nothing with it.
#pragma once

#include <cstdint>
#include <deque>

#include "firmware/control/controller.hpp"

namespace strandproof::control {

struct ToyJack {
  double area = 48e-4, stiffness = 325e3, friction = 0.03, slack = 0.02;  // m2, N/m, -, m
  double fast = 6.9e-3, slow = 1.0e-3, back = 10e-3;                      // m/s
  int delay = 20;                                                         // ms of every valve
  double noise = 0.001;                                                   // of range, one deviation
  bool broken = false;
  double x = 0.010, chuck_x = -1.0, chuck_force = 0.0;
  bool wedges = false;
  double bias_b = 0.0;   // of channel B, share of span
  bool runaway = false;  // the advance valve stays open
  double trapped = 0.0;  // Pa/s: a ram that stands still while the pump goes on
  double trapped_pa = 0.0;
  bool freeze_a = false, freeze_b = false, freeze_x = false;
  std::uint16_t last_a = 0, last_b = 0, last_x = 0;
  std::uint32_t random = 1;

  Jack jack;
  Switches is;
  units::Ticks now = 0;
  std::deque<Commands> pipe;

  ToyJack() {
    jack = {.serial = 7,
            .sensor_a_serial = 71,
            .sensor_b_serial = 72,
            .pressure_span = units::Pressure::from_si(70e6F),
            .pressure_rig_rating = units::Pressure::from_si(40e6F),
            .pressure_limit = units::Pressure::from_si(45e6F),
            .stroke_span = units::Length::from_si(0.6F),
            .stroke_usable = units::Length::from_si(0.5F)};
    is.emergency_stop_1 = is.emergency_stop_2 = is.barrier_1 = is.barrier_2 = is.oil_level_ok = is.supply_ok =
        true;
  }

  // True strand force on the jack.
  [[nodiscard]] double force() const {
    if (broken) {
      return 0.0;
    }
    const double pulled = stiffness * (x - 0.010 - slack);
    return pulled > 0.0 ? pulled : 0.0;
  }
  [[nodiscard]] double jack_force() const {
    if (chuck_x < 0.0) {
      return force();
    }
    const double tail = chuck_force - 24.4e6 * (chuck_x - x);  // the tail relaxes once the wedges hold
    return tail > 0.0 ? tail : 0.0;
  }

  double uniform() {
    random = random * 1664525U + 1013904223U;
    return random / 4294967296.0;
  }
  double normal() {  // sum of twelve: good enough to shake a threshold
    double s = -6.0;
    for (int i = 0; i < 12; ++i) {
      s += uniform();
    }
    return s;
  }
  std::uint16_t counts(double share) {
    const double ma = 4.0 + 16.0 * (share + noise * normal());
    return static_cast<std::uint16_t>(ma / 24.0 * 65535.0);
  }

  void move(const Commands& c) {
    pipe.push_back(c);
    while (static_cast<int>(pipe.size()) > delay + 1) {
      pipe.pop_front();
    }
    const Commands& acting = pipe.front();
    double v = 0.0;
    if (acting.motor && acting.shut_off_open) {
      v = acting.advance_valve ? (acting.fast_stage ? fast : slow) : acting.lower_valve ? -back : 0.0;
    }
    v = runaway ? fast : v;
    trapped_pa += trapped * 1e-3;
    x += trapped > 0.0 ? 0.0 : v * 1e-3;
    x = x < 0.0 ? 0.0 : x;
    wedges = wedges || acting.seat_valve;
    if (wedges && chuck_x < 0.0 && v < 0.0) {
      drawn += -v * 1e-3;
      if (drawn >= 0.003) {
        chuck_force = force();
        chuck_x = x;
      }
    }
  }
  double drawn = 0.0;

  Inputs inputs() {
    const double p = (jack_force() * (1.0 + friction) / area + trapped_pa) / 70e6;
    last_a = freeze_a ? last_a : counts(p);
    last_b = freeze_b ? last_b : counts(p + bias_b);
    last_x = freeze_x ? last_x : counts(x / 0.6);
    return {.now = now++, .analog = {last_a, last_b, last_x, 0, 20000}, .is = is};
  }
};

inline GaugeTable toy_table(const ToyJack& j) {
  GaugeTable t;
  t.revision = 3;
  t.jack_serial = 7, t.sensor_a_serial = 71, t.sensor_b_serial = 72;
  std::uint32_t mbar[8];
  std::uint32_t newton[8];
  for (unsigned i = 0; i < 8; ++i) {
    newton[i] = 5000 + 22000 * i;
    mbar[i] = static_cast<std::uint32_t>(newton[i] * (1.0 + j.friction) / j.area / 100.0 + 0.5);
  }
  for (GaugeColumn* c : {&t.a_increasing, &t.b_increasing, &t.a_decreasing, &t.b_decreasing}) {
    (void)c->set(mbar, newton, 8);
  }
  return t;
}

inline PullInstruction toy_instruction(const ToyJack& j) {
  PullInstruction i;
  i.id = 11, i.bed = 1, i.position = 4, i.jack_serial = 7;
  i.initial = units::Force::from_si(15e3F);
  i.jack = units::Force::from_si(130e3F);
  i.seated = units::Force::from_si(129e3F);
  i.limit = units::Force::from_si(142e3F);
  i.stiffness = units::Stiffness::from_si(static_cast<float>(j.stiffness));
  i.stiffness_uncertainty = 0.02F;
  i.elongation = units::Length::from_si(static_cast<float>(115e3 / j.stiffness));
  i.elongation_min = i.elongation * 0.95F;
  i.elongation_max = i.elongation * 1.05F;
  i.draw_in = units::Length::from_si(0.003F);
  i.draw_in_max = units::Length::from_si(0.006F);
  i.slack_max = units::Length::from_si(0.09F);
  i.force_window = 0.02F;
  return i;
}

}  // namespace strandproof::control
