#include "host-tool/check/held_bytes.hpp"

#include <algorithm>
#include <charconv>

#include "strandproof/wire.pb.h"

namespace strandproof::host::check {
namespace {

void fill(wire::GaugeColumn* to, const std::vector<gauge::Point>& points) {
  for (const auto& p : points) {
    to->add_pressure_mbar(p.pressure_mbar);
    to->add_force_n(p.force_n);
  }
}

std::optional<std::vector<gauge::Point>> points_of(const wire::GaugeColumn& from, bool may_be_empty) {
  const bool empty = from.force_n_size() == 0;
  if (from.pressure_mbar_size() != from.force_n_size() || (empty && !may_be_empty)) return std::nullopt;
  std::vector<gauge::Point> points;
  for (int i = 0; i < from.force_n_size(); ++i) points.push_back({from.pressure_mbar(i), from.force_n(i)});
  return points;
}

}  // namespace

std::string held_bytes(const gauge::HeldTable& t, std::uint32_t revision) {
  wire::GaugeTable m;
  m.set_revision(revision);
  m.set_jack_serial(t.jack_serial);
  m.set_sensor_a_serial(t.sensor_serial[0]);
  m.set_sensor_b_serial(t.sensor_serial[1]);
  m.set_calibrated_s(static_cast<std::uint64_t>(t.calibrated_s));
  m.set_due_s(static_cast<std::uint64_t>(t.due_s));
  m.set_class_tenths(t.class_tenths);
  m.set_uncertainty_ppm(t.uncertainty_ppm);
  m.set_origin(static_cast<std::uint32_t>(t.origin));
  fill(m.mutable_a_increasing(), t.increasing[0]);
  fill(m.mutable_b_increasing(), t.increasing[1]);
  if (!t.decreasing[0].empty()) fill(m.mutable_a_decreasing(), t.decreasing[0]);
  if (!t.decreasing[1].empty()) fill(m.mutable_b_decreasing(), t.decreasing[1]);
  return m.SerializeAsString();
}

std::optional<gauge::HeldTable> from_held_bytes(const std::string& bytes) {
  wire::GaugeTable m;
  const bool good = m.ParseFromString(bytes) && m.origin() >= 1 && m.origin() <= 3;
  if (!good) return std::nullopt;
  const auto a_up = points_of(m.a_increasing(), false);
  const auto b_up = points_of(m.b_increasing(), false);
  const auto a_down = points_of(m.a_decreasing(), true);
  const auto b_down = points_of(m.b_decreasing(), true);
  if (!a_up || !b_up || !a_down || !b_down) return std::nullopt;
  return gauge::HeldTable{m.jack_serial(),
                          {m.sensor_a_serial(), m.sensor_b_serial()},
                          static_cast<gauge::Origin>(m.origin()),
                          static_cast<std::int64_t>(m.calibrated_s()),
                          static_cast<std::int64_t>(m.due_s()),
                          m.class_tenths(),
                          m.uncertainty_ppm(),
                          {*a_up, *b_up},
                          {*a_down, *b_down},
                          std::max(a_up->front().force_n, b_up->front().force_n) * 1.0};
}

std::uint32_t came_back(const archive::HistoryEntry& undone) {
  std::uint32_t revision = 0;
  (void)std::from_chars(undone.details.data(), undone.details.data() + undone.details.size(), revision);
  return revision;
}

std::uint32_t active_revision(const archive::Archive& kept, std::uint32_t device) {
  std::uint32_t active = 0;
  for (const auto& e : kept.history(device)) {
    if (e.act == archive::Act::loaded) active = e.revision;
    if (e.act == archive::Act::undone) active = came_back(e);
  }
  return active;
}

bool is_withdrawn(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision) {
  for (const auto& e : kept.history(device)) {
    if (e.act == archive::Act::withdrawn && e.revision == revision) return true;
  }
  return false;
}

}  // namespace strandproof::host::check
