#include "host-tool/check/spot.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/gauge/reading_marks.hpp"
#include "host-tool/gauge/reading_rules.hpp"
#include "host-tool/gauge/run_rules.hpp"

namespace strandproof::host::check {
namespace {

constexpr std::size_t fewest_points = 3;
constexpr double low_share = 0.4;  // of the table's largest force: where the lowest point must lie at most
constexpr double high_share = 0.8;
constexpr std::int64_t clock_slack_s = 600;  // by which the clocks of two computers may differ

Problem row_problem(const gauge::Runs& runs, const gauge::RunRow& row, const std::string& what) {
  return refused(fmt::format("{}:{}: {}", runs.name, row.line, what));
}

void check_identity(const gauge::Runs& runs, const gauge::HeldTable& t) {
  if (runs.jack_serial != t.jack_serial || runs.sensor_serial != t.sensor_serial) {
    throw refused(fmt::format(
        "{}: taken on jack {} with sensors {} and {}, the table is of jack {} with sensors {} and {}; check "
        "the jack that the table is for",
        runs.name, runs.jack_serial, runs.sensor_serial[0], runs.sensor_serial[1], t.jack_serial,
        t.sensor_serial[0], t.sensor_serial[1]));
  }
  if (runs.origin != t.origin) {
    throw refused(fmt::format("{}: is {}, the table is {}; one proves nothing about the other", runs.name,
                              gauge::origin_text(runs.origin), gauge::origin_text(t.origin)));
  }
  if (runs.last_taken_s < t.calibrated_s) {
    throw refused(fmt::format("{}: taken before the table's calibration of {}; take a new spot run",
                              runs.name, format_time(t.calibrated_s)));
  }
}

// Expanded uncertainty of a cell whose certificate's figure is not declared: the largest that ISO 376 allows
// its class, 0.06, 0.12, 0.24 and 0.45 % (from memory, check the standard).
std::uint32_t of_class(int tenths) {
  return tenths == 0 ? 600 : tenths <= 5 ? 1'200 : tenths <= 10 ? 2'400 : 4'500;
}

// A run proves no more than the cell that it was taken with.
void check_cell(const gauge::Runs& runs, const gauge::HeldTable& t) {
  if (!runs.cell) {
    throw refused(
        fmt::format("{}: declares no reference cell; add its columns (cell_serial, class, range, due: "
                    "host-tool/README.md)",
                    runs.name));
  }
  const auto& cell = *runs.cell;
  if (cell.due_s < runs.last_taken_s) {
    throw refused(fmt::format("{}: reference cell {} was due {}; take a spot run with a cell in date",
                              runs.name, shown(cell.serial), format_time(cell.due_s)));
  }
  const std::uint32_t ppm = cell.expanded_ppm.value_or(of_class(cell.class_tenths));
  if (ppm > t.uncertainty_ppm) {
    throw refused(
        fmt::format("{}: reference cell {} is known to {:.2f} %, the table to {:.2f} %; take a spot run with "
                    "a cell that is the better one, or state its own uncertainty (cell_ppm)",
                    runs.name, shown(cell.serial), ppm / 1e4, t.uncertainty_ppm / 1e4));
  }
  for (const auto& row : runs.rows) {
    if (row.direction == gauge::Direction::zero) continue;
    if (!(row.reference_n >= cell.from_n && row.reference_n <= cell.to_n)) {
      throw row_problem(
          runs, row,
          fmt::format("{:.1f} kN lies outside the range of reference cell {}, {:.1f} to {:.1f} "
                      "kN; take the point with a cell that reaches it",
                      row.reference_n / 1e3, shown(cell.serial), cell.from_n / 1e3, cell.to_n / 1e3));
    }
  }
}

void check_time(const gauge::Runs& runs, std::int64_t now_s) {
  if (runs.last_taken_s <= now_s + clock_slack_s) return;
  throw refused(
      fmt::format("{}: a reading of {} lies in the future of this computer ({}); set the clock that is "
                  "wrong",
                  runs.name, format_time(runs.last_taken_s), format_time(now_s)));
}

Spot spot_of(const gauge::Runs& runs, const gauge::RunRow& row, const gauge::HeldTable& t) {
  Spot s{row.set_point_n, row.reference_n, {}, {}, 0.0};
  for (std::size_t c = 0; c < 2; ++c) {
    const auto force = gauge::interpolate(t.increasing[c], row.pressure_mbar[c]);
    if (!force || row.reference_n <= 0.0) {
      throw row_problem(
          runs, row,
          fmt::format("{:.0f} mbar of channel {} lies outside the table; take points from {} to "
                      "{} mbar",
                      row.pressure_mbar[c], c == 0 ? 'A' : 'B', t.increasing[c].front().pressure_mbar,
                      t.increasing[c].back().pressure_mbar));
    }
    s.shown_n[c] = *force;
    s.error[c] = (*force - row.reference_n) / row.reference_n;
  }
  const double fifth =
      gauge::judged_from * std::max(t.increasing[0].back().force_n, t.increasing[1].back().force_n);
  s.pass_ratio = std::min(t.uncertainty_ppm * 1e-6 * std::max(1.0, fifth / row.reference_n), withdraw_ratio);
  return s;
}

void check_spread(const gauge::Runs& runs, const gauge::HeldTable& t, const std::vector<Spot>& spots) {
  std::set<int> points;
  double low = HUGE_VAL;
  double high = 0.0;
  for (const auto& s : spots) {
    points.insert(s.set_point_n);
    low = std::min(low, s.reference_n);
    high = std::max(high, s.reference_n);
  }
  const double top = std::min(t.increasing[0].back().force_n, t.increasing[1].back().force_n);
  if (points.size() < fewest_points || low > low_share * top || high < high_share * top) {
    throw refused(
        fmt::format("{}: {} set points from {:.1f} to {:.1f} kN; take at least {}, one at or below {:.1f} kN "
                    "and one at or "
                    "above {:.1f} kN",
                    runs.name, points.size(), spots.empty() ? 0.0 : low / 1e3, high / 1e3, fewest_points,
                    low_share * top / 1e3, high_share * top / 1e3));
  }
}

std::array<double, 2> worst_zero(const gauge::Runs& runs) {
  std::array<double, 2> worst{};
  bool any = false;
  for (const auto& row : runs.rows) {
    if (row.direction != gauge::Direction::zero) continue;
    any = true;
    for (std::size_t c = 0; c < 2; ++c) {
      if (std::abs(row.pressure_mbar[c]) >= std::abs(worst[c])) worst[c] = row.pressure_mbar[c];
    }
  }
  if (!any) throw refused(runs.name + ": no reading without load; add one with direction 'zero'");
  return worst;
}

Verdict verdict_of(const Judgement& j, const gauge::HeldTable& t) {
  // Written so that a NaN is withdrawn.
  for (std::size_t c = 0; c < 2; ++c) {
    if (!(std::abs(j.zero_mbar[c]) <= zero_limit_mbar(t, c))) return Verdict::withdraw;
  }
  if (!(std::abs(j.worst_error) <= withdraw_ratio)) return Verdict::withdraw;
  const auto passes = [](const Spot& s) {
    return std::abs(s.error[0]) <= s.pass_ratio && std::abs(s.error[1]) <= s.pass_ratio;
  };
  return std::all_of(j.spots.begin(), j.spots.end(), passes) ? Verdict::pass : Verdict::drift;
}

}  // namespace

double zero_limit_mbar(const gauge::HeldTable& t, std::size_t channel) {
  return gauge::zero_limit_mbar(t.increasing[channel].back().pressure_mbar);
}

Judgement judge(const gauge::Runs& runs, const gauge::HeldTable& t, std::int64_t now_s) {
  check_identity(runs, t);
  check_time(runs, now_s);
  if (t.uncertainty_ppm == 0) {
    throw refused(
        fmt::format("{}: the table states no uncertainty, so there is no limit to judge by; fit one "
                    "that does",
                    runs.name));
  }
  check_cell(runs, t);
  Judgement j{Verdict::withdraw,
              std::min(t.uncertainty_ppm * 1e-6, withdraw_ratio),
              {},
              worst_zero(runs),
              gauge::first_taken_s(runs),
              0.0};
  for (const auto& row : runs.rows) {
    if (row.direction != gauge::Direction::up) continue;
    j.spots.push_back(spot_of(runs, row, t));
    for (const double e : j.spots.back().error) {
      if (!(std::abs(e) <= std::abs(j.worst_error))) j.worst_error = e;
    }
  }
  check_spread(runs, t, j.spots);
  j.verdict = verdict_of(j, t);
  return j;
}

std::string verdict_text(Verdict verdict) {
  switch (verdict) {
    case Verdict::pass:
      return "PASS";
    case Verdict::drift:
      return "DRIFT";
    default:
      return "WITHDRAW";
  }
}

std::string advice(Verdict verdict) {
  switch (verdict) {
    case Verdict::pass:
      return "the table still fits the jack within its stated uncertainty";
    case Verdict::drift:
      return "look for the cause (sensor, zero, seal, temperature) and calibrate before the next bed";
    default:
      return "pull nothing more on this table: strandproof gauge withdraw --reason failed-check, then "
             "calibrate";
  }
}

std::string to_json(const Judgement& j) {
  nlohmann::ordered_json out;
  out["verdict"] = verdict_text(j.verdict);
  out["pass_percent"] = 100.0 * j.pass_ratio;
  out["withdraw_percent"] = 100.0 * withdraw_ratio;
  out["zero_mbar"] = j.zero_mbar;
  out["first_taken_s"] = j.first_taken_s;
  auto& spots = out["spots"] = nlohmann::ordered_json::array();
  for (const auto& s : j.spots) {
    spots.push_back({{"set_point_n", s.set_point_n},
                     {"reference_n", s.reference_n},
                     {"table_a_n", s.shown_n[0]},
                     {"table_b_n", s.shown_n[1]},
                     {"error_a_percent", 100.0 * s.error[0]},
                     {"error_b_percent", 100.0 * s.error[1]},
                     {"pass_percent", 100.0 * s.pass_ratio}});
  }
  return out.dump();
}

}  // namespace strandproof::host::check
