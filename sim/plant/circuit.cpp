#include "sim/plant/circuit.hpp"

namespace strandproof::plant {
namespace {

constexpr double pi = 3.14159265358979323846;
constexpr double p_pilot_low = 0.5e6;   // Pa, the pilot begins to lift the load-holding valve; assumed
constexpr double p_pilot_high = 1.0e6;  // Pa, and holds it fully open
constexpr double G_rod_relief = 1e-10;  // m3/s/Pa; assumed

Flow scaled(const Flow& f, double by) {
  return {f.Q * by, f.G * by};
}

// From volume at the upstream pressure to N.
Flow in_units(const Flow& f, const Specific& upstream) {
  return f.Q == 0.0 && f.G == 0.0 ? f : scaled(f, upstream.density);
}

}  // namespace

Circuit::Circuit(const Parameters& p)
    : pump_{p.pump},
      valves_{p.valves},
      ram_{p.ram},
      R_hose_{laminar_resistance(viscosity(p.oil.grade, p.oil.T), p.oil.rho, p.hose.L, p.hose.D)},
      C_valve_{p.valves.Q_nominal / root(p.valves.p_nominal)},
      C_throttle_{orifice_coefficient(p.valves.C_d, 0.25 * pi * p.valves.d_throttle * p.valves.d_throttle,
                                      p.oil.rho)} {}

// From the hose through two valves in series and a check valve, which lets nothing back.
Flow Circuit::checked(double shut_off, double valve, double dp, const Specific& upstream) const {
  if (valve <= 0.0 || dp <= 0.0) {
    return {};
  }
  return in_units(pipe_and_orifice(R_hose_, in_series(C_valve_, shut_off, valve), dp), upstream);
}

// The throttle passes only what the pilot lets: no oil from the pump, no lowering.
Flow Circuit::lowering(const Openings& open, const Nodes& at) const {
  Flow f;
  if (open.lower > 0.0 && open.shut_off > 0.0) {
    const double lift = within(0.0, (at.p_pump - p_pilot_low) / (p_pilot_high - p_pilot_low), 1.0);
    f = compensated(orifice(C_throttle_ * open.lower * lift, at.p_cap), valves_.Q_lower);
  }
  f.Q += ram_.G_leak * at.p_cap;
  f.G += ram_.G_leak;
  return in_units(f, at.cap);
}

Flow Circuit::rod_to_tank(const Openings& open, const Nodes& at) const {
  Flow f = orifice(2.0 * C_valve_ * open.tank, at.p_rod);
  if (at.p_rod < 0.0) {  // the make-up valve
    const Flow up = orifice(4.0 * C_valve_, at.p_rod);
    f.Q += up.Q;
    f.G += up.G;
    return f;  // the tank's oil is at atmospheric pressure: one unit of N a m3
  }
  if (at.p_rod > ram_.p_rod_relief) {
    f.Q += G_rod_relief * (at.p_rod - ram_.p_rod_relief);
    f.G += G_rod_relief;
  }
  return in_units(f, at.rod);
}

Flows Circuit::flows(const Openings& open, const Nodes& at) const {
  Flows f;
  f.pump = pump_flow(open, at.p_pump) * at.pump.density;
  f.pump_G = 0.5 * f.pump * at.pump.stiffness;  // the mean over a step: pressure grows along it
  if (f.pump > 0.0 && at.p_pump > 0.0) {
    f.pump_G -= pump_.G_slip * open.speed * at.pump.density;
  }
  if (at.p_pump > pump_.p_relief) {
    f.relief = in_units({pump_.G_relief * (at.p_pump - pump_.p_relief), pump_.G_relief}, at.pump);
  }
  if (open.shut_off > 0.0) {
    f.advance = checked(open.shut_off, open.advance, at.p_pump - at.p_cap - valves_.p_crack, at.pump);
    f.feed = checked(open.shut_off, open.lower, at.p_pump - at.p_rod - valves_.p_pilot, at.pump);
    if (open.seat > 0.0) {
      f.seat =
          pipe_and_orifice(R_hose_, in_series(C_valve_, open.shut_off, open.seat), at.p_pump - at.p_seat);
    }
  }
  if (open.seat < 1.0 && at.p_seat > 0.0) {
    f.drain = orifice(C_valve_ * (1.0 - open.seat), at.p_seat);
  }
  f.lower = lowering(open, at);
  if (ram_.G_piston > 0.0) {
    f.piston = {ram_.G_piston * (at.p_cap - at.p_rod), ram_.G_piston};
  }
  f.tank = rod_to_tank(open, at);
  return f;
}

}  // namespace strandproof::plant
