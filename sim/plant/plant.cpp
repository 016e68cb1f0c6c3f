#include "sim/plant/plant.hpp"

#include "sim/plant/scheme.hpp"

namespace strandproof::plant {
namespace {

using M = Model;

constexpr double tick = 1e-3;             // s
constexpr double quick_pressure = 0.3e6;  // Pa within a tick; beyond it the tick is redone finer
constexpr double quick_speed = 10e-3;     // m/s
constexpr double no_load = 50.0;          // N

struct Delays {
  Delay motor, stage, advance, lower, seat, shut_off;
  explicit Delays(double seconds)
      : motor{0.0}, stage{seconds}, advance{seconds}, lower{seconds}, seat{seconds}, shut_off{seconds} {}
  Acting tick_all(const Drive& d) {
    return {.motor = motor.tick(d.motor),
            .fast_stage = stage.tick(d.fast_stage),
            .advance = advance.tick(d.advance),
            .lower = lower.tick(d.lower),
            .seat = seat.tick(d.seat),
            .shut_off = shut_off.tick(d.shut_off_open)};
  }
};

bool spool_moves(const State& s, const Acting& a) {
  const auto moves = [&s](M::Index i, bool on) { return s.y[i] != (on ? 1.0 : 0.0); };
  return moves(M::s_advance, a.advance) || moves(M::s_lower, a.lower) || moves(M::s_seat, a.seat) ||
         moves(M::s_shut_off, a.shut_off);
}

bool quick(const State& before, const State& after) {
  const auto far = [](double a, double b) { return magnitude(a - b) > quick_pressure; };
  return far(before.at.p_pump, after.at.p_pump) || far(before.at.p_cap, after.at.p_cap) ||
         far(before.at.p_rod, after.at.p_rod) || magnitude(after.y[M::v]) > quick_speed ||
         magnitude(before.y[M::v]) > quick_speed;
}

}  // namespace

struct Plant::Inside {
  explicit Inside(const Parameters& p)
      : sound{p},
        model{p},
        whole{p, tick / p.scheme.substeps},
        fine{p, tick / p.scheme.substeps_transient},
        delays{p.valves.delay} {
    state.y = model.start();
    state.at = model.nodes(state.y);
    state.memory = model.strand.fresh();
    state.x_grip = p.ram.x_start;
    publish();
  }

  bool run(const Acting& acting, const StepLength& step, int count) {
    bool found = true;
    for (int i = 0; i < count; ++i) {
      found = advance(model, state, acting, step) && found;
    }
    return found;
  }

  void step(const Drive& drive) {
    const Acting acting = delays.tick_all(drive);
    const State before = state;
    const bool fine_at_once = spool_moves(before, acting) || magnitude(before.y[M::v]) > quick_speed;
    if (!fine_at_once && run(acting, whole, model.p.scheme.substeps) && !quick(before, state)) {
      publish();
      return;
    }
    state = before;
    run(acting, fine, model.p.scheme.substeps_transient);
    publish();
  }

  void publish();

  Parameters sound;
  Model model;
  StepLength whole, fine;
  Delays delays;
  State state;
  Truth truth;
};

void Plant::Inside::publish() {
  const State& s = state;
  const StrandForces& strand = s.load.strand;
  Truth& t = truth;
  t.p_cap = s.at.p_cap;
  t.p_rod = s.at.p_rod;
  t.p_pump = s.at.p_pump;
  t.x_ram = s.y[M::x];
  t.v_ram = s.y[M::v];
  t.F_strand_live = strand.F_strand;
  t.F_jack = s.load.F;
  t.F_chuck = strand.F_chuck;
  t.F_friction = s.F_friction;
  t.elongation = strand.u;
  t.draw_in = strand.F_chuck > 0.0 ? s.memory.u_hold + model.strand.live_draw_in(s.memory) - strand.u : 0.0;
  t.dead_draw_in = model.strand.dead_draw_in(s.memory.F_dead_max);
  t.slack_left = at_least(0.0, model.strand.straight(s.memory) - at_least(0.0, strand.u));
  t.wedges_pushed = s.memory.pushed;
  t.broken = s.memory.broken;
  t.Q_pump = s.Q_pump;
  t.W_pump = s.W_pump;
  t.W_oil = s.W_oil;
  t.W_friction = s.W_friction;
  t.W_load = s.W_load;
  t.p_a = s.y[M::p_a];
  t.p_b = s.y[M::p_b];
  t.stroke = s.y[M::stroke];
  t.cell = s.y[M::cell];
  t.T_oil = model.p.oil.T;
}

Plant::Plant(const Parameters& parameters) : inside_{std::make_unique<Inside>(parameters)} {}
Plant::~Plant() = default;
Plant::Plant(Plant&& other) noexcept = default;
Plant& Plant::operator=(Plant&& other) noexcept = default;

void Plant::step(const Drive& drive) {
  inside_->step(drive);
}
const Truth& Plant::truth() const {
  return inside_->truth;
}
void Plant::break_strand() {
  inside_->state.memory.broken = true;
}

void Plant::ail(const Ailments& a) {
  constexpr double wires = 7.0;
  constexpr double p_leak = 30e6;                     // Pa, at which a leak is stated
  constexpr double G_burst = 2.0e-3 / 60.0 / 0.05e6;  // m3/s/Pa: all of the pump's flow at half a bar
  constexpr double p_burst =
      0.1e6;  // Pa, what is left in the line; a relief valve of this plant takes no less
  const Parameters& sound = inside_->sound;
  Parameters p = sound;
  p.strand.A *= (wires - a.wires_lost) / wires;
  p.strand.L *= a.free_length;
  p.strand.k_abutment *= a.abutment;
  p.pump.scale *= a.pump;
  p.pump.p_relief = a.relief > 0.0 ? a.relief : sound.pump.p_relief;
  if (a.hose_burst) {
    p.pump.p_relief = p_burst;
    p.pump.G_relief = G_burst;
  }
  p.ram.G_leak += a.leak / p_leak;
  p.ram.G_piston += a.piston_leak / p_leak;
  inside_->model = Model(p);
}

void Plant::slip(Slip where, double by) {
  State& s = inside_->state;
  switch (where) {
    case Slip::dead_end:
      s.memory.slipped += by;
      break;
    case Slip::live_end:
      s.memory.u_hold -= by;
      break;
    case Slip::grip:
      s.x_grip += by;
      break;
  }
}

bool Plant::thread_strand() {
  State& s = inside_->state;
  if (s.load.F > no_load) {
    return false;
  }
  s.memory = inside_->model.strand.fresh();
  s.x_grip = s.y[M::x];
  s.load = inside_->model.load(s.y[M::x], s.memory, s.x_grip);
  inside_->publish();
  return true;
}

}  // namespace strandproof::plant
