#include "sim/plant/plant.hpp"

#include "sim/plant/delays.hpp"
#include "sim/plant/runner.hpp"
#include "sim/plant/sensing.hpp"

namespace strandproof::plant {
namespace {

constexpr double no_load = 50.0;  // N

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
    const Sensing::Inputs was = sensing.inputs(truth);
    if (runner.tick(delays.tick(drive), truth)) {
      const State& s = runner.state();
      truth.broken = s.memory.broken;
      truth.Q_pump = runner.model.circuit.pump_flow(s.open, s.at.p_pump);
    }
    sensing.follow(truth, was);
    truth.T_oil += sound.oil.warming * tick_s;
  }

  Parameters sound;
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
void Plant::break_strand() {
  Runner& r = inside_->runner;
  r.come_back();
  r.state().memory.broken = true;
  r.reload();
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
  Runner& r = inside_->runner;
  r.come_back();
  r.model = Model(p);
  r.reload();
}

void Plant::slip(Slip where, double by) {
  Runner& r = inside_->runner;
  r.come_back();
  State& s = r.state();
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
  r.reload();
}

bool Plant::thread_strand() {
  Runner& r = inside_->runner;
  r.come_back();
  State& s = r.state();
  if (s.load.F > no_load) {
    return false;
  }
  s.memory = r.model.strand.fresh();
  s.x_grip = s.y[Model::x];
  r.reload();
  inside_->show();
  return true;
}

}  // namespace strandproof::plant
