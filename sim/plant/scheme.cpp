#include "sim/plant/scheme.hpp"

namespace strandproof::plant {
namespace {

using M = Model;

constexpr int search_limit = 12;
constexpr double p_near = 20.0;  // Pa; the error left is the square of a correction of this size
constexpr double v_near = 1e-7;  // m/s

// Everything at one iterate of pressures and ram speed.
struct Iterate {
  Nodes at;
  double v = 0.0;
  Flows flow;
  Load load;
  Bristles bristles;
  double seat_dV = 0.0;  // m3 into the seating tube in this step
};

struct Correction {
  double pump = 0.0, cap = 0.0, rod = 0.0, v = 0.0;
  [[nodiscard]] bool small() const {
    return magnitude(pump) < p_near && magnitude(cap) < p_near && magnitude(rod) < p_near &&
           magnitude(v) < v_near;
  }
};

void move_lags(State& s, const Acting& a, const StepLength& step) {
  const auto follow = [&s](M::Index i, bool on, double keep) {
    s.y[i] = lagged(s.y[i], on ? 1.0 : 0.0, keep);
  };
  follow(M::s_advance, a.advance, step.spool);
  follow(M::s_lower, a.lower, step.spool);
  follow(M::s_seat, a.seat, step.spool);
  follow(M::s_shut_off, a.shut_off, step.spool);
  follow(M::speed, a.motor, step.motor);
  follow(M::stage, a.fast_stage, step.stage);
}

// The tube is small and its springs stiff: its own pressure at the end of the step is solved here, so that
// the circuit sees it as a softer opening.
void solve_seat(const Model& m, Iterate& i, double V, double h) {
  Flow& in = i.flow.seat;
  Flow& out = i.flow.drain;
  const double dp_dV = seat_pressure(m.p.seat, V / m.p.seat.A).dp_dV * h;
  const double factor = 1.0 / (1.0 + dp_dV * (in.G + out.G));
  const double dp = dp_dV * (in.Q - out.Q) * factor;
  in.Q -= in.G * dp;
  out.Q = at_most(V / h + in.Q, out.Q + out.G * dp);
  in.G *= 1.0 - in.G * dp_dV * factor;
  i.seat_dV = h * (in.Q - out.Q);
}

// Newton's correction at an iterate: the ram's speed eliminated, then three pressures in closed form.
Correction correct(const Model& m, const State& s, Iterate& i, double h) {
  const Ram& ram = m.p.ram;
  const Friction& fr = m.p.friction;
  const double x = s.y[M::x] + h * i.v;
  i.load = m.load(x, s.memory, s.x_grip);
  const StopForce stop = m.stops(x, i.v);
  const double F_slide = sliding_friction(fr, ram, i.at.p_cap, i.at.p_rod, i.v);
  i.bristles = bristles_after(fr, F_slide, i.v, s.y[M::z], h);
  const double rub = i.bristles.dF_dslide * fr.fraction * (1.0 + fr.scatter);

  const double inertia = ram.m + h * (fr.c + i.bristles.dF_dv + stop.c) + h * h * (i.load.k + stop.k);
  const double force = m.ram_force(i.at, i.load.F, fr.sigma * i.bristles.z, stop, i.v);
  const double v0 = (h * force - ram.m * (i.v - s.y[M::v])) / inertia;
  const double v_cap = h * ram.A_cap * (1.0 - rub) / inertia;
  const double v_rod = -h * ram.A_rod * (1.0 + rub) / inertia;

  const Flows& f = i.flow;
  const double N_pump = m.p.hose.V / i.at.pump.volume;
  const double N_cap = m.cap_volume(x) / i.at.cap.volume;
  const double N_rod = m.rod_volume(x) / i.at.rod.volume;
  const double r_pump =
      s.y[M::N_pump] - N_pump + h * (f.pump - f.relief.Q - f.advance.Q - f.feed.Q - f.seat.Q);
  const double r_cap = s.y[M::N_cap] - N_cap + h * (f.advance.Q - f.lower.Q - f.piston.Q);
  const double r_rod = s.y[M::N_rod] - N_rod + h * (f.feed.Q + f.piston.Q - f.tank.Q);
  const double e_cap = h * ram.A_cap / i.at.cap.volume;  // N taken up per speed
  const double e_rod = -h * ram.A_rod / i.at.rod.volume;

  const double a11 = N_pump * i.at.pump.stiffness + h * (f.relief.G + f.advance.G + f.feed.G + f.seat.G);
  const double a12 = -h * f.advance.G, a13 = -h * f.feed.G;
  double a22 = N_cap * i.at.cap.stiffness + h * (f.advance.G + f.lower.G + f.piston.G) + e_cap * v_cap;
  double a23 = -h * f.piston.G + e_cap * v_rod;
  double a32 = -h * f.piston.G + e_rod * v_cap;
  double a33 = N_rod * i.at.rod.stiffness + h * (f.feed.G + f.piston.G + f.tank.G) + e_rod * v_rod;
  double b2 = r_cap - e_cap * v0, b3 = r_rod - e_rod * v0;
  const double over11 = 1.0 / a11;
  a22 -= a12 * a12 * over11;
  a23 -= a12 * a13 * over11;
  a32 -= a13 * a12 * over11;
  a33 -= a13 * a13 * over11;
  b2 -= a12 * r_pump * over11;
  b3 -= a13 * r_pump * over11;
  const double over = 1.0 / (a22 * a33 - a23 * a32);
  Correction c;
  c.cap = (b2 * a33 - a23 * b3) * over;
  c.rod = (a22 * b3 - a32 * b2) * over;
  c.pump = (r_pump - a12 * c.cap - a13 * c.rod) * over11;
  c.v = v0 + v_cap * c.cap + v_rod * c.rod;
  return c;
}

void set_pressures(const Model& m, Nodes& at, double p_pump, double p_cap, double p_rod) {
  // A correction may point below vacuum; the oil's air sets in before.
  constexpr double least = 0.01 * p_atmosphere - p_atmosphere;
  at.p_pump = at_least(least, p_pump);
  at.p_cap = at_least(least, p_cap);
  at.p_rod = at_least(least, p_rod);
  at.pump = m.oil.at(at.p_pump);
  at.cap = m.oil.at(at.p_cap);
  at.rod = m.oil.at(at.p_rod);
}

// Conserved quantities move by the fluxes as linearised in the last correction.
void take(const Model& m, State& s, const Iterate& i, const Correction& c, double h) {
  const Flows& f = i.flow;
  const double advance = f.advance.Q + f.advance.G * (c.pump - c.cap);
  const double feed = f.feed.Q + f.feed.G * (c.pump - c.rod);
  const double piston = f.piston.Q + f.piston.G * (c.cap - c.rod);
  s.y[M::N_pump] +=
      h * (f.pump - f.relief.Q - f.relief.G * c.pump - advance - feed - f.seat.Q - f.seat.G * c.pump);
  s.y[M::N_cap] += h * (advance - f.lower.Q - f.lower.G * c.cap - piston);
  s.y[M::N_rod] += h * (feed + piston - f.tank.Q - f.tank.G * c.rod);
  s.y[M::V_seat] = at_least(0.0, s.y[M::V_seat] + i.seat_dV + h * f.seat.G * c.pump);
  s.y[M::v] = i.v + c.v;
  s.y[M::x] += h * s.y[M::v];
  s.y[M::z] = i.bristles.z + i.bristles.dF_dv / m.p.friction.sigma * c.v;
}

void read_back(const Model& m, State& s, const Nodes& near, double h) {
  const double x = s.y[M::x];
  const double p_pump = m.oil.pressure(m.p.hose.V / s.y[M::N_pump], near.p_pump);
  const double p_cap = m.oil.pressure(m.cap_volume(x) / s.y[M::N_cap], near.p_cap);
  const double p_rod = m.oil.pressure(m.rod_volume(x) / s.y[M::N_rod], near.p_rod);
  s.rate_pump = (p_pump - s.at.p_pump) / h;
  s.rate_cap = (p_cap - s.at.p_cap) / h;
  s.rate_rod = (p_rod - s.at.p_rod) / h;
  set_pressures(m, s.at, p_pump, p_cap, p_rod);
  s.at.p_seat = s.y[M::V_seat] > 0.0 ? seat_pressure(m.p.seat, s.y[M::V_seat] / m.p.seat.A).p : 0.0;
}

void keep_books(const Model& m, State& s, const Openings& open, const StepLength& step) {
  const double moved = step.h * s.y[M::v];
  s.load = m.load(s.y[M::x], s.memory, s.x_grip);
  s.F_friction = m.p.friction.sigma * s.y[M::z] + m.p.friction.c * s.y[M::v];
  s.Q_pump = m.circuit.pump_flow(open);
  s.W_pump += s.at.p_pump * s.Q_pump * step.h;
  s.W_oil += (s.at.p_cap * m.p.ram.A_cap - s.at.p_rod * m.p.ram.A_rod) * moved;
  s.W_friction += s.F_friction * moved;
  s.W_load += s.load.F * moved;
  if (!m.p.rig.fitted) {
    m.strand.remember(s.memory, s.load.strand, seat_push(m.p.seat, s.y[M::V_seat] / m.p.seat.A));
  }
  const auto follow = [&s](M::Index i, double input, double keep) {
    s.y[i] = input + (s.y[i] - input) * keep;
  };
  follow(M::p_a, m.p.sensors.a_at_pump ? s.at.p_pump : s.at.p_cap, step.pressure);
  follow(M::p_b, m.p.sensors.b_at_pump ? s.at.p_pump : s.at.p_cap, step.pressure);
  follow(M::stroke, s.y[M::x], step.stroke);
  follow(M::cell, s.load.F, step.cell);
}

}  // namespace

StepLength::StepLength(const Parameters& p, double seconds)
    : h{seconds},
      spool{exponential(-seconds / p.valves.tau)},
      motor{exponential(-seconds / p.pump.tau_motor)},
      stage{exponential(-seconds / p.pump.tau_stage)},
      pressure{exponential(-seconds / p.sensors.tau_pressure)},
      stroke{exponential(-seconds / p.sensors.tau_stroke)},
      cell{exponential(-seconds / p.sensors.tau_cell)} {}

bool advance(const Model& m, State& s, const Acting& acting, const StepLength& step) {
  const double h = step.h;
  move_lags(s, acting, step);
  Openings open = m.openings(s.y[M::s_advance], s.y[M::s_lower], s.y[M::s_seat], s.y[M::s_shut_off]);
  open.speed = s.y[M::speed];
  open.stage = s.y[M::stage];
  Iterate i;
  i.v = s.y[M::v];
  i.at.p_seat = s.at.p_seat;
  set_pressures(m, i.at, s.at.p_pump + h * s.rate_pump, s.at.p_cap + h * s.rate_cap,
                s.at.p_rod + h * s.rate_rod);
  bool found = false;
  for (int n = 0; n < search_limit && !found; ++n) {
    i.flow = m.circuit.flows(open, i.at);
    solve_seat(m, i, s.y[M::V_seat], h);
    const Correction c = correct(m, s, i, h);
    found = c.small();
    if (found || n + 1 == search_limit) {
      take(m, s, i, c, h);
    } else {
      set_pressures(m, i.at, i.at.p_pump + c.pump, i.at.p_cap + c.cap, i.at.p_rod + c.rod);
      i.v += c.v;
    }
  }
  read_back(m, s, i.at, h);
  keep_books(m, s, open, step);
  return found;
}

}  // namespace strandproof::plant
