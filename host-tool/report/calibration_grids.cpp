// The tables of the report beside the runs: identities, errors, fits, points, budget.
#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "host-tool/base/text.hpp"
#include "host-tool/report/calibration_parts.hpp"

namespace strandproof::host::report {
namespace {

using gauge::Column;

struct Branch {
  const char* name;
  const Column* column;
};

// Those that the table holds.
std::vector<Branch> branches(const gauge::Table& t) {
  std::vector<Branch> all{{"A increasing", &t.increasing[0]},
                          {"B increasing", &t.increasing[1]},
                          {"A decreasing", &t.decreasing[0]},
                          {"B decreasing", &t.decreasing[1]}};
  std::erase_if(all, [](const Branch& b) { return b.column->empty(); });
  return all;
}

std::string curve_text(const gauge::Fit& fit) {
  std::string text;
  for (std::size_t power = fit.through_origin ? 1 : 0; power < fit.coefficient.size(); ++power) {
    const double c = fit.coefficient[power];
    constexpr std::array<const char*, 4> unknown{"", " p", " p²", " p³"};
    text +=
        text.empty() ? fmt::format("{:.6g}", c) : fmt::format(" {} {:.6g}", c < 0 ? "–" : "+", std::abs(c));
    text += unknown.at(power);
  }
  return text;
}

std::string lack_of_fit_text(const gauge::LackOfFit& l) {
  return l.available ? fmt::format("{:.2f} / {:.2f}", l.f, l.f_limit) : "not judged";
}

std::string flagged_text(const std::vector<Branch>& all) {
  constexpr std::size_t most = 6;
  std::string text;
  std::size_t outliers = 0;
  std::size_t leverages = 0;
  for (const auto& [name, column] : all) {
    for (const auto& f : column->flagged) {
      (f.outlier ? outliers : leverages) += 1;
      if (f.outlier && outliers <= most) {
        text +=
            fmt::format("{}line {} ({}, {:+.0f} N)", text.empty() ? "" : ", ", f.line, name, f.residual_n);
      }
    }
  }
  if (outliers > most) text += fmt::format(" and {} more, listed by gauge fit", outliers - most);
  return fmt::format("Every reading is in the fit. Flagged as outliers: {}{}; of high leverage: {}.",
                     outliers, text.empty() ? "" : ": " + text, leverages);
}

std::string dof_text(double dof) {
  if (!std::isfinite(dof)) return "∞";
  return dof > 1000.0 ? "> 1000" : fmt::format("{:.0f}", dof);
}

// limits: rows of the classes, best first.
std::vector<std::string> error_row(const std::string& name, const std::string& worst,
                                   const std::vector<gauge::ClassRow>& limits,
                                   double gauge::ClassRow::*limit) {
  std::vector<std::string> cells{name, worst};
  for (const auto& row : limits) cells.push_back(fmt::format("{:.2f}", row.*limit));
  return cells;
}

std::string level_range(const gauge::IsoClass& c) {
  const auto& levels = c.levels[0];
  if (levels.empty()) return "no levels";
  const auto [low, high] =
      std::minmax_element(levels.begin(), levels.end(),
                          [](const auto& a, const auto& b) { return a.set_point_n < b.set_point_n; });
  return fmt::format("{} levels from {} to {} kN", levels.size(), kilonewton(low->set_point_n, 1),
                     kilonewton(high->set_point_n, 1));
}

}  // namespace

std::string date_text(std::int64_t utc_s) {
  return format_time(utc_s).substr(0, 10);
}

std::string class_name(int tenths) {
  return tenths == 0 ? "00" : fmt::format("{:g}", tenths / 10.0);
}

Grid unit_grid(const gauge::Table& t) {
  Grid g{"What was calibrated, and against what",
         {},
         {"part", "serial", "class", "range, kN", "due"},
         {},
         2,
         {}};
  g.rows = {{"stressing jack", std::to_string(t.jack_serial), "", "", ""},
            {"pressure sensor A", std::to_string(t.sensor_serial[0]), "", "", ""},
            {"pressure sensor B", std::to_string(t.sensor_serial[1]), "", "", ""}};
  if (t.cell) {
    g.rows.push_back({"reference cell", t.cell->serial, class_name(t.cell->class_tenths),
                      kilonewton(t.cell->from_n, 1) + " to " + kilonewton(t.cell->to_n, 1),
                      date_text(t.cell->due_s)});
  } else {
    g.rows.push_back({"reference cell", "not declared", "–", "–", "–"});
  }
  g.note =
      "Jack, sensors, seals and hoses are one unit: a change of any of them voids the table. Class of the "
      "reference "
      "cell after ISO 376, as declared.";
  return g;
}

Grid errors_grid(const gauge::Table& t) {
  const auto& c = t.iso_class;
  const auto& limits = t.options.limits.rows;
  Grid g{"Errors of the increasing branch", {}, {"after ISO 7500-1", "worst\n%"}, {}, 1, {}};
  for (const auto& row : limits) g.headings.push_back("class\n" + class_name(row.tenths));
  const auto signed_percent = [](double v) { return fmt::format("{:+.3f}", v); };
  const auto percent = [](double v) { return fmt::format("{:.3f}", v); };
  using Row = gauge::ClassRow;
  g.rows = {error_row("accuracy q", signed_percent(c.worst.accuracy_percent), limits, &Row::accuracy),
            error_row("repeatability b", percent(c.worst.repeatability_percent), limits, &Row::repeatability),
            error_row("zero f0", percent(c.zero_percent), limits, &Row::zero),
            error_row("resolution a", percent(c.worst.resolution_percent), limits, &Row::resolution),
            error_row("reversibility v, reported only",
                      c.worst.reversibility_percent ? signed_percent(*c.worst.reversibility_percent) : "–",
                      limits, &Row::reversibility)};
  g.note = fmt::format("Worst of both channels, {}. Limits: {}. ", level_range(c),
                       limits.empty() ? "none given" : t.options.limits.edition) +
           (c.tenths == 0
                ? "Class not stated: " + c.not_stated + "."
                : fmt::format("Checked by {} on {}.", t.options.limits.checked_by, t.options.limits.date));
  return g;
}

Grid fits_grid(const gauge::Table& t) {
  Grid g{"Fits, force F in N over pressure p in mbar",
         {},
         {"branch", "curve", "chosen by", "readings", "residual\ns.d., N", "lack of fit\nF / 5 % limit",
          "largest residual\n%", "lower limit LLF\nN", "line leaves\ncurve, N"},
         {},
         2,
         {}};
  const auto all = branches(t);
  for (const auto& [name, column] : all) {
    const auto& fit = column->chosen();
    g.rows.push_back({name, curve_text(fit), column->forced ? "request" : "lack of fit",
                      std::to_string(fit.reading.size()), fmt::format("{:.1f}", fit.residual_sd),
                      lack_of_fit_text(fit.lack_of_fit), fmt::format("{:.3f}", column->largest_percent),
                      fmt::format("{:.1f}", gauge::lower_limit(fit.residual_sd).factor_n),
                      fmt::format("{:.1f}", column->interpolation_n)});
  }
  g.note = flagged_text(all) +
           " Largest residual: of the reading, from a fifth of the largest force. LLF = 2.4 s.d., in the "
           "manner of "
           "ASTM E74 (from memory).";
  return g;
}

Grid points_grid(const gauge::Table& t) {
  Grid g{"The gauge table, as the controller holds it", {}, {}, {}, 0, {}};
  const auto all = branches(t);
  std::size_t rows = 0;
  for (const auto& [name, column] : all) {
    const bool up = column == &t.increasing[0] || column == &t.increasing[1];
    g.groups.push_back({name, up ? 3U : 2U});
    g.headings.insert(g.headings.end(), {"bar", "kN"});
    if (up) g.headings.emplace_back("U, N");
    rows = std::max(rows, column->points.size());
  }
  for (std::size_t i = 0; i < rows; ++i) {
    std::vector<std::string> cells;
    for (const auto& [name, column] : all) {
      const bool here = i < column->points.size();
      cells.push_back(here ? bar(column->points[i].pressure_mbar) : "");
      cells.push_back(here ? kilonewton(column->points[i].force_n) : "");
      for (std::size_t c = 0; c < 2; ++c) {
        if (column == &t.increasing[c])
          cells.push_back(here ? fmt::format("{:.0f}", t.budget[c].at(i).expanded_n) : "");
      }
    }
    g.rows.push_back(cells);
  }
  g.note = "Straight lines between the points, no force outside them. U: expanded uncertainty.";
  return g;
}

Grid budget_grid(const gauge::Table& t) {
  const auto& w = t.worst;
  Grid g{fmt::format("Uncertainty at {} kN, the worst place", kilonewton(w.force_n, 1)),
         {},
         {"contribution, standard uncertainty", "N", "% of force", "degrees\nof freedom"},
         {},
         1,
         {}};
  const auto row = [&](const std::string& name, double n, double dof) {
    g.rows.push_back(
        {name, fmt::format("{:.1f}", n), fmt::format("{:.3f}", 100.0 * n / w.force_n), dof_text(dof)});
  };
  for (std::size_t i = 0; i < gauge::part_count; ++i) {
    row(gauge::part_name(static_cast<gauge::Part>(i)), w.part[i].standard_n, w.part[i].dof);
  }
  row("combined", w.combined_n, w.effective_dof);
  row(fmt::format("expanded, k = {:.2f}", w.coverage_factor), w.expanded_n, w.effective_dof);
  g.note =
      "Pattern of JCGM 100:2008 (GUM), from a fifth of the largest force, k for 95.45 %. A zero is not "
      "declared or "
      "not seen.";
  return g;
}

}  // namespace strandproof::host::report
