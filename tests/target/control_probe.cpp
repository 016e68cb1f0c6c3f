#include "tests/target/control_probe.hpp"

#include <array>
#include <bit>
#include <cstring>

#include "firmware/app/from_wire.hpp"

namespace strandproof::probe {
namespace {

control::Jack jack_of(const port::Device& d) {
  return {.serial = d.jack_serial,
          .sensor_a_serial = d.sensor_a_serial,
          .sensor_b_serial = d.sensor_b_serial,
          .pressure_span = d.pressure_span,
          .pressure_rig_rating = d.pressure_rig_rating,
          .pressure_limit = d.pressure_limit,
          .stroke_span = d.stroke_span,
          .stroke_usable = d.stroke_usable};
}

void fill(control::GaugeColumn& column, const ControlSetting::Points& from) {
  (void)column.set(from.pressure_mbar.data(), from.force_n.data(), ControlSetting::points);
}

}  // namespace

ControlProbe::ControlProbe(const port::Device& device, port::Flash&, port::Serial& serial)
    : device_{device}, serial_{serial}, controller_{jack_of(device), control::default_settings} {}

void ControlProbe::start() {
  controller_.gates({.clock = control::Refusal::none});
}

void ControlProbe::take_setting() {
  std::array<std::uint8_t, sizeof(ControlSetting)> bytes;
  if (serial_.read(bytes) != bytes.size()) {
    return;
  }
  ControlSetting setting;
  std::memcpy(&setting, bytes.data(), bytes.size());
  control::GaugeTable table;
  table.revision = 1;
  table.jack_serial = device_.jack_serial;
  table.sensor_a_serial = device_.sensor_a_serial;
  table.sensor_b_serial = device_.sensor_b_serial;
  fill(table.a_increasing, setting.a_increasing);
  fill(table.a_decreasing, setting.a_decreasing);
  fill(table.b_increasing, setting.b_increasing);
  fill(table.b_decreasing, setting.b_decreasing);
  (void)controller_.install(table);
  (void)controller_.load(setting.instruction);
}

void ControlProbe::hash(float value) {
  const std::uint32_t bits = value == value ? std::bit_cast<std::uint32_t>(value) : 0x7FC00000U;
  for (unsigned i = 0; i < 4; ++i) {
    hash_ = (hash_ ^ ((bits >> (8U * i)) & 0xFFU)) * 16777619U;
  }
}

void ControlProbe::hash_channel(const control::Channel& c) {
  const control::Line line = c.line();
  for (const float v :
       {c.mean16(), c.mean64(), c.mean200(), c.before(), c.noise(), line.counts, line.counts_per_tick}) {
    hash(v);
  }
}

void ControlProbe::hash_all() {
  const control::Measures& m = controller_.measures();
  hash_channel(m.a);
  hash_channel(m.b);
  hash_channel(m.stroke);
  const control::ForcePair f = controller_.force();
  const control::StrokeLine s = m.stroke_line();
  const control::PullReport& r = controller_.pull().report();
  for (const float v : {f.a.force.si(), f.a.rate, m.deviation(m.a, f.a), f.b.force.si(), f.b.rate,
                        m.deviation(m.b, f.b), f.mean().si(), s.at.si(), s.speed, m.pressure_now().si(),
                        r.datum_force.si(), r.settle.si(), r.peak.si(), r.locked.si(), r.datum_stroke.si(),
                        r.elongation.si(), r.draw_in.si(), r.stiffness_seen.si(), r.run_on_s}) {
    hash(v);
  }
}

ControlAnswer ControlProbe::tick(const port::RawSample& sample) {
  take_setting();
  (void)controller_.tick(app::inputs_of(sample, now_++));
  hash_all();
  return {static_cast<std::uint8_t>(hash_), static_cast<std::uint8_t>(controller_.core().state),
          static_cast<std::uint8_t>(hash_ >> 8U), static_cast<std::uint8_t>(hash_ >> 16U)};
}

}  // namespace strandproof::probe
