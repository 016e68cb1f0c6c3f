#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "host-tool/gauge/run_rules.hpp"
#include "host-tool/report/calibration_parts.hpp"

namespace strandproof::host::report {
namespace {

using gauge::Direction;

constexpr double width = 92, height = 46;  // mm
constexpr double left = 13, right = 1.5, top = 5.5, foot = 8.5;

struct Axes {
  double x_most_kn, y_most_n;
  [[nodiscard]] Place at(double kn, double n) const {
    const double half = (height - top - foot) / 2.0;
    return {left + kn / x_most_kn * (width - left - right), top + half - n / y_most_n * half};
  }
};

void add_grid(Picture& p, const Axes& a) {
  const double x_step = step_for(a.x_most_kn);
  const double floor_y = height - foot;
  for (int i = 0; i * x_step <= a.x_most_kn; ++i) {
    const double x = a.at(i * x_step, 0).x;
    p.lines.push_back({{x, top}, {x, floor_y}, Ink::grid});
    p.labels.push_back({{x, floor_y + 3.2}, fmt::format("{:g}", i * x_step), Anchor::middle});
  }
  const double y_step = step_for(2.0 * a.y_most_n);
  const int steps = static_cast<int>(a.y_most_n / y_step);
  for (int i = -steps; i <= steps; ++i) {
    const double y = a.at(0, i * y_step).y;
    p.lines.push_back({{left, y}, {width - right, y}, i == 0 ? Ink::strong : Ink::grid});
    p.labels.push_back({{left - 1.2, y + 0.9}, i == 0 ? "0" : fmt::format("{:+g}", i * y_step), Anchor::end});
  }
  p.lines.push_back({{left, top}, {left, floor_y}, Ink::frame});
  p.lines.push_back({{left, floor_y}, {width - right, floor_y}, Ink::frame});
  p.labels.push_back({{(left + width - right) / 2.0, height - 1.2}, "reference force, kN", Anchor::middle});
  p.labels.push_back({{3.0, (top + floor_y) / 2.0}, "table less reference, N", Anchor::middle, true});
}

}  // namespace

double deviation_n(const gauge::RunRow& row, const gauge::Table& table, std::size_t channel) {
  const auto& column =
      row.direction == Direction::down ? table.decreasing[channel] : table.increasing[channel];
  const double pressure = row.pressure_mbar[channel];
  const auto held = gauge::interpolate(column.points, pressure);
  return held.value_or(column.chosen().at(pressure)) - row.reference_n;
}

Picture residual_picture(const gauge::Runs& runs, const gauge::Table& table, std::size_t channel) {
  const double most_n = gauge::largest_reference(runs);
  double y_most = 0.0;
  for (const auto& line : table.budget[channel]) y_most = std::max(y_most, line.expanded_n);
  for (const auto& r : runs.rows) {
    if (r.direction != Direction::zero) y_most = std::max(y_most, std::abs(deviation_n(r, table, channel)));
  }
  const Axes a{most_n * 1.04 / 1e3, std::max(1.0, y_most * 1.1)};
  Picture p{
      .title = fmt::format("channel {}, sensor {}", channel == 0 ? "A" : "B", table.sensor_serial[channel]),
      .width_mm = width,
      .height_mm = height,
      .areas = {},
      .lines = {},
      .marks = {},
      .labels = {}};
  Area band{{}, Ink::band};
  for (const auto& line : table.budget[channel])
    band.corners.push_back(a.at(line.force_n / 1e3, line.expanded_n));
  for (auto line = table.budget[channel].rbegin(); line != table.budget[channel].rend(); ++line) {
    band.corners.push_back(a.at(line->force_n / 1e3, -line->expanded_n));
  }
  p.areas.push_back(band);
  add_grid(p, a);
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::zero) continue;
    p.marks.push_back(
        {a.at(r.reference_n / 1e3, deviation_n(r, table, channel)), r.direction == Direction::up});
  }
  p.labels.push_back({{left, 3.4}, p.title, Anchor::start});
  return p;
}

}  // namespace strandproof::host::report
