#include "sim/main/control_brain.hpp"

#include <algorithm>

#include "firmware/app/from_wire.hpp"

namespace strandproof::sim {
namespace {

using units::Force;
using units::Length;
using units::Pressure;
using units::Stiffness;

template <class Q>
Q quantity(double si) {
  return Q::from_si(static_cast<float>(si));
}

control::Name name_of_text(const std::string& text) {
  control::Name name{};
  std::copy_n(text.begin(), std::min(text.size(), name.size() - 1), name.begin());
  return name;
}

control::Refusal put(control::GaugeColumn& column, const Column& from) {
  return column.set(from.pressure_mbar.data(), from.force_n.data(),
                    static_cast<unsigned>(from.force_n.size()));
}

}  // namespace

control::Jack jack_of(const Scenario& s) {
  return {.serial = static_cast<std::uint32_t>(s.jack.serial),
          .sensor_a_serial = static_cast<std::uint32_t>(s.sensors.sensor_a_serial),
          .sensor_b_serial = static_cast<std::uint32_t>(s.sensors.sensor_b_serial),
          .pressure_span = quantity<Pressure>(s.sensors.pressure_span),
          .pressure_rig_rating = quantity<Pressure>(s.jack.rig_rating),
          .pressure_limit = quantity<Pressure>(s.jack.pressure_limit),
          .stroke_span = quantity<Length>(s.sensors.stroke_span),
          .stroke_usable = quantity<Length>(s.jack.stroke_usable)};
}

ControlBrain::ControlBrain(const Scenario& scenario)
    : scenario_{scenario}, controller_{jack_of(scenario), control::default_settings} {
  controller_.gates({.clock = control::Refusal::none});  // there is no clock here and no bed book
}

std::uint8_t ControlBrain::install(const PlainTable& plain) {
  control::GaugeTable table;
  table.revision = static_cast<std::uint32_t>(scenario_.rig.revision);
  table.jack_serial = static_cast<std::uint32_t>(scenario_.jack.serial);
  table.sensor_a_serial = static_cast<std::uint32_t>(scenario_.sensors.sensor_a_serial);
  table.sensor_b_serial = static_cast<std::uint32_t>(scenario_.sensors.sensor_b_serial);
  for (const control::Refusal r :
       {put(table.a_increasing, plain.a_increasing), put(table.a_decreasing, plain.a_decreasing),
        put(table.b_increasing, plain.b_increasing), put(table.b_decreasing, plain.b_decreasing)}) {
    if (r != control::Refusal::none) {
      return static_cast<std::uint8_t>(r);
    }
  }
  return static_cast<std::uint8_t>(controller_.install(table));
}

std::uint8_t ControlBrain::load(const PlannedPull& p) {
  control::PullInstruction i;
  i.id = static_cast<std::uint32_t>(scenario_.plan.id);
  i.bed = static_cast<std::uint32_t>(scenario_.bed.number);
  i.position = static_cast<std::uint32_t>(scenario_.bed.position);
  i.reel = static_cast<std::uint32_t>(scenario_.bed.reel);
  i.jack_serial = static_cast<std::uint32_t>(scenario_.jack.serial);
  i.bed_name = name_of_text(scenario_.bed.name);
  i.strand_name = name_of_text(scenario_.strand.name);
  i.initial = quantity<Force>(p.initial);
  i.seated = quantity<Force>(p.seated);
  i.jack = quantity<Force>(p.jack);
  i.limit = quantity<Force>(p.limit);
  i.stiffness = quantity<Stiffness>(p.stiffness);
  i.stiffness_uncertainty = static_cast<float>(p.stiffness_uncertainty);
  i.elongation = quantity<Length>(p.elongation);
  i.elongation_min = quantity<Length>(p.elongation_min);
  i.elongation_max = quantity<Length>(p.elongation_max);
  i.draw_in = quantity<Length>(p.draw_in);
  i.draw_in_max = quantity<Length>(p.draw_in_max);
  i.slack_max = quantity<Length>(p.slack_max);
  i.force_window = static_cast<float>(p.force_window);
  return static_cast<std::uint8_t>(controller_.load(i));
}

Answer ControlBrain::tick(const port::RawSample& sample) {
  const control::Commands commands = controller_.tick(app::inputs_of(sample, now_++));
  if (controller_.report().pull_ended) {
    verdict_ = static_cast<std::uint8_t>(controller_.pull().report().verdict);
  }
  const control::CoreState& core = controller_.core();
  return {.outputs = app::bits_of(commands),
          .state = static_cast<std::uint8_t>(core.state),
          .cause = static_cast<std::uint8_t>(core.cause),
          .load_state = static_cast<std::uint8_t>(core.load)};
}

}  // namespace strandproof::sim
