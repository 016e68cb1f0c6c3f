#include "host-tool/gauge/budget.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace strandproof::host::gauge {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double two_sided = 0.97725;  // one-sided probability of two standard deviations: 95.45 % both sides

double rectangular(double half_width) {
  return half_width / std::sqrt(3.0);
}

// Sums over one series for the line residual = share x force through zero.
struct SeriesSums {
  double product = 0.0;  // residual x force
  double square = 0.0;   // force^2
  [[nodiscard]] double share() const { return product / square; }
};

double largest_pressure(const Runs& runs, std::size_t channel) {
  double largest = 0.0;
  for (const auto& r : runs.rows) largest = std::max(largest, r.pressure_mbar[channel]);
  return largest;
}

double largest_zero(const Runs& runs) {
  double largest = 0.0;
  for (const auto& r : runs.rows) {
    if (r.direction == Direction::zero) largest = std::max(largest, std::abs(r.reference_n));
  }
  return largest;
}

bool counts(const RunRow& r) {
  return r.direction == Direction::up && r.reference_n > 0.0;
}

std::map<int, SeriesSums> sums_of(const Runs& runs, std::size_t channel, const Fit& fit) {
  std::map<int, SeriesSums> series;
  for (const auto& r : runs.rows) {
    if (!counts(r)) continue;
    auto& sums = series[r.run];
    sums.product += (r.reference_n - fit.at(r.pressure_mbar[channel])) * r.reference_n;
    sums.square += r.reference_n * r.reference_n;
  }
  return series;
}

// Friction goes with force, so a series stands out by a share of the force. The scatter within the series is
// what is left beside that share; what it leaves in the mean of a series is taken off the scatter between
// them.
void split_scatter(Scatter& s, const Runs& runs, std::size_t channel, const Fit& fit) {
  const auto series = sums_of(runs, channel, fit);
  s.series = static_cast<int>(series.size());
  double mean = 0.0;
  for (const auto& [run, sums] : series) mean += sums.share() / s.series;
  double squares = 0.0;
  for (const auto& r : runs.rows) {
    if (!counts(r)) continue;
    const double share = s.series < 2 ? 0.0 : series.at(r.run).share() - mean;
    const double rest = r.reference_n - fit.at(r.pressure_mbar[channel]) - share * r.reference_n;
    squares += rest * rest;
  }
  s.within_dof = std::max(1, fit.residual_dof - std::max(0, s.series - 1));
  s.within_n = std::sqrt(squares / s.within_dof);
  if (s.series < 2) return;
  constexpr int as_good_as_infinite = 1'000'000;
  s.series_f_limit = f_quantile_95(s.series - 1, as_good_as_infinite);
  double variance = 0.0;
  for (const auto& [run, sums] : series) {
    const double off = sums.share() - mean;
    const double noise = s.within_n * s.within_n / sums.square;
    variance += off * off / (s.series - 1) - noise / s.series;
  }
  s.series_relative = std::sqrt(std::max(0.0, variance));
}

// One pull is one more series; the curve is the mean of those that were run.
double against_the_mean(const Scatter& s) {
  return s.series < 2 ? 1.0 : std::sqrt(1.0 + 1.0 / s.series);
}

// What differs from series to series is friction too. Where its scatter is declared, that is the better
// knowledge and counts once: the series count only by what they show beyond it, if that is more than chance.
Contribution series_part(const Scatter& s, double force_n, double friction_n) {
  if (s.series < 2) return {0.0, infinite};
  const double seen = s.series_relative * s.series_relative * force_n * force_n;
  const double known = friction_n * friction_n;
  const double beyond = known > 0.0 && !(seen > s.series_f_limit * known) ? 0.0 : seen - known;
  return {std::sqrt(beyond) * against_the_mean(s), static_cast<double>(s.series - 1)};
}

void combine(BudgetLine& line) {
  double variance = 0.0;
  double fourth = 0.0;
  for (const auto& p : line.part) {
    const double square = p.standard_n * p.standard_n;
    variance += square;
    fourth += square * square / p.dof;
  }
  line.combined_n = std::sqrt(variance);
  line.effective_dof = fourth > 0.0 ? variance * variance / fourth : infinite;
  line.coverage_factor = t_quantile(two_sided, line.effective_dof);
  line.expanded_n = line.coverage_factor * line.combined_n;
  line.expanded_percent = 100.0 * line.expanded_n / line.force_n;
}

}  // namespace

const char* part_name(Part part) {
  constexpr std::array<const char*, part_count> names{"reference cell",
                                                      "scatter within a series",
                                                      "series to series",
                                                      "fit",
                                                      "interpolation",
                                                      "resolution",
                                                      "zero",
                                                      "temperature",
                                                      "friction",
                                                      "sensor",
                                                      "other"};
  return names[static_cast<std::size_t>(part)];
}

Scatter scatter_of(const Runs& runs, std::size_t channel, const Fit& increasing) {
  Scatter s{};
  s.zero_n = largest_zero(runs);
  s.largest_mbar = largest_pressure(runs, channel);
  split_scatter(s, runs, channel, increasing);
  return s;
}

BudgetLine budget_at(double pressure_mbar, const Fit& increasing, const Fit* decreasing,
                     const Scatter& scatter, const Declared& d, double reference_ppm,
                     double interpolation_n) {
  BudgetLine line{};
  line.pressure_mbar = pressure_mbar;
  line.force_n = increasing.at(pressure_mbar);
  const double gain_n = increasing.slope(pressure_mbar) * pressure_mbar;         // force of the reading
  const double span_n = increasing.slope(pressure_mbar) * scatter.largest_mbar;  // force of the whole span
  const double shown_n = decreasing != nullptr ? 0.5 * (decreasing->at(pressure_mbar) - line.force_n) : 0.0;
  const double friction_n = rectangular(0.01 * d.friction_scatter_percent * std::max(0.0, shown_n));
  const double temperature_ppm = 1e-6 * d.temperature_k;
  const auto set = [&](Part part, double standard_n, double dof = infinite) {
    line.part[static_cast<std::size_t>(part)] = {std::abs(standard_n), dof};
  };
  const auto within_dof = static_cast<double>(scatter.within_dof);
  set(Part::reference, 0.5e-6 * reference_ppm * line.force_n);
  // A reading in use scatters otherwise than one of the rig, which is a longer mean; the resolution, which
  // the controller's own figure does not have, holds the difference.
  set(Part::within_series, scatter.within_n, within_dof);
  line.part[static_cast<std::size_t>(Part::series)] = series_part(scatter, line.force_n, friction_n);
  set(Part::fit, increasing.standard_error_at(pressure_mbar), within_dof);
  set(Part::interpolation, rectangular(interpolation_n));
  set(Part::resolution, rectangular(0.5 * d.resolution_n));
  set(Part::zero, rectangular(scatter.zero_n));
  set(Part::temperature, rectangular(std::hypot(temperature_ppm * d.temperature_ppm_per_k * span_n,
                                                temperature_ppm * d.temperature_gain_ppm_per_k * gain_n)));
  set(Part::friction, friction_n * against_the_mean(scatter));
  set(Part::sensor, rectangular(std::hypot(1e-6 * d.sensor_ppm * span_n, 1e-6 * d.sensor_gain_ppm * gain_n)));
  set(Part::other, 1e-6 * d.other_ppm * line.force_n);
  combine(line);
  return line;
}

}  // namespace strandproof::host::gauge
