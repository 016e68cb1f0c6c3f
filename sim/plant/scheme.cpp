#include "sim/plant/scheme.hpp"

#include "sim/plant/grip.hpp"

namespace strandproof::plant {
namespace {

using M = Model;

constexpr int search_limit = 12;
constexpr double p_near = 20.0;  // Pa; the error left is the square of a correction of this size
constexpr double v_near = 1e-7;  // m/s
constexpr Miss holds{.F = 5.0, .p = 1e4};
// Pa; a correction may point below vacuum, the oil's air sets in before.
constexpr double least_pressure = 0.01 * p_atmosphere - p_atmosphere;

// Everything at one iterate of pressures and ram speed.
struct Iterate {
  Nodes at;
  double v = 0.0;
  Flows flow;
  Load load;
  StopForce stop;
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

// Spools, motor and stage at the end of the step; openings and pump by their means over it.
void move_lags(const Model& m, const State& from, State& to, const Acting& a, const StepLength& step) {
  to.acting = a;
  if (from.lags_rest && a == from.acting) {
    return;
  }
  to.lags_rest = true;
  const auto follow = [&](M::Index i, bool on, const Keep& keep) {
    const double input = on ? 1.0 : 0.0, before = from.y[i];
    to.y[i] = lagged(before, input, keep.end);
    to.lags_rest = to.lags_rest && before == input;
    return input + (before - input) * keep.mean;
  };
  const double advance = follow(M::s_advance, a.advance, step.spool);
  const double lower = follow(M::s_lower, a.lower, step.spool);
  const double seat = follow(M::s_seat, a.seat, step.spool);
  to.open = m.openings(advance, lower, seat, follow(M::s_shut_off, a.shut_off, step.spool));
  to.open.speed = follow(M::speed, a.motor, step.motor);
  to.open.stage = follow(M::stage, a.fast_stage, step.stage);
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
  const double F_slide = sliding_friction(fr, ram, i.at.p_cap, i.at.p_rod, i.v);
  i.bristles = bristles_after(fr, F_slide, i.v, s.y[M::z], h);
  const double rub = i.bristles.dF_dslide * fr.fraction * (1.0 + fr.scatter);

  const double per_inertia =
      1.0 / (ram.m + h * (fr.c + i.bristles.dF_dv + i.stop.c) + h * h * (i.load.k + i.stop.k));
  const double force = m.ram_force(i.at, i.load.F, fr.sigma * i.bristles.z, i.stop, i.v);
  const double v0 = (h * force - ram.m * (i.v - s.y[M::v])) * per_inertia;
  const double v_cap = h * ram.A_cap * (1.0 - rub) * per_inertia;
  const double v_rod = -h * ram.A_rod * (1.0 + rub) * per_inertia;

  const Flows& f = i.flow;
  const double N_pump = m.p.hose.V * i.at.pump.density;
  const double N_cap = m.cap_volume(x) * i.at.cap.density;
  const double N_rod = m.rod_volume(x) * i.at.rod.density;
  const double grown = 1.0 + h * m.growth;  // of what was there
  const double r_pump =
      s.y[M::N_pump] * grown - N_pump + h * (f.pump - f.relief.Q - f.advance.Q - f.feed.Q - f.seat.Q);
  const double r_cap = s.y[M::N_cap] * grown - N_cap + h * (f.advance.Q - f.lower.Q - f.piston.Q);
  const double r_rod = s.y[M::N_rod] * grown - N_rod + h * (f.feed.Q + f.piston.Q - f.tank.Q);
  const double e_cap = h * ram.A_cap * i.at.cap.density;  // N taken up per speed
  const double e_rod = -h * ram.A_rod * i.at.rod.density;

  const double a11 =
      N_pump * i.at.pump.stiffness + h * (f.relief.G + f.advance.G + f.feed.G + f.seat.G - f.pump_G);
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
  at.p_pump = at_least(least_pressure, p_pump);
  at.p_cap = at_least(least_pressure, p_cap);
  at.p_rod = at_least(least_pressure, p_rod);
  at.pump = m.oil.at(at.p_pump);
  at.cap = m.oil.at(at.p_cap);
  at.rod = m.oil.at(at.p_rod);
}

// Conserved quantities move by the fluxes as linearised in the last correction.
void take(const Model& m, const State& from, State& to, const Iterate& i, const Correction& c, double h) {
  const Flows& f = i.flow;
  const double advance = f.advance.Q + f.advance.G * (c.pump - c.cap);
  const double feed = f.feed.Q + f.feed.G * (c.pump - c.rod);
  const double piston = f.piston.Q + f.piston.G * (c.cap - c.rod);
  const double seat = f.seat.Q + f.seat.G * c.pump;
  const double grown = 1.0 + h * m.growth;
  to.y[M::N_pump] = from.y[M::N_pump] * grown +
                    h * (f.pump - f.relief.Q + (f.pump_G - f.relief.G) * c.pump - advance - feed - seat);
  to.y[M::N_cap] = from.y[M::N_cap] * grown + h * (advance - f.lower.Q - f.lower.G * c.cap - piston);
  to.y[M::N_rod] = from.y[M::N_rod] * grown + h * (feed + piston - f.tank.Q - f.tank.G * c.rod);
  to.y[M::V_seat] = at_least(0.0, from.y[M::V_seat] + i.seat_dV + h * f.seat.G * c.pump);
  to.y[M::v] = i.v + c.v;
  to.y[M::x] = from.y[M::x] + h * to.y[M::v];
  to.y[M::z] = i.bristles.z + i.bristles.dF_dv * m.per_sigma * c.v;
}

// The pressures that the contents have now; how far they lie from where the correction pointed.
double read_back(const Model& m, State& to, const Nodes& near, const Correction& c) {
  const double p_pump = near.p_pump + c.pump, p_cap = near.p_cap + c.cap, p_rod = near.p_rod + c.rod;
  const double x = to.y[M::x];
  const auto set = [&m](double N, double V, double guess, double& p, Specific& oil) {
    const Reading r = m.oil.read(N, V, at_least(least_pressure, guess));
    p = r.p;
    oil = r.oil;
    return magnitude(r.p - guess);
  };
  const double pump = set(to.y[M::N_pump], m.p.hose.V, p_pump, to.at.p_pump, to.at.pump);
  const double cap = set(to.y[M::N_cap], m.cap_volume(x), p_cap, to.at.p_cap, to.at.cap);
  const double rod = set(to.y[M::N_rod], m.rod_volume(x), p_rod, to.at.p_rod, to.at.rod);
  return at_least(pump, at_least(cap, rod));
}

double read_seat(const Model& m, const State& from, State& to) {
  const double V = to.y[M::V_seat], before = from.y[M::V_seat];
  if (V == 0.0 && before == 0.0) {
    return 0.0;
  }
  to.at.p_seat = V > 0.0 ? seat_pressure(m.p.seat, V / m.p.seat.A).p : 0.0;
  const double slope = seat_pressure(m.p.seat, before / m.p.seat.A).dp_dV;
  return magnitude(to.at.p_seat - from.at.p_seat - slope * (V - before));
}

void keep_books(const Model& m, const State& from, State& to, double h) {
  const double moved = h * to.y[M::v];
  to.load = m.load(to.y[M::x], from.memory, from.x_grip);
  to.F_friction = m.p.friction.sigma * to.y[M::z] + m.p.friction.c * to.y[M::v];
  const auto mean = [](double a, double b) { return 0.5 * (a + b); };
  to.W_pump =
      from.W_pump + mean(from.at.p_pump, to.at.p_pump) * m.circuit.pump_flow(to.open, to.at.p_pump) * h;
  to.W_oil = from.W_oil + (mean(from.at.p_cap, to.at.p_cap) * m.p.ram.A_cap -
                           mean(from.at.p_rod, to.at.p_rod) * m.p.ram.A_rod) *
                              moved;
  to.W_friction = from.W_friction + mean(from.F_friction, to.F_friction) * moved;
  to.W_load = from.W_load + mean(from.load.F, to.load.F) * moved;
  if (!m.p.rig.fitted) {
    const double push = to.y[M::V_seat] > 0.0 ? seat_push(m.p.seat, to.y[M::V_seat] / m.p.seat.A) : 0.0;
    m.strand.remember(to.memory, to.load.strand, push, h);
    to.x_grip = grip_after(m.p.grip, to.y[M::x], from.x_grip, to.load.strand.u);
  }
}

Miss finish(const Model& m, const State& from, State& to, const Iterate& i, const Correction& c, double h) {
  take(m, from, to, i, c, h);
  const StopForce stop = m.stops(to.y[M::x], to.y[M::v]);
  const double load_tangent = i.load.F + i.load.k * h * c.v;
  const double stop_tangent = i.stop.F - (i.stop.k * h + i.stop.c) * c.v;
  const double off = at_least(read_back(m, to, i.at, c), read_seat(m, from, to));
  keep_books(m, from, to, h);
  return {magnitude(to.load.F - load_tangent) + magnitude(stop.F - stop_tangent), off};
}

}  // namespace

State rest(const Model& m) {
  State s;
  s.y = m.start();
  s.at = m.nodes(s.y);
  s.memory = m.strand.fresh();
  s.x_grip = m.p.ram.x_start;
  s.load = m.load(s.y[M::x], s.memory, s.x_grip);
  return s;
}

Keep::Keep(double h, double tau) : end{exponential(-h / tau)}, mean{(1.0 - end) * tau / h} {}

StepLength::StepLength(const Parameters& p, double seconds)
    : h{seconds},
      spool{seconds, p.valves.tau},
      motor{seconds, p.pump.tau_motor},
      stage{seconds, p.pump.tau_stage} {}

Miss follow(const Model& m, const State& from, State& to, const Acting& acting, const StepLength& step) {
  to = from;
  move_lags(m, from, to, acting, step);
  Iterate i;
  i.v = from.y[M::v];
  i.at = from.at;
  i.load = from.load;
  i.load.F += i.load.k * step.h * i.v;
  i.stop = m.stops(from.y[M::x], i.v);
  i.stop.F -= i.stop.k * step.h * i.v;
  i.flow = m.circuit.flows(to.open, i.at);
  solve_seat(m, i, from.y[M::V_seat], step.h);
  const Correction c = correct(m, from, i, step.h);
  return finish(m, from, to, i, c, step.h);
}

bool search(const Model& m, const State& from, State& to, const Acting& acting, const StepLength& step) {
  const double h = step.h;
  to = from;
  move_lags(m, from, to, acting, step);
  Iterate i;
  i.v = from.y[M::v];
  i.at = from.at;
  for (int n = 1;; ++n) {
    const double x = from.y[M::x] + h * i.v;
    i.load = m.load(x, from.memory, from.x_grip);
    i.stop = m.stops(x, i.v);
    i.flow = m.circuit.flows(to.open, i.at);
    solve_seat(m, i, from.y[M::V_seat], h);
    const Correction c = correct(m, from, i, h);
    if (c.small() || n == search_limit) {
      finish(m, from, to, i, c, h);
      return c.small();
    }
    set_pressures(m, i.at, i.at.p_pump + c.pump, i.at.p_cap + c.cap, i.at.p_rod + c.rod);
    i.v += c.v;
  }
}

bool advance(const Model& m, const State& from, State& to, const Acting& acting, const StepLength& step) {
  return follow(m, from, to, acting, step).within(holds) || search(m, from, to, acting, step);
}

}  // namespace strandproof::plant
