#include "tests/accuracy/jacks.hpp"

#include "sim/bench/machine.hpp"
#include "sim/board/noise.hpp"

namespace strandproof::sim {
namespace {

double between(double low, double high, double u) {
  return low + (high - low) * u;
}

// Draws of one case, taken in order. The board's noise counts ticks in the first argument and few blocks in
// the second: this block is never one of them.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : noise_{seed} {}
  double uniform(double low, double high) {
    const std::uint32_t n = count_++;
    return between(low, high, noise_.uniform(n / 4U, block)[n % 4U]);
  }
  double within(double half_width) { return uniform(-half_width, half_width); }
  double either_sign(double size) { return uniform(0.0, 1.0) < 0.5 ? -size : size; }
  double normal(double deviation) {
    return deviation *
           static_cast<double>(normal_quantile(static_cast<std::uint32_t>(uniform(0.0, two_to_32))));
  }

 private:
  static constexpr std::uint32_t block = 0x5EED;
  static constexpr double two_to_32 = 4294967296.0;
  Noise noise_;
  std::uint32_t count_ = 0;
};

// Bounds of the declared figures: catalogue range of industrial transmitters of class 0.25 to 0.5 and of ISO
// 376 cells of class 0.5 and 1; common practice.
Declared draw_declared(Draws& d) {
  Declared out;
  out.reference = d.uniform(0.0010, 0.0025);
  out.friction_share = d.uniform(0.05, 0.12);
  out.temperature = d.uniform(5.0, 15.0);
  out.gain_per_kelvin = d.uniform(20e-6, 100e-6);
  out.zero_per_kelvin = d.uniform(10e-6, 50e-6);
  out.gain_drift = d.uniform(0.0005, 0.0020);
  out.zero_drift = d.uniform(0.0001, 0.0005);
  return out;
}

SensorErrors draw_sensor(Draws& d, const Declared& by) {
  SensorErrors s;
  s.gain = d.within(0.0025);
  s.zero = d.within(0.001);
  s.linearity = d.within(0.001);
  s.gain_drift = d.within(by.gain_drift);
  s.zero_drift = d.within(by.zero_drift);
  s.gain_per_kelvin = d.either_sign(by.gain_per_kelvin);
  s.zero_per_kelvin = d.either_sign(by.zero_per_kelvin);
  return s;
}

void put(ChannelParameters& channel, const SensorErrors& s, bool drifted, double kelvin) {
  channel.gain = s.gain + (drifted ? s.gain_drift + s.gain_per_kelvin * kelvin : 0.0);
  channel.zero = s.zero + (drifted ? s.zero_drift + s.zero_per_kelvin * kelvin : 0.0);
  channel.linearity = s.linearity;
}

}  // namespace

Scenario jack_of_seed(std::uint64_t seed) {
  Scenario s;
  s.seed = seed;
  const Noise noise(seed);
  const auto u = noise.uniform(0, 0);
  const auto w = noise.uniform(1, 0);
  s.valves.delay = between(0.005, 0.040, u[0]);
  s.pump.scale = between(0.8, 1.2, u[1]);
  s.oil.air = between(0.001, 0.03, u[2]);
  s.jack.friction = between(0.01, 0.05, u[3]);
  s.jack.friction_scatter = between(-0.05, 0.05, w[0]);
  s.sensors.noise = 0.001;
  return s;
}

Case case_of_seed(std::uint64_t seed) {
  Draws d(seed);
  Case c;
  c.scenario = jack_of_seed(seed);
  c.scenario.jack.area = d.uniform(47.5e-4, 48.5e-4);
  c.scenario.jack.seal_force = d.uniform(100.0, 600.0);
  // 15.2 mm Y1860S7 (EN 10138-3), so that the whole range of the table is far from a break.
  c.scenario.strand.area = 140e-6;
  c.scenario.strand.breaking_force = 260e3;
  c.scenario.strand.proof_force = 224e3;
  c.scenario.strand.length = d.uniform(10.0, 40.0);
  c.declared = draw_declared(d);
  c.cell_gain = d.normal(0.5 * c.declared.reference);
  c.cell_zero = d.normal(0.0001);
  for (SensorErrors& sensor : c.sensor) {
    sensor = draw_sensor(d, c.declared);
  }
  for (double& scatter : c.run_scatter) {
    scatter = d.within(c.declared.friction_share);
  }
  c.use_scatter = d.within(c.declared.friction_share);
  c.use_kelvin = d.within(c.declared.temperature);
  c.use_share = d.uniform(0.0, 1.0);
  c.use_channel = d.uniform(0.0, 1.0) < 0.5 ? 0 : 1;
  return c;
}

BoardParameters rig_board(const Case& c, int run) {
  BoardParameters b = board_of(c.scenario, true);
  b.seed += static_cast<std::uint64_t>(run) << 48U;  // the noise of one run is not that of the next
  put(b.pressure_a, c.sensor[0], false, 0.0);
  put(b.pressure_b, c.sensor[1], false, 0.0);
  b.load_cell.gain = c.cell_gain;
  b.load_cell.zero = c.cell_zero;
  return b;
}

BoardParameters use_board(const Case& c) {
  BoardParameters b = board_of(c.scenario, false);
  put(b.pressure_a, c.sensor[0], true, c.use_kelvin);
  put(b.pressure_b, c.sensor[1], true, c.use_kelvin);
  return b;
}

}  // namespace strandproof::sim
