#include "tests/accuracy/calibrated_jack.hpp"

#include <cmath>
#include <stdexcept>
#include <vector>

#include "firmware/control/measures.hpp"
#include "sim/bench/machine.hpp"
#include "sim/bench/rig.hpp"
#include "sim/main/control_brain.hpp"

namespace strandproof::sim {
namespace {

constexpr double give_up_s = 120.0;
constexpr double slow_before_n =
    1500.0;  // the conditioning's longest window and the corner before it lie in here

using port::Output;
constexpr port::OutputBits slow = static_cast<port::OutputBits>(
    port::bit(Output::motor) | port::bit(Output::shut_off_valve) | port::bit(Output::advance_valve));
constexpr port::OutputBits fast = static_cast<port::OutputBits>(slow | port::bit(Output::fast_stage));

RigRuns one_run(const Case& c, int run) {
  Scenario s = c.scenario;
  s.rig.runs = 1;
  plant::Parameters p = rig_plant(s);
  p.friction.scatter = c.run_scatter[run];
  SimBoard board(p, rig_board(c, run), {});
  ControlBrain brain(s);
  Bench bench(board, brain);
  RigRuns runs = run_rig(bench, s);
  if (!runs.failure.empty()) {
    throw std::runtime_error(runs.failure);
  }
  for (RigRow& row : runs.rows) {
    row.run = run + 1;
  }
  return runs;
}

control::GaugeColumn column_of(const std::vector<host::gauge::Point>& points) {
  std::vector<std::uint32_t> mbar, newton;
  for (const auto& p : points) {
    mbar.push_back(p.pressure_mbar);
    newton.push_back(p.force_n);
  }
  control::GaugeColumn column;
  if (column.set(mbar.data(), newton.data(), static_cast<unsigned>(points.size())) !=
      control::Refusal::none) {
    throw std::runtime_error("the controller refuses a column of the table");
  }
  return column;
}

}  // namespace

std::string rig_file(const Case& c) {
  RigRuns all;
  for (int run = 0; run < 3; ++run) {
    const RigRuns one = one_run(c, run);
    all.rows.insert(all.rows.end(), one.rows.begin(), one.rows.end());
  }
  return rig_csv(all, c.scenario, "2026-05-04T09:30:00+02:00");
}

host::gauge::TableOptions options_of(const Case& c, double largest_pressure_pa) {
  const Declared& d = c.declared;
  // Data sheets state shares of the sensor's span; the budget's are of the largest pressure of the runs.
  const double of_largest = c.scenario.sensors.pressure_span / largest_pressure_pa;
  host::gauge::TableOptions o;
  o.declared.reference_ppm = static_cast<std::uint32_t>(1e6 * d.reference + 0.5);
  o.declared.resolution_n = display_step_n;
  o.declared.friction_scatter_percent = 100.0 * d.friction_share;
  o.declared.temperature_k = d.temperature;
  o.declared.temperature_ppm_per_k = 1e6 * d.zero_per_kelvin * of_largest;
  o.declared.temperature_gain_ppm_per_k = 1e6 * d.gain_per_kelvin;
  o.declared.sensor_ppm = 1e6 * d.zero_drift * of_largest;
  o.declared.sensor_gain_ppm = 1e6 * d.gain_drift;
  return o;
}

Use pull_through(const Case& c, const host::gauge::Table& table, double true_n) {
  plant::Parameters p = bed_plant(c.scenario);
  p.friction.scatter = c.use_scatter;
  SimBoard board(p, use_board(c), {});
  const control::Jack jack = jack_of(c.scenario);
  control::Measures measures(jack);
  bool fast_stage = true;
  while (true) {
    const port::RawSample r = board.sample({});
    measures.sample({.pressure_a = r.pressure_a, .pressure_b = r.pressure_b, .stroke = r.stroke});
    if (board.truth().F_strand_live >= true_n) {
      break;
    }
    if (board.time_s() > give_up_s) {
      throw std::runtime_error("the strand never carried the force that was drawn");
    }
    if (fast_stage && board.truth().F_strand_live >= true_n - slow_before_n) {
      fast_stage = false;
      measures.flow_changed();
    }
    board.advance(fast_stage ? fast : slow);
  }
  Use use;
  use.true_n = board.truth().F_strand_live;
  const control::Channel* channel[2] = {&measures.a, &measures.b};
  for (std::size_t i = 0; i < 2; ++i) {
    const control::ForceLine line = measures.force_line(*channel[i], column_of(table.increasing[i].points));
    if (!line.valid) {
      throw std::runtime_error("the reading lies outside the table");
    }
    use.pressure_mbar[i] = static_cast<double>(measures.pressure(channel[i]->line().counts).si()) / 100.0;
    use.shown_n[i] = display_step_n * std::round(static_cast<double>(line.force.si()) / display_step_n);
  }
  return use;
}

Effects effects_of(const Case& c, const host::gauge::Table& table, std::size_t channel,
                   double pressure_mbar) {
  const SensorErrors& s = c.sensor[channel];
  const host::gauge::Fit& curve = table.increasing[channel].chosen();
  const double pressure = 100.0 * pressure_mbar;
  const double newton_per_pascal = curve.slope(pressure_mbar) / 100.0;
  const double span_n = newton_per_pascal * c.scenario.sensors.pressure_span;
  const double reading_n = newton_per_pascal * pressure;
  const double friction_n =
      c.scenario.jack.friction * pressure * c.scenario.jack.area + c.scenario.jack.seal_force;
  const double mean_run = (c.run_scatter[0] + c.run_scatter[1] + c.run_scatter[2]) / 3.0;
  return {.reference = c.cell_gain * curve.at(pressure_mbar),
          .friction = (c.use_scatter - mean_run) * friction_n,
          .temperature = (s.zero_per_kelvin * span_n + s.gain_per_kelvin * reading_n) * c.use_kelvin,
          .sensor = s.zero_drift * span_n + s.gain_drift * reading_n};
}

}  // namespace strandproof::sim
