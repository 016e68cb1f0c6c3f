// A gauge table made of calibration runs: for each channel a fit of force over pressure on the increasing
// branch (pulling) and, where runs go down, on the decreasing one (lowering, lift-off), its points as the
// controller holds them, class and uncertainty. In memory only; table_file.hpp keeps it on disk.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "host-tool/gauge/budget.hpp"
#include "host-tool/gauge/fit.hpp"
#include "host-tool/gauge/iso_class.hpp"
#include "host-tool/gauge/points.hpp"
#include "host-tool/gauge/runs.hpp"

namespace strandproof::host::gauge {

inline constexpr int table_degree_max = 3;

// A reading that the fit flags; it stays in the fit.
struct FlaggedReading {
  int line;  // of the runs' file
  double residual_n;
  double leverage;
  double studentised;
  bool outlier;  // false: only its leverage is high
};

struct Column {
  std::vector<Point> points;     // 5 to 24, both strictly rising; empty: the branch was not calibrated
  std::vector<Fit> candidates;   // degree 1, 2, 3 as far as the readings carry them
  std::size_t taken = 0;         // of the candidates: what the points lie on
  bool forced = false;           // the degree was asked for, not chosen by lack of fit
  double interpolation_n = 0.0;  // largest distance of the table from its curve, rounding to 1 N included
  double interpolation_share =
      0;  // of a tenth of the expanded uncertainty, largest; below 1 unless points forced
  double largest_percent = 0.0;  // largest residual of the chosen fit, % of the reference at that reading
  std::vector<FlaggedReading> flagged;
  std::vector<int> lines;  // of the runs' file, for each reading of the fits

  [[nodiscard]] bool empty() const { return points.empty(); }
  [[nodiscard]] const Fit& chosen() const { return candidates[taken]; }
};

// An outside laboratory's table: its own figures, none of ours.
struct Imported {
  std::string issuer;
  std::string certificate;
};

// Everything that decides the table besides the runs; kept in the table's file, so that it can be made again.
struct TableOptions {
  std::optional<int> degree = std::nullopt;  // 1 to 3; nothing: the lowest that lack of fit does not reject
  bool through_origin = false;
  std::optional<int> points =
      std::nullopt;                      // 5 to 24; nothing: the fewest that keep a tenth of the uncertainty
  std::int64_t valid_s = 182LL * 86400;  // from the last reading to the due date (6 months: UFGS 02490)
  std::optional<int> class_wanted = std::nullopt;  // tenths; a worse result or cell is refused
  // How far the branches may lie apart, of the reading, besides 2 kN: twice the friction. Common practice.
  double split_percent = 12.0;
  Declared declared = {};
  CsvOptions csv = {};
  ClassLimits limits = {};  // no rows: class not stated
};

struct Table {
  std::uint32_t jack_serial;
  std::array<std::uint32_t, 2> sensor_serial;
  Origin origin;
  std::int64_t calibrated_s;
  std::int64_t due_s;
  std::int64_t first_taken_s;        // the earliest reading; imported: when it was calibrated
  std::string reading_marks;         // of the runs (reading_marks.hpp); imported: ""
  std::array<Column, 2> increasing;  // channels A and B
  std::array<Column, 2> decreasing;
  std::optional<ReferenceCell> cell;
  std::optional<Imported> imported;  // then candidates, budget and class are empty
  IsoClass iso_class;                // worse of the two channels, increasing branch
  std::array<LowerLimit, 2> lower_limit;
  std::array<Scatter, 2> scatter;
  double reference_ppm;                           // k = 2, as it went into the budget
  std::array<std::vector<BudgetLine>, 2> budget;  // at each point of the increasing columns
  BudgetLine worst;                // largest relative one from a fifth of the largest force, of both channels
  std::uint32_t uncertainty_ppm;   // expanded, of the reading: that of worst, rounded up
  bool within_practice;            // worst within 2 %: a rule of practice, not of a standard
  double lowest_initial_n;         // an initial force below it is not surely inside both columns
  std::vector<std::string> notes;  // what a reader must know, one line each
  TableOptions options;
};

// Least squares of one branch of one channel (0: A, 1: B), without points. Throws Problem (refused) as
// fit_polynomial does.
Column fit_column(const Runs& runs, Direction direction, std::size_t channel, const TableOptions& options);

// The whole table. Throws Problem: (fault) for options outside their range; (refused), naming the line and
// the remedy, by the rules of run_rules.hpp, and of reading_rules.hpp, with points that do not rise, or with
// a class worse than wanted.
Table make_table(const Runs& runs, const TableOptions& options);

// Uncertainty of what the table gives at any pressure inside an increasing column of a fitted table.
BudgetLine budget_at(const Table& table, std::size_t channel, double pressure_mbar);

// The expanded one at a force inside the increasing column, N; nothing outside it.
std::optional<double> expanded_n(const Table& table, std::size_t channel, double force_n);

}  // namespace strandproof::host::gauge
