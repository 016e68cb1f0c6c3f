#include "host-tool/capture/plan.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cstdlib>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::capture {
namespace {

constexpr double up_band = 0.015;  // of the largest set point
constexpr double down_band = 0.05;
constexpr double gap_share = 0.4;  // of the gap to a neighbour: two bands never meet

double smallest_gap(const std::vector<int>& points, int at) {
  double gap = at;  // to no load
  for (const int other : points) {
    if (other != at) gap = std::min(gap, static_cast<double>(std::abs(other - at)));
  }
  return gap;
}

}  // namespace

std::vector<Step> steps(const Settings& s) {
  const int top = s.set_points_n.back();
  std::vector<Step> all(static_cast<std::size_t>(s.exercises), Step{Kind::exercise, 0, top});
  for (int series = 1; series <= s.series; ++series) {
    all.push_back({Kind::zero, series, 0});
    for (const int point : s.set_points_n) all.push_back({Kind::up, series, point});
    if (series > s.series - s.down_series) {
      for (auto point = s.set_points_n.rbegin() + 1; point != s.set_points_n.rend(); ++point) {
        all.push_back({Kind::down, series, *point});
      }
    }
    all.push_back({Kind::zero, series, 0});
  }
  return all;
}

double band_n(const Settings& s, const Step& step) {
  const double share = step.kind == Kind::down ? down_band : up_band;
  return std::min(share * s.set_points_n.back(), gap_share * smallest_gap(s.set_points_n, step.set_point_n));
}

void check(const Settings& s, const gauge::ReferenceCell& cell, std::int64_t now_s) {
  if (s.set_points_n.empty()) throw bad_input("--set-points: none; name at least one force");
  for (std::size_t i = 0; i < s.set_points_n.size(); ++i) {
    const int point = s.set_points_n[i];
    if (point <= (i == 0 ? 0 : s.set_points_n[i - 1])) {
      throw bad_input(fmt::format("--set-points: {} N does not rise; write them from small to large", point));
    }
    const double band = band_n(s, {Kind::up, 1, point});
    if (point - band >= cell.from_n && point + band <= cell.to_n) continue;
    throw bad_input(
        fmt::format("--set-points: {} N, read within {:.0f} N, is outside the reference cell's range of "
                    "{:.0f} to {:.0f} N; "
                    "take a cell that holds it, or leave the point out",
                    point, band, cell.from_n, cell.to_n));
  }
  if (now_s > cell.due_s) {
    throw bad_input(fmt::format(
        "--cell-due: the calibration of reference cell {} was due on {}; have it calibrated, or take another",
        shown(cell.serial), format_time(cell.due_s)));
  }
}

void check_parts(const Parts& declared, const Parts& found) {
  const auto same = [](const char* option, const char* what, std::uint32_t said, std::uint32_t is) {
    if (said == is) return;
    throw bad_input(
        fmt::format("--{}: {} was declared, but the jack says {} {}; look at the plates: a calibration holds "
                    "for these parts "
                    "only. A part that was changed is named at the pendant first",
                    option, said, what, is));
  };
  same("jack", "jack", declared.jack, found.jack);
  same("sensor-a", "sensor A", declared.sensor_a, found.sensor_a);
  same("sensor-b", "sensor B", declared.sensor_b, found.sensor_b);
}

void check_resumed(const std::vector<Step>& plan, const std::vector<Step>& done, const std::string& file) {
  std::vector<Step> readings;
  std::copy_if(plan.begin(), plan.end(), std::back_inserter(readings),
               [](const Step& s) { return s.kind != Kind::exercise; });
  for (std::size_t i = 0; i < done.size(); ++i) {
    const int line = static_cast<int>(i) + 2;  // below the header
    if (i >= readings.size()) {
      throw bad_input(
          fmt::format("{}:{}: a reading more than these settings foresee; use the settings it was "
                      "begun with, or another file",
                      file, line));
    }
    if (done[i] == readings[i]) continue;
    throw bad_input(
        fmt::format("{}:{}: {} where these settings foresee {}; use the settings it was begun with, "
                    "or another file",
                    file, line, name(done[i]), name(readings[i])));
  }
}

std::string name(const Step& step) {
  switch (step.kind) {
    case Kind::exercise:
      return fmt::format("exercise to {} N", step.set_point_n);
    case Kind::zero:
      return fmt::format("zero of series {}", step.series);
    case Kind::up:
      return fmt::format("{} N up of series {}", step.set_point_n, step.series);
    case Kind::down:
      return fmt::format("{} N down of series {}", step.set_point_n, step.series);
  }
  return {};
}

}  // namespace strandproof::host::capture
