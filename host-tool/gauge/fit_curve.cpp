// The fitted curve in use: values, slope, uncertainty, inverse.
#include <cmath>

#include "host-tool/gauge/fit.hpp"

namespace strandproof::host::gauge {

double Fit::at(double x) const {
  const double t = (x - own.centre) / own.half;
  double value = 0.0;
  for (auto c = own.coefficient.rbegin(); c != own.coefficient.rend(); ++c) value = value * t + *c;
  return through_origin ? x * value : value;
}

// Through the origin F = x q(t), so F' = q + x q' / half.
double Fit::slope(double x) const {
  const double t = (x - own.centre) / own.half;
  double value = 0.0;
  double rise = 0.0;
  for (auto c = own.coefficient.rbegin(); c != own.coefficient.rend(); ++c) {
    rise = rise * t + value;
    value = value * t + *c;
  }
  return through_origin ? value + x * rise / own.half : rise / own.half;
}

double Fit::covariance_of(std::size_t row, std::size_t column) const {
  return covariance[row * coefficient.size() + column];
}

double Fit::correlation(std::size_t row, std::size_t column) const {
  const double product = standard_error[row] * standard_error[column];
  return product > 0.0 ? covariance_of(row, column) / product : 0.0;
}

double Fit::standard_error_at(double x) const {
  const double t = (x - own.centre) / own.half;
  const std::size_t size = own.coefficient.size();
  const double first = through_origin ? x : 1.0;
  double variance = 0.0;
  double left = first;
  for (std::size_t row = 0; row < size; ++row, left *= t) {
    double right = first;
    for (std::size_t column = 0; column < size; ++column, right *= t) {
      variance += left * right * own.covariance[row * size + column];
    }
  }
  return variance > 0.0 ? std::sqrt(variance) : 0.0;
}

std::optional<Inverse> Fit::inverse(double value, double low, double high) const {
  if (!(at(low) <= value && value <= at(high))) return std::nullopt;
  constexpr int halvings = 200;  // bisection ends at neighbouring doubles after about 60
  for (int i = 0; i < halvings; ++i) {
    const double middle = 0.5 * (low + high);
    if (middle <= low || middle >= high) break;
    (at(middle) < value ? low : high) = middle;
  }
  const double x = std::abs(at(low) - value) < std::abs(at(high) - value) ? low : high;
  const double rise = slope(x);
  if (!(rise > 0.0)) return std::nullopt;
  return Inverse{x, standard_error_at(x) / rise};
}

}  // namespace strandproof::host::gauge
