#include "sim/plant/model.hpp"

#include <stdexcept>
#include <string>

namespace strandproof::plant {
namespace {

struct Bound {
  const char* name;
  double value, low, high;
};

// Below or above these the equations lose their meaning; a scenario has narrower bounds of its own.
void check(const Parameters& p) {
  const Bound bounds[] = {
      {"oil.K", p.oil.K, 1e8, 1e10},
      {"oil.air", p.oil.air, 0.0, 0.5},
      {"oil.n", p.oil.n, 1.0, 1.5},
      {"oil.rho", p.oil.rho, 500.0, 2000.0},
      {"pump.Q_fast", p.pump.Q_fast, 0.0, 1.0},
      {"pump.Q_slow", p.pump.Q_slow, 0.0, 1.0},
      {"pump.scale", p.pump.scale, 0.0, 10.0},
      {"pump.G_slip", p.pump.G_slip, 0.0, 1e-9},
      {"pump.tau_motor", p.pump.tau_motor, 1e-4, 10.0},
      {"pump.tau_stage", p.pump.tau_stage, 1e-4, 10.0},
      {"pump.p_relief", p.pump.p_relief, 1e5, 1e9},
      {"pump.G_relief", p.pump.G_relief, 1e-14, 1.0},
      {"valves.delay", p.valves.delay, 0.0, 0.5},
      {"valves.tau", p.valves.tau, 1e-4, 10.0},
      {"valves.overlap", p.valves.overlap, 0.0, 0.9},
      {"valves.p_nominal", p.valves.p_nominal, 1e3, 1e8},
      {"valves.Q_nominal", p.valves.Q_nominal, 1e-9, 1.0},
      {"valves.Q_lower", p.valves.Q_lower, 1e-9, 1.0},
      {"valves.d_throttle", p.valves.d_throttle, 1e-5, 0.1},
      {"ram.A_cap", p.ram.A_cap, 1e-6, 1.0},
      {"ram.A_rod", p.ram.A_rod, 1e-6, 1.0},
      {"ram.stroke", p.ram.stroke, 1e-3, 10.0},
      {"ram.x_start", p.ram.x_start, 0.0, p.ram.stroke},
      {"ram.V_cap", p.ram.V_cap, 1e-7, 1.0},
      {"ram.V_rod", p.ram.V_rod, 1e-7, 1.0},
      {"hose.V", p.hose.V, 1e-7, 1.0},
      {"hose.L", p.hose.L, 1e-3, 1e3},
      {"hose.D", p.hose.D, 1e-4, 1.0},
      {"oil.grade", p.oil.grade, 32.0, 68.0},
      {"oil.T", p.oil.T, -40.0, 120.0},
      {"oil.warming", p.oil.warming, -10.0, 10.0},
      {"scheme.ahead", static_cast<double>(p.scheme.ahead), 1.0, 32.0},
      {"scheme.substeps_transient", static_cast<double>(p.scheme.substeps_transient), 1.0, 1e4},
      {"ram.m", p.ram.m, 0.1, 1e5},
      {"ram.G_leak", p.ram.G_leak, 0.0, 1e-6},
      {"ram.G_piston", p.ram.G_piston, 0.0, 1e-6},
      {"friction.fraction", p.friction.fraction, 0.0, 0.5},
      {"friction.F_seal", p.friction.F_seal, 1e-3, 1e6},
      {"friction.scatter", p.friction.scatter, -0.9, 10.0},
      {"friction.v_stribeck", p.friction.v_stribeck, 1e-6, 1.0},
      {"friction.sigma", p.friction.sigma, 1e5, 1e12},
      {"strand.A", p.strand.A, 1e-7, 1.0},
      {"strand.E", p.strand.E, 1e9, 1e12},
      {"strand.f_1", p.strand.f_1, 1e6, 0.0096 * p.strand.E},
      {"strand.f_pu", p.strand.f_pu, 1.04 * p.strand.f_1, 1e11},
      {"strand.eps_u", p.strand.eps_u, 0.0101, 1.0},
      {"strand.L", p.strand.L, 0.01, 1e5},
      {"strand.L_tail", p.strand.L_tail, 0.01, 1e3},
      {"strand.slack", p.strand.slack, 0.0, 10.0},
      {"strand.friction", p.strand.friction, 0.0, 2.0},
      {"strand.warming", p.strand.warming, -10.0, 10.0},
      {"strand.k_abutment", p.strand.k_abutment, 1e4, 1e15},
      {"chucks.draw_in", p.chucks.draw_in, 0.0, 0.5},
      {"chucks.draw_in_pushed", p.chucks.draw_in_pushed, 0.0, 0.5},
      {"chucks.dead_draw_in", p.chucks.dead_draw_in, 0.0, 0.5},
      {"chucks.F_dead_full", p.chucks.F_dead_full, 1.0, 1e9},
      {"grip.draw_in", p.grip.draw_in, 0.0, 0.1},
      {"rig.k", p.rig.k, 1e3, 1e12},
      {"sensors.tau_pressure", p.sensors.tau_pressure, 1e-4, 100.0},
      {"sensors.tau_stroke", p.sensors.tau_stroke, 1e-4, 100.0},
      {"sensors.tau_cell", p.sensors.tau_cell, 1e-4, 100.0},
  };
  for (const Bound& b : bounds) {
    if (!(b.value >= b.low && b.value <= b.high)) {
      throw std::invalid_argument("plant parameter " + std::string(b.name) + " is " +
                                  std::to_string(b.value) + ", must be " + std::to_string(b.low) + " to " +
                                  std::to_string(b.high) + " (SI)");
    }
  }
}

double lag_rate(double value, double input, double tau) {
  return (input - value) / tau;
}

}  // namespace

Model::Model(const Parameters& parameters)
    : p{(check(parameters), parameters)},
      oil{p.oil},
      circuit{p},
      strand{p.strand, p.chucks},
      per_sigma{1.0 / p.friction.sigma},
      growth{p.oil.beta * p.oil.warming} {}

Model::Vector Model::start() const {
  Vector y{};
  y[N_pump] = p.hose.V;
  y[N_cap] = cap_volume(p.ram.x_start);
  y[N_rod] = rod_volume(p.ram.x_start);
  y[x] = y[stroke] = p.ram.x_start;
  return y;
}

Openings Model::openings(double advance, double lower, double seat, double shut_off) const {
  const double o = p.valves.overlap;
  return {.advance = opening(advance, o),
          .lower = opening(lower, o),
          .seat = opening(seat, o),
          .shut_off = opening(shut_off, o),
          .tank = opening(1.0 - lower, o)};
}

Load Model::load(double at_x, const StrandMemory& memory, double x_grip) const {
  Load l;
  if (p.rig.fitted) {
    const double pushed = at_least(0.0, at_x - p.rig.x_free);
    l.F = p.rig.k * pushed;
    l.k = pushed > 0.0 ? p.rig.k : 0.0;
    return l;
  }
  l.strand = strand.forces(at_x - x_grip, memory);
  l.F = l.strand.F_jack;
  l.k = l.strand.k_jack;
  return l;
}

StopForce Model::stops(double at_x, double at_v) const {
  const double past = at_x < 0.0 ? at_x : at_least(0.0, at_x - p.ram.stroke);
  if (past == 0.0) {
    return {};
  }
  return {-p.ram.k_stop * past - p.ram.c_stop * at_v, p.ram.k_stop, p.ram.c_stop};
}

Nodes Model::nodes(const Vector& y) const {
  Nodes somewhere;
  somewhere.p_pump = somewhere.p_cap = somewhere.p_rod = 1e6;
  return nodes(y, somewhere);
}

Nodes Model::nodes(const Vector& y, const Nodes& near) const {
  Nodes n;
  n.p_pump = oil.pressure(p.hose.V / y[N_pump], near.p_pump);
  n.p_cap = oil.pressure(cap_volume(y[x]) / y[N_cap], near.p_cap);
  n.p_rod = oil.pressure(rod_volume(y[x]) / y[N_rod], near.p_rod);
  n.p_seat = y[V_seat] > 0.0 ? seat_pressure(p.seat, y[V_seat] / p.seat.A).p : 0.0;
  n.pump = oil.at(n.p_pump);
  n.cap = oil.at(n.p_cap);
  n.rod = oil.at(n.p_rod);
  return n;
}

double Model::ram_force(const Nodes& at, double load_F, double friction, const StopForce& stop,
                        double at_v) const {
  return at.p_cap * p.ram.A_cap - at.p_rod * p.ram.A_rod - load_F - friction - p.friction.c * at_v + stop.F;
}

void Model::derivative(const Vector& y, Vector& dydt, const Acting& acting, const StrandMemory& memory,
                       double x_grip, const Nodes& near) const {
  const Nodes at = nodes(y, near);
  Openings open = openings(y[s_advance], y[s_lower], y[s_seat], y[s_shut_off]);
  open.speed = y[speed];
  open.stage = y[stage];
  const Flows f = circuit.flows(open, at);
  const Load l = load(y[x], memory, x_grip);
  const double F_slide = sliding_friction(p.friction, p.ram, at.p_cap, at.p_rod, y[v]);
  dydt[N_pump] = growth * y[N_pump] + f.pump - f.relief.Q - f.advance.Q - f.feed.Q - f.seat.Q;
  dydt[N_cap] = growth * y[N_cap] + f.advance.Q - f.lower.Q - f.piston.Q;
  dydt[N_rod] = growth * y[N_rod] + f.feed.Q + f.piston.Q - f.tank.Q;
  dydt[x] = y[v];
  dydt[v] = ram_force(at, l.F, p.friction.sigma * y[z], stops(y[x], y[v]), y[v]) / p.ram.m;
  dydt[z] = bristle_rate(p.friction, F_slide, y[v], y[z]);
  dydt[V_seat] = f.seat.Q - f.drain.Q;
  dydt[s_advance] = lag_rate(y[s_advance], acting.advance ? 1.0 : 0.0, p.valves.tau);
  dydt[s_lower] = lag_rate(y[s_lower], acting.lower ? 1.0 : 0.0, p.valves.tau);
  dydt[s_seat] = lag_rate(y[s_seat], acting.seat ? 1.0 : 0.0, p.valves.tau);
  dydt[s_shut_off] = lag_rate(y[s_shut_off], acting.shut_off ? 1.0 : 0.0, p.valves.tau);
  dydt[speed] = lag_rate(y[speed], acting.motor ? 1.0 : 0.0, p.pump.tau_motor);
  dydt[stage] = lag_rate(y[stage], acting.fast_stage ? 1.0 : 0.0, p.pump.tau_stage);
  dydt[p_a] = lag_rate(y[p_a], p.sensors.a_at_pump ? at.p_pump : at.p_cap, p.sensors.tau_pressure);
  dydt[p_b] = lag_rate(y[p_b], p.sensors.b_at_pump ? at.p_pump : at.p_cap, p.sensors.tau_pressure);
  dydt[stroke] = lag_rate(y[stroke], y[x], p.sensors.tau_stroke);
  dydt[cell] = lag_rate(y[cell], l.F, p.sensors.tau_cell);
}

}  // namespace strandproof::plant
