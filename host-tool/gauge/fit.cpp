#include "host-tool/gauge/fit.hpp"

#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::gauge {
namespace {

double largest_x(std::span<const Observation> readings) {
  double largest = 0.0;
  for (const auto& r : readings) largest = std::max(largest, std::abs(r.x));
  return largest;
}

void check(std::span<const Observation> readings, int degree) {
  if (degree < 1 || degree > 5) throw refused("the degree of a fit is 1 to 5");
  std::set<double> distinct;
  for (const auto& r : readings) {
    if (!std::isfinite(r.x) || !std::isfinite(r.y)) throw refused("a reading is not a finite number");
    distinct.insert(r.x);
  }
  const auto coefficients = static_cast<std::size_t>(degree) + 1;
  if (distinct.size() < coefficients || readings.size() <= coefficients) {
    throw refused("too few readings for a curve of degree " + std::to_string(degree) + ": " +
                  std::to_string(readings.size()) + " readings at " + std::to_string(distinct.size()) +
                  " different inputs; take more set points");
  }
}

Eigen::MatrixXd design(std::span<const Observation> readings, int degree, double scale) {
  Eigen::MatrixXd m(static_cast<Eigen::Index>(readings.size()), degree + 1);
  for (Eigen::Index row = 0; row < m.rows(); ++row) {
    double power = 1.0;
    for (Eigen::Index column = 0; column <= degree; ++column) {
      m(row, column) = power;
      power *= readings[static_cast<std::size_t>(row)].x / scale;
    }
  }
  return m;
}

struct GroupSums {
  double residual = 0.0;
  double squared = 0.0;
  int count = 0;
};

LackOfFit judge(std::span<const Observation> readings, const Eigen::VectorXd& residual, int coefficients) {
  std::map<int, GroupSums> groups;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    auto& g = groups[readings[i].group];
    const double r = residual(static_cast<Eigen::Index>(i));
    g.residual += r;
    g.squared += r * r;
    ++g.count;
  }
  double between = 0.0;
  double within = 0.0;
  for (const auto& [number, g] : groups) {
    const double mean_part = g.residual * g.residual / g.count;
    between += mean_part;
    within += std::max(0.0, g.squared - mean_part);
  }
  LackOfFit l{};
  l.groups_dof = static_cast<int>(groups.size()) - coefficients;
  l.pure_dof = static_cast<int>(readings.size() - groups.size());
  l.available = l.groups_dof > 0 && l.pure_dof > 0 && within > 0.0;
  if (!l.available) return l;
  const double pure_variance = within / l.pure_dof;
  l.pure_sd = std::sqrt(pure_variance);
  l.f = between / l.groups_dof / pure_variance;
  l.f_limit = f_quantile_95(l.groups_dof, l.pure_dof);
  l.rejected = !(l.f <= l.f_limit);
  return l;
}

}  // namespace

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

Fit fit_polynomial(std::span<const Observation> readings, int degree) {
  check(readings, degree);
  const double scale = largest_x(readings);
  const Eigen::MatrixXd m = design(readings, degree, scale);
  Eigen::VectorXd y(m.rows());
  for (Eigen::Index i = 0; i < m.rows(); ++i) y(i) = readings[static_cast<std::size_t>(i)].y;

  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(m);
  const Eigen::VectorXd scaled = qr.solve(y);
  const Eigen::VectorXd residual = y - m * scaled;

  const Eigen::Index n = degree + 1;
  const Eigen::MatrixXd r = qr.matrixQR().topLeftCorner(n, n).triangularView<Eigen::Upper>();
  const Eigen::MatrixXd r_inverse = r.triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(n, n));

  Fit fit{};
  fit.residual_dof = static_cast<int>(m.rows() - n);
  fit.residual_sd = residual.norm() / std::sqrt(static_cast<double>(fit.residual_dof));
  fit.largest_residual = residual.cwiseAbs().maxCoeff();
  double unscale = 1.0;
  for (Eigen::Index i = 0; i < n; ++i) {
    fit.coefficient.push_back(scaled(i) * unscale);
    fit.standard_error.push_back(fit.residual_sd * r_inverse.row(i).norm() * unscale);
    unscale /= scale;
  }
  fit.lack_of_fit = judge(readings, residual, degree + 1);
  return fit;
}

}  // namespace strandproof::host::gauge
