#include "host-tool/gauge/fit.hpp"

#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::gauge {
namespace {

// 64 mantissa bits on x86: a scaled polynomial of degree 10 over a short range loses 13 digits of condition.
using Real = long double;
using Matrix = Eigen::Matrix<Real, Eigen::Dynamic, Eigen::Dynamic>;
using Vector = Eigen::Matrix<Real, Eigen::Dynamic, 1>;

struct Powers {
  int first;  // 1 through the origin
  int last;
  [[nodiscard]] Eigen::Index count() const { return last - first + 1; }
};

Powers check(std::span<const Observation> readings, int degree, bool through_origin) {
  if (degree < 1 || degree > degree_max) throw refused("the degree of a fit is 1 to 10; change --degree");
  std::set<double> distinct;
  for (const auto& r : readings) {
    if (!std::isfinite(r.x) || !std::isfinite(r.y)) throw refused("a reading is not a finite number");
    if (!through_origin || r.x != 0.0) distinct.insert(r.x);
  }
  const Powers powers{through_origin ? 1 : 0, degree};
  const auto coefficients = static_cast<std::size_t>(powers.count());
  if (distinct.size() < coefficients || readings.size() <= coefficients) {
    throw refused("too few readings for a curve of degree " + std::to_string(degree) + ": " +
                  std::to_string(readings.size()) + " readings at " + std::to_string(distinct.size()) +
                  " different inputs; take more set points");
  }
  return powers;
}

Real largest_x(std::span<const Observation> readings) {
  double largest = 0.0;
  for (const auto& r : readings) largest = std::max(largest, std::abs(r.x));
  return static_cast<Real>(largest);
}

Matrix design(std::span<const Observation> readings, const Powers& powers, Real scale) {
  Matrix m(static_cast<Eigen::Index>(readings.size()), powers.count());
  for (Eigen::Index row = 0; row < m.rows(); ++row) {
    const Real x = static_cast<Real>(readings[static_cast<std::size_t>(row)].x) / scale;
    Real power = powers.first == 0 ? 1.0L : x;
    for (Eigen::Index column = 0; column < m.cols(); ++column) {
      m(row, column) = power;
      power *= x;
    }
  }
  return m;
}

struct GroupSums {
  Real residual = 0.0L;
  Real squared = 0.0L;
  int count = 0;
};

LackOfFit judge(std::span<const Observation> readings, const Vector& residual, int coefficients) {
  std::map<int, GroupSums> groups;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    auto& g = groups[readings[i].group];
    const Real r = residual(static_cast<Eigen::Index>(i));
    g.residual += r;
    g.squared += r * r;
    ++g.count;
  }
  Real between = 0.0L;
  Real within = 0.0L;
  for (const auto& [number, g] : groups) {
    const Real mean_part = g.residual * g.residual / g.count;
    between += mean_part;
    within += std::max(0.0L, g.squared - mean_part);
  }
  LackOfFit l{};
  l.groups_dof = static_cast<int>(groups.size()) - coefficients;
  l.pure_dof = static_cast<int>(readings.size() - groups.size());
  l.available = l.groups_dof > 0 && l.pure_dof > 0 && within > 0.0L;
  if (!l.available) return l;
  const Real pure_variance = within / l.pure_dof;
  l.pure_sd = static_cast<double>(std::sqrt(pure_variance));
  l.f = static_cast<double>(between / l.groups_dof / pure_variance);
  l.f_limit = f_quantile_95(l.groups_dof, l.pure_dof);
  l.rejected = !(l.f <= l.f_limit);
  return l;
}

// Upper triangle of the QR, and its inverse. A pivot lost against the largest means that the inputs do not
// carry this degree.
Matrix inverse_triangle(const Eigen::HouseholderQR<Matrix>& qr, Eigen::Index n, int degree) {
  const Matrix r = qr.matrixQR().topLeftCorner(n, n).template triangularView<Eigen::Upper>();
  const auto pivots = r.diagonal().cwiseAbs();
  if (!(pivots.minCoeff() > pivots.maxCoeff() * 64.0L * std::numeric_limits<Real>::epsilon())) {
    throw refused("the inputs lie too close together for a curve of degree " + std::to_string(degree) +
                  "; take set points further apart or use a lower --degree");
  }
  return r.template triangularView<Eigen::Upper>().solve(Matrix::Identity(n, n));
}

// Coefficients, their errors and covariance in the units of x. unscale: of power k is scale^-k.
void fill_coefficients(Fit& fit, const Powers& powers, const Vector& scaled, const Matrix& r_inverse,
                       Real scale) {
  const auto size = static_cast<std::size_t>(powers.last) + 1;
  const Matrix unit = r_inverse * r_inverse.transpose();
  const Real variance = static_cast<Real>(fit.residual_ss) / fit.residual_dof;
  fit.coefficient.assign(size, 0.0);
  fit.standard_error.assign(size, 0.0);
  fit.covariance.assign(size * size, 0.0);
  const auto unscale = [&](Eigen::Index i) { return std::pow(scale, -static_cast<Real>(i + powers.first)); };
  for (Eigen::Index i = 0; i < powers.count(); ++i) {
    const auto row = static_cast<std::size_t>(i + powers.first);
    fit.coefficient[row] = static_cast<double>(scaled(i) * unscale(i));
    fit.standard_error[row] = static_cast<double>(std::sqrt(variance * unit(i, i)) * unscale(i));
    for (Eigen::Index j = 0; j < powers.count(); ++j) {
      const auto column = static_cast<std::size_t>(j + powers.first);
      fit.covariance[row * size + column] =
          static_cast<double>(variance * unit(i, j) * unscale(i) * unscale(j));
    }
  }
}

void fill_sums(Fit& fit, std::span<const Observation> readings, const Vector& residual) {
  const Real ss = residual.squaredNorm();
  fit.residual_ss = static_cast<double>(ss);
  fit.residual_sd = static_cast<double>(std::sqrt(ss / fit.residual_dof));
  fit.largest_residual = static_cast<double>(residual.cwiseAbs().maxCoeff());
  Real mean = 0.0L;
  if (!fit.through_origin) {
    for (const auto& r : readings) mean += static_cast<Real>(r.y) / static_cast<Real>(readings.size());
  }
  Real total = 0.0L;
  for (const auto& r : readings) total += (static_cast<Real>(r.y) - mean) * (static_cast<Real>(r.y) - mean);
  fit.r_squared = total > 0.0L ? static_cast<double>(1.0L - ss / total) : 0.0;
}

void fill_figures(Fit& fit, std::span<const Observation> readings, const Matrix& m, const Matrix& r_inverse,
                  const Vector& residual) {
  const Matrix q = m * r_inverse;
  const double coefficients = static_cast<double>(m.cols());
  const double n = static_cast<double>(readings.size());
  double largest_y = 0.0;
  for (const auto& r : readings) largest_y = std::max(largest_y, std::abs(r.y));
  // Exact data leave only the rounding of y in the residuals: nothing there is an outlier.
  const bool exact = fit.residual_sd <= 8.0 * std::numeric_limits<double>::epsilon() * largest_y;
  const int dof = fit.residual_dof - 1;
  const double limit = dof > 0 ? t_quantile(1.0 - 0.025 / n, dof) : std::numeric_limits<double>::infinity();
  for (Eigen::Index i = 0; i < m.rows(); ++i) {
    ReadingFigure f{};
    f.residual = static_cast<double>(residual(i));
    f.leverage = static_cast<double>(q.row(i).squaredNorm());
    const double rest = 1.0 - f.leverage;
    const double without = fit.residual_ss - f.residual * f.residual / rest;
    if (!exact && dof > 0 && rest > 1e-12 && without > 0.0) {
      f.studentised = f.residual / std::sqrt(without / dof * rest);
    }
    f.high_leverage = f.leverage > 2.0 * coefficients / n;
    f.outlier = std::abs(f.studentised) > limit;
    fit.reading.push_back(f);
  }
}

}  // namespace

Fit fit_polynomial(std::span<const Observation> readings, int degree, bool through_origin) {
  const Powers powers = check(readings, degree, through_origin);
  const Real scale = largest_x(readings);
  const Matrix m = design(readings, powers, scale);
  Vector y(m.rows());
  for (Eigen::Index i = 0; i < m.rows(); ++i)
    y(i) = static_cast<Real>(readings[static_cast<std::size_t>(i)].y);

  const Eigen::HouseholderQR<Matrix> qr(m);
  const Matrix r_inverse = inverse_triangle(qr, m.cols(), degree);
  const Vector scaled = qr.solve(y);
  const Vector residual = y - m * scaled;

  Fit fit{};
  fit.degree = degree;
  fit.through_origin = through_origin;
  fit.residual_dof = static_cast<int>(m.rows() - m.cols());
  fill_sums(fit, readings, residual);
  fill_coefficients(fit, powers, scaled, r_inverse, scale);
  fill_figures(fit, readings, m, r_inverse, residual);
  fit.lack_of_fit = judge(readings, residual, static_cast<int>(powers.count()));
  return fit;
}

}  // namespace strandproof::host::gauge
