#include "sim/bench/machine.hpp"

#include <algorithm>

namespace strandproof::sim {
namespace {

constexpr double leak_pressure = 30e6;  // Pa, at which a leak is stated
constexpr double a_minute = 60.0;       // s
// Stress at 1 % strain: a share of f_pu as of a mill certificate, assumed; but the strongest grades are still
// nearly elastic there, and no steel passes its modulus times 1 %.
constexpr double one_percent_of_strength = 0.925;
constexpr double one_percent_of_elastic = 0.95;
constexpr double oil_noise = 0.001;  // of the span of the temperature transmitter

}  // namespace

plant::Parameters bed_plant(const Scenario& s) {
  plant::Parameters p;
  p.oil.K = s.oil.bulk_modulus;
  p.oil.air = s.oil.air;
  p.oil.T = s.oil.temperature;
  p.oil.grade = s.oil.grade;
  p.oil.warming = s.oil.warming / a_minute;
  p.pump.Q_fast = s.pump.fast_flow;
  p.pump.Q_slow = s.pump.slow_flow;
  p.pump.scale = s.pump.scale;
  p.pump.G_slip = s.pump.slip / leak_pressure;
  p.pump.p_relief = s.pump.relief;
  p.valves.delay = s.valves.delay;
  p.valves.tau = s.valves.lag;
  p.ram.A_cap = s.jack.area;
  p.ram.A_rod = s.jack.rod_area;
  p.ram.stroke = s.jack.stroke;
  p.ram.V_cap = s.oil.dead_volume;
  p.hose.V = s.oil.hose_volume;
  p.ram.G_leak = s.oil.leak / leak_pressure;
  p.friction.fraction = s.jack.friction;
  p.friction.F_seal = s.jack.seal_force;
  p.friction.scatter = s.jack.friction_scatter;
  p.strand.A = s.strand.area;
  p.strand.E = s.strand.modulus;
  p.strand.f_pu = s.strand.breaking_force / s.strand.area;
  p.strand.f_1 = s.strand.force_at_1_percent > 0.0 ? s.strand.force_at_1_percent / s.strand.area
                                                   : std::min(one_percent_of_strength * p.strand.f_pu,
                                                              one_percent_of_elastic * 0.01 * p.strand.E);
  p.strand.eps_u = s.strand.ultimate_strain;
  p.strand.L = s.strand.length;
  p.strand.L_tail = s.strand.tail;
  p.strand.slack = s.strand.slack;
  p.strand.friction = s.bed.friction;
  p.strand.warming = s.strand.warming / a_minute;
  p.strand.k_abutment = s.bed.abutment_stiffness;
  p.chucks.draw_in = s.bed.draw_in;
  p.chucks.draw_in_pushed = s.bed.draw_in_pushed;
  p.chucks.dead_draw_in = s.bed.dead_draw_in;
  p.grip.draw_in = s.jack.grip_draw_in;
  return p;
}

plant::Parameters rig_plant(const Scenario& s) {
  plant::Parameters p = bed_plant(s);
  p.friction.scatter = 0.0;
  p.rig.fitted = true;
  p.rig.k = s.rig.stiffness;
  return p;
}

BoardParameters board_of(const Scenario& s, bool rig) {
  BoardParameters b;
  // The rig's noise is not the pull's: one bit of the seed keeps them apart.
  b.seed = rig ? s.seed ^ (1ULL << 63U) : s.seed;
  b.first_tick = static_cast<std::uint32_t>(s.first_tick);
  b.pressure_a = {
      .low = 0.0, .high = s.sensors.pressure_span, .noise = s.sensors.noise, .gain = s.sensors.gain_a};
  b.pressure_b = {
      .low = 0.0, .high = s.sensors.pressure_span, .noise = s.sensors.noise, .gain = s.sensors.gain_b};
  b.stroke = {.low = 0.0, .high = s.sensors.stroke_span, .noise = s.sensors.stroke_noise};
  b.load_cell = {.low = 0.0, .high = s.sensors.cell_span, .noise = s.sensors.cell_noise};
  b.oil_temperature = {.low = oil_low_degc, .high = oil_high_degc, .noise = oil_noise};
  b.load_cell_fitted = rig;
  b.strand_length = s.strand.length;
  return b;
}

}  // namespace strandproof::sim
