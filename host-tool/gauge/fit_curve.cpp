// The fitted curve in use: values, slope, uncertainty, inverse.
#include <cmath>

#include "host-tool/gauge/fit.hpp"

namespace strandproof::host::gauge {

double Fit::at(double x) const {
  double value = 0.0;
  for (auto c = coefficient.rbegin(); c != coefficient.rend(); ++c) value = value * x + *c;
  return value;
}

double Fit::slope(double x) const {
  double value = 0.0;
  for (std::size_t power = coefficient.size() - 1; power > 0; --power) {
    value = value * x + static_cast<double>(power) * coefficient[power];
  }
  return value;
}

double Fit::covariance_of(std::size_t row, std::size_t column) const {
  return covariance[row * coefficient.size() + column];
}

double Fit::correlation(std::size_t row, std::size_t column) const {
  const double product = standard_error[row] * standard_error[column];
  return product > 0.0 ? covariance_of(row, column) / product : 0.0;
}

double Fit::standard_error_at(double x) const {
  double variance = 0.0;
  double left = 1.0;
  for (std::size_t row = 0; row < coefficient.size(); ++row, left *= x) {
    double right = 1.0;
    for (std::size_t column = 0; column < coefficient.size(); ++column, right *= x) {
      variance += left * right * covariance_of(row, column);
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
