// The uncertainty of a force that the table gives for one pull's pressure, by contribution (pattern of JCGM
// 100:2008, GUM): standard uncertainties in N, combined, and expanded by Student's t of the effective degrees
// of freedom (Welch and Satterthwaite, G.4). The probability is 95.45 %: the factor is 2 with many degrees.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "host-tool/gauge/fit.hpp"
#include "host-tool/gauge/runs.hpp"

namespace strandproof::host::gauge {

// What the runs can not show and a person declares. A zero is "not declared": the budget then lacks it and
// the table's notes say so.
struct Declared {
  std::optional<std::uint32_t> reference_ppm = std::nullopt;  // k = 2, of the cell's certificate; nothing:
                                                              // the file's cell_ppm, else 1000
  double resolution_n = 100.0;         // smallest step of force that is shown: the display's 0.1 kN
  double temperature_k = 0.0;          // half-width of the oil or sensor temperature about that of the runs
  double temperature_ppm_per_k = 0.0;  // zero of the sensors, of the largest pressure of the runs
  double temperature_gain_ppm_per_k = 0.0;  // their gain, of the reading
  double sensor_ppm = 0.0;       // linearity and drift until due, half-width, of the largest pressure
  double sensor_gain_ppm = 0.0;  // drift of the gain until due, half-width, of the reading
  double friction_scatter_percent = 0.0;  // half-width, of the friction: from pull to pull
  double other_ppm = 0.0;                 // standard uncertainty, of the reading
};

enum class Part {
  reference,      // certificate of the cell
  within_series,  // scatter of a reading about the curve
  series,         // series to series, of one pull against the mean of the series
  fit,            // the curve's own standard error
  interpolation,  // straight lines between the points for the curve, rounding to whole N included
  resolution,
  zero,  // the cell's zero: readings are used as read, so all of it counts
  temperature,
  friction,  // scatter of the friction from pull to pull
  sensor,    // linearity and drift
  other,
  count
};
inline constexpr auto part_count = static_cast<std::size_t>(Part::count);
const char* part_name(Part part);

struct Contribution {
  double standard_n;
  double dof;  // infinite for what was declared
};

// What the runs of one channel say about scatter; the parts that do not depend on the pressure.
struct Scatter {
  double within_n;  // standard deviation of a reading about the curve, its series' share taken off
  int within_dof;
  double series_relative;  // standard deviation of the series' shares of the force, noise taken off
  int series;              // how many
  double series_f_limit;   // 95 % of F(series - 1, infinite): what chance gives against a known scatter
  double zero_n;           // largest reading of the cell at no load, absolute
  double largest_mbar;     // of the runs
};
Scatter scatter_of(const Runs& runs, std::size_t channel, const Fit& increasing);

struct BudgetLine {
  double pressure_mbar;
  double force_n;
  std::array<Contribution, part_count> part;
  double combined_n;
  double effective_dof;
  double coverage_factor;
  double expanded_n;
  double expanded_percent;  // of force_n
};

// decreasing: shows the friction (half the difference of both branches at the pressure); nullptr: not shown.
// reference_ppm: k = 2, what was settled of Declared and file. interpolation_n: the table's largest distance.
BudgetLine budget_at(double pressure_mbar, const Fit& increasing, const Fit* decreasing,
                     const Scatter& scatter, const Declared& declared, double reference_ppm,
                     double interpolation_n);

}  // namespace strandproof::host::gauge
