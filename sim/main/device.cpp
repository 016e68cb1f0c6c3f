#include "sim/main/device.hpp"

namespace strandproof::sim {

port::Device device_of(const Scenario& s, port::Origin origin) {
  const auto si = [](double value) { return static_cast<float>(value); };
  const auto serial = [](double value) { return static_cast<std::uint32_t>(value); };
  port::Device d;
  d.jack_serial = serial(s.jack.serial);
  d.sensor_a_serial = serial(s.sensors.sensor_a_serial);
  d.sensor_b_serial = serial(s.sensors.sensor_b_serial);
  d.stroke_sensor_serial = serial(s.sensors.stroke_serial);
  d.origin = origin;
  d.pressure_span = units::Pressure::from_si(si(s.sensors.pressure_span));
  d.stroke_span = units::Length::from_si(si(s.sensors.stroke_span));
  d.stroke_usable = units::Length::from_si(si(s.jack.stroke_usable));
  d.load_cell_span = units::Force::from_si(si(s.sensors.cell_span));
  d.pressure_rig_rating = units::Pressure::from_si(si(s.jack.rig_rating));
  d.pressure_limit = units::Pressure::from_si(si(s.jack.pressure_limit));
  // A simulated jack keeps nothing secret: the secret is a pattern of its serial, so that runs repeat.
  for (std::size_t i = 0; i < d.secret.size(); ++i) {
    d.secret[i] = static_cast<std::uint8_t>((d.jack_serial >> (8U * (i % 4U))) + 37U * i);
  }
  return d;
}

}  // namespace strandproof::sim
