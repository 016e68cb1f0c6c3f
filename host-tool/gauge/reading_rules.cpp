#include "host-tool/gauge/reading_rules.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/gauge/run_rules.hpp"

namespace strandproof::host::gauge {
namespace {

constexpr double zero_part = 0.005;          // of the largest pressure
constexpr double seals_hold_mbar = 1'000.0;  // 600 N of seal friction on 48 cm2 hold back 1.25 bar at rest
constexpr double highest_mbar = 2e6;
constexpr double highest_n = 1e7;
constexpr double smallest_cm2 = 12.0;  // jacks for one strand have 25 to 100 cm2; common practice
constexpr double largest_cm2 = 200.0;
constexpr double below_part = 0.005;  // of the reading, and
constexpr double below_floor_n = 200.0;
constexpr double channels_part = 0.02;
constexpr double channels_floor = 0.01;  // of the largest pressure
constexpr double set_point_part = 0.1;
constexpr double set_point_floor = 0.01;  // of the largest force: a creeping ram overshoots a low point
constexpr int stroke_slack_um = 1'000;
constexpr int stroke_max_um = 2'000'000;
constexpr std::int64_t back_s = 60;  // a clock is set, or rows are written a little out of step
constexpr std::int64_t day_s = 86'400;
constexpr double curve_percent = 1.0;
constexpr double split_floor_n = 2'000.0;

char name_of(std::size_t channel) {
  return channel == 0 ? 'A' : 'B';
}

double largest_pressure(const Runs& runs, std::size_t channel) {
  double largest = 0.0;
  for (const auto& r : runs.rows) largest = std::max(largest, r.pressure_mbar[channel]);
  return largest;
}

const RunRow& largest_row(const Runs& runs) {
  return *std::max_element(runs.rows.begin(), runs.rows.end(),
                           [](const auto& a, const auto& b) { return a.reference_n < b.reference_n; });
}

// A slipped unit is named by what it makes of the jack: from bar for mbar to kgf for lbf the piston is off by
// 2 or more, and what still fits is told as an area on the screen and the report.
void check_units(const Runs& runs) {
  const RunRow& r = largest_row(runs);
  for (std::size_t channel = 0; channel < 2; ++channel) {
    if (const auto wrong = no_jack(r.pressure_mbar[channel], r.reference_n); !wrong.empty())
      throw refused_at(runs, r, fmt::format("channel {}: {}", name_of(channel), wrong));
  }
}

// At no load a channel shows its own zero, never a residue of the last pull.
void check_zeros(const Runs& runs) {
  for (std::size_t channel = 0; channel < 2; ++channel) {
    const double limit = zero_limit_mbar(largest_pressure(runs, channel));
    for (const auto& r : runs.rows) {
      const double zero = r.pressure_mbar[channel];
      if (r.direction != Direction::zero || std::abs(zero) <= limit) continue;
      throw refused_at(
          runs, r,
          fmt::format("channel {} reads {:.2f} bar at no load, more than 0.5 % of its largest "
                      "pressure and 1 bar; let the oil off, look at the sensor and take the run again",
                      name_of(channel), zero / 1e3));
    }
  }
}

void check_channels(const Runs& runs, const RunRow& r, double largest_mbar) {
  const auto [a, b] = r.pressure_mbar;
  if (std::abs(a - b) <= channels_part * std::max(a, b) + channels_floor * largest_mbar) return;
  throw refused_at(runs, r,
                   fmt::format("channel A reads {:.2f} bar and channel B {:.2f} bar of the same oil; look at "
                               "sensors, wiring and the column's units and take the run again",
                               a / 1e3, b / 1e3));
}

void check_set_point(const Runs& runs, const RunRow& r, double largest_n) {
  const double limit = std::max(set_point_part * r.set_point_n, set_point_floor * largest_n);
  if (r.direction == Direction::zero || std::abs(r.reference_n - r.set_point_n) <= limit) return;
  throw refused_at(
      runs, r,
      fmt::format("the reference reads {:.2f} kN at a set point of {:.2f} kN, more than 10 % "
                  "off; look at the units of both columns, name the set point that it was, or take the "
                  "reading again",
                  r.reference_n / 1e3, r.set_point_n / 1e3));
}

void check_stroke(const Runs& runs, const RunRow& r) {
  if (r.stroke_um >= -stroke_slack_um && r.stroke_um <= stroke_max_um) return;
  throw refused_at(
      runs, r,
      fmt::format("a stroke of {:.1f} mm is outside 0 to 2 m; write the ram's position, with the "
                  "unit in the column's name",
                  r.stroke_um / 1e3));
}

void check_span(const Runs& runs) {
  for (const auto& r : runs.rows) {
    if (r.taken_s >= runs.last_taken_s - longest_calibration_s) continue;
    throw refused_at(
        runs, r,
        fmt::format("taken at {}, more than 7 days before the last reading ({}); runs that lie so "
                    "far apart are two calibrations: take them anew, or correct the time",
                    format_time(r.taken_s), format_time(runs.last_taken_s)));
  }
}

void check_order_of_time(const Runs& runs) {
  std::map<int, const RunRow*> latest;
  for (const auto& r : runs.rows) {
    const auto [at, first] = latest.try_emplace(r.run, &r);
    if (!first && r.taken_s < at->second->taken_s - back_s) {
      throw refused_at(
          runs, r,
          fmt::format("taken at {}, before line {} of the same series ({}); put the readings in "
                      "the order in which they were taken, or correct the time",
                      format_time(r.taken_s), at->second->line, format_time(at->second->taken_s)));
    }
    if (r.taken_s > at->second->taken_s) at->second = &r;
  }
}

// ---- against the curves

void check_branch(const Runs& runs, const Column& column, std::size_t channel, double from_n) {
  if (column.candidates.empty()) return;
  const auto& figures = column.chosen().reading;
  std::size_t i = 0;
  for (const auto& r : runs.rows) {
    if (i == figures.size() || r.line != column.lines[i]) continue;
    const double off = 100.0 * std::abs(figures[i++].residual) / r.reference_n;
    if (r.reference_n < from_n || off <= curve_percent) continue;
    throw refused_at(runs, r,
                     fmt::format("channel {}: the reading lies {:.2f} % off the fitted curve, more than 1 %; "
                                 "look for air, friction or a wrong reading and take the run again",
                                 name_of(channel), off));
  }
}

void check_split(const Runs& runs, const Fit& up, std::size_t channel, double percent) {
  for (const auto& r : runs.rows) {
    if (r.direction != Direction::down) continue;
    const double above = r.reference_n - up.at(r.pressure_mbar[channel]);
    if (above < -(below_part * r.reference_n + below_floor_n)) {
      throw refused_at(
          runs, r,
          fmt::format(
              "channel {}: a decreasing reading lies {:.2f} kN below the increasing run; friction holds the "
              "load on the way down, so it lies above: sort out up and down, or the reading",
              name_of(channel), -above / 1e3));
    }
    const double split = std::abs(above);
    if (split <= percent / 100.0 * r.reference_n + split_floor_n) continue;
    throw refused_at(
        runs, r,
        fmt::format("channel {}: decreasing and increasing run lie {:.2f} kN apart here, more than "
                    "{:g} % of the reading and 2 kN; look for a dry seal, a bent ram or a mixed-up "
                    "run, or allow more with --split-percent",
                    name_of(channel), split / 1e3, percent));
  }
}

}  // namespace

std::string no_jack(double mbar, double n) {
  const double cm2 = mbar > 0.0 ? n / mbar * 100.0 : HUGE_VAL;  // N/mbar: 1e-2 m2
  if (mbar <= highest_mbar && n <= highest_n && cm2 >= smallest_cm2 && cm2 <= largest_cm2) return {};
  return fmt::format(
      "{:g} kN at {:g} bar make a piston of {:.3g} cm2, no jack for one strand (12 to 200); look at the "
      "units in the names of the columns (_bar, _mbar, _mpa, _psi; _n, _kn, _lbf) and write those of "
      "the numbers",
      n / 1e3, mbar / 1e3, cm2);
}

double zero_limit_mbar(double largest_mbar) {
  return zero_part * largest_mbar + seals_hold_mbar;
}

void check_readings(const Runs& runs) {
  check_units(runs);
  check_zeros(runs);
  const double largest_mbar = std::max(largest_pressure(runs, 0), largest_pressure(runs, 1));
  const double largest_n = largest_reference(runs);
  for (const auto& r : runs.rows) {
    check_channels(runs, r, largest_mbar);
    check_set_point(runs, r, largest_n);
    check_stroke(runs, r);
  }
  check_order_of_time(runs);
  check_span(runs);
}

void check_clock(const Runs& runs, std::int64_t now_s) {
  for (const auto& r : runs.rows) {
    if (r.taken_s <= now_s + day_s) continue;
    throw refused_at(
        runs, r,
        fmt::format("taken at {}, in the future of this computer ({}); set the clock that is wrong, "
                    "or correct the time",
                    format_time(r.taken_s), format_time(now_s)));
  }
}

void check_curves(const Runs& runs, const Table& t) {
  const double from = judged_from * largest_reference(runs);
  for (std::size_t channel = 0; channel < 2; ++channel) {
    check_branch(runs, t.increasing[channel], channel, from);
    check_branch(runs, t.decreasing[channel], channel, from);
    check_split(runs, t.increasing[channel].chosen(), channel, t.options.split_percent);
  }
}

}  // namespace strandproof::host::gauge
