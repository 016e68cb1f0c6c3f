#include "sim/plant/plant.hpp"

#include <optional>
#include <vector>

#include "sim/plant/delays.hpp"
#include "sim/plant/runner.hpp"
#include "sim/plant/sensing.hpp"

namespace strandproof::plant {
namespace {

constexpr double no_load = 50.0;  // N

// Something that happened along the strand and is on its way to the live end.
struct News {
  int ticks = 0;  // until it is there
  bool breaks = false;
  double slipped = 0.0;                     // m, out of the dead-end chuck
  std::optional<unsigned> wires_lost = {};  // so many from now on
  std::optional<double> free_length = {};   // this share from now on
};

}  // namespace

struct Plant::Inside {
  explicit Inside(const Parameters& p) : sound{p}, runner{p}, delays{p.valves.delay}, sensing{p.sensors} {
    show();
    truth.stroke = truth.x_ram;
    truth.T_oil = p.oil.T;
  }
  void show() {
    static_cast<Moving&>(truth) = runner.moving(runner.state());
    truth.broken = runner.state().memory.broken;
  }
  void step(const Drive& drive) {
    if (!news.empty()) {
      hear();
    }
    const Sensing::Inputs was = sensing.inputs(truth);
    const bool changed = delays.tick(drive);
    if (runner.tick(delays.acting(), changed, truth)) {
      const State& s = runner.state();
      truth.broken = s.memory.broken;
      truth.Q_pump = runner.model.circuit.pump_flow(s.open, s.at.p_pump);
    }
    sensing.follow(truth, was);
    truth.T_oil += sound.oil.warming * tick_s;
  }

  // One tick nearer; what has arrived is felt in the step that follows.
  void hear() {
    for (News& n : news) {
      if (--n.ticks < 0) {
        feel(n);
      }
    }
    std::erase_if(news, [](const News& n) { return n.ticks < 0; });
  }
  void feel(const News& n) {
    runner.come_back();
    State& s = runner.state();
    s.memory.broken = s.memory.broken || n.breaks;
    s.memory.slipped += n.slipped;
    if (n.wires_lost || n.free_length) {
      ailing.wires_lost = n.wires_lost.value_or(ailing.wires_lost);
      ailing.free_length = n.free_length.value_or(ailing.free_length);
      runner.model = Model(with(ailing));
    }
    runner.reload();
  }
  // The contents that make the pressures of before with the air of now.
  void mix() {
    State& s = runner.state();
    s.at.pump = runner.model.oil.at(s.at.p_pump);
    s.at.cap = runner.model.oil.at(s.at.p_cap);
    s.at.rod = runner.model.oil.at(s.at.p_rod);
    s.y[Model::N_pump] = runner.model.p.hose.V * s.at.pump.density;
    s.y[Model::N_cap] = runner.model.cap_volume(s.y[Model::x]) * s.at.cap.density;
    s.y[Model::N_rod] = runner.model.rod_volume(s.y[Model::x]) * s.at.rod.density;
  }
  void tell(double distance, News n) {
    n.ticks = wave_ticks(distance);
    news.push_back(n);
  }
  [[nodiscard]] int wave_ticks(double distance) const {
    return static_cast<int>(distance / root(sound.strand.E / rho_steel) / tick_s);
  }
  [[nodiscard]] Parameters with(const Ailments& a) const;

  Parameters sound;
  Ailments told, ailing;  // what was said last, and what the live end feels of it
  std::vector<News> news;
  Runner runner;
  Delays delays;
  Sensing sensing;
  Truth truth;
};

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
int Plant::wave_ticks(double from_live_end) const {
  return inside_->wave_ticks(from_live_end);
}
void Plant::break_strand(double from_live_end) {
  inside_->tell(from_live_end, {.breaks = true});
}

void Plant::ail(const Ailments& a) {
  Inside& in = *inside_;
  if (a == in.told) {
    return;
  }
  if (a.wires_lost != in.told.wires_lost) {
    in.tell(a.wires_at, {.wires_lost = a.wires_lost});
  }
  if (a.free_length != in.told.free_length) {
    in.tell(a.snag_at, {.free_length = a.free_length});
  }
  in.told = a;
  const Ailments felt = in.ailing;
  const Oil oil = in.runner.model.p.oil;
  in.ailing = a;
  in.ailing.wires_lost = felt.wires_lost;
  in.ailing.free_length = felt.free_length;
  in.runner.come_back();
  in.runner.model = Model(in.with(in.ailing));
  in.sensing.tap(a.a_at_pump, a.b_at_pump);
  in.truth.T_oil += in.runner.model.p.oil.T - oil.T;
  if (in.runner.model.p.oil.air != oil.air) {
    in.mix();
  }
  in.runner.reload();
}

Parameters Plant::Inside::with(const Ailments& a) const {
  constexpr double wires = 7.0;
  constexpr double p_leak = 30e6;                     // Pa, at which a leak is stated
  constexpr double G_burst = 2.0e-3 / 60.0 / 0.05e6;  // m3/s/Pa: all of the pump's flow at half a bar
  constexpr double p_burst =
      0.1e6;  // Pa, what is left in the line; a relief valve of this plant takes no less
  Parameters p = sound;
  p.strand.A *= (wires - a.wires_lost) / wires;
  p.strand.L *= a.free_length;
  p.strand.k_abutment *= a.abutment;
  p.pump.scale *= a.pump;
  p.oil.T = a.T_oil != Ailments::same ? a.T_oil : sound.oil.T;
  p.oil.air = a.air != Ailments::same ? a.air : sound.oil.air;
  p.pump.p_relief = a.relief > 0.0 ? a.relief : sound.pump.p_relief;
  if (a.hose_burst) {
    p.pump.p_relief = p_burst;
    p.pump.G_relief = G_burst;
  }
  p.ram.G_leak += a.leak / p_leak;
  p.ram.G_piston += a.piston_leak / p_leak;
  return p;
}

void Plant::slip(Slip where, double by) {
  if (where == Slip::dead_end) {
    inside_->tell(inside_->sound.strand.L, {.slipped = by});
    return;
  }
  Runner& r = inside_->runner;
  r.come_back();
  State& s = r.state();
  if (where == Slip::live_end) {
    s.memory.u_hold -= by;
  } else {
    s.x_grip += by;
  }
  r.reload();
}

bool Plant::thread_strand() {
  Runner& r = inside_->runner;
  r.come_back();
  State& s = r.state();
  if (s.load.F > no_load) {
    return false;
  }
  inside_->news.clear();  // it was the last strand's
  s.memory = r.model.strand.fresh();
  s.x_grip = s.y[Model::x];
  r.reload();
  inside_->show();
  return true;
}

}  // namespace strandproof::plant
