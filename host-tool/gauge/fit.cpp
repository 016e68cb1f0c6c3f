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

// 64 mantissa bits on x86: a polynomial of degree 10 over a short range loses 13 digits of condition.
using Real = long double;
using Matrix = Eigen::Matrix<Real, Eigen::Dynamic, Eigen::Dynamic>;
using Vector = Eigen::Matrix<Real, Eigen::Dynamic, 1>;

// Squares and products of what lies within them stay finite in a double.
constexpr double smallest_input = 1e-100;
constexpr double largest_input = 1e100;

// A polynomial in t = (x - centre) / half, t within [-1, 1]; through the origin x times one of a degree less.
struct Basis {
  int degree;
  bool through_origin;
  Real centre;
  Real half;  // a power of two: the division is exact
  [[nodiscard]] Eigen::Index count() const { return degree + (through_origin ? 0 : 1); }
};

void check_reading(const Observation& r) {
  if (!std::isfinite(r.x) || !std::isfinite(r.y))
    throw refused("a reading is not a finite number; remove it");
  for (const double v : {std::abs(r.x), std::abs(r.y)}) {
    if (v > largest_input || (v > 0.0 && v < smallest_input))
      throw refused("a reading lies outside 1e-100 to 1e100; write it in another unit");
  }
}

void check(std::span<const Observation> readings, int degree, bool through_origin) {
  if (degree < 1 || degree > degree_max) throw bad_input("the degree of a fit is 1 to 10; change --degree");
  std::set<double> distinct;
  for (const auto& r : readings) {
    check_reading(r);
    if (!through_origin || r.x != 0.0) distinct.insert(r.x);
  }
  const auto coefficients = static_cast<std::size_t>(degree + (through_origin ? 0 : 1));
  if (distinct.size() < coefficients || readings.size() <= coefficients) {
    throw refused("too few readings for a curve of degree " + std::to_string(degree) + ": " +
                  std::to_string(readings.size()) + " readings at " + std::to_string(distinct.size()) +
                  " different inputs; take more set points");
  }
}

double largest_y(std::span<const Observation> readings) {
  double largest = 0.0;
  for (const auto& r : readings) largest = std::max(largest, std::abs(r.y));
  return largest;
}

// What is taken off y before the fit and given back to its constant: of y = 1e12 + 0.1 the tenths would else
// drown in the rounding of the residuals. A double, so that the difference is exact.
double offset_of(std::span<const Observation> readings, bool through_origin) {
  if (through_origin) return 0.0;
  const auto [low, high] = std::minmax_element(readings.begin(), readings.end(),
                                               [](const auto& a, const auto& b) { return a.y < b.y; });
  return low->y + 0.5 * (high->y - low->y);
}

// Centred, so that inputs far from zero (1e6 to 1e6 + 29) keep their digits.
Basis basis_of(std::span<const Observation> readings, int degree, bool through_origin) {
  const auto [low, high] = std::minmax_element(readings.begin(), readings.end(),
                                               [](const auto& a, const auto& b) { return a.x < b.x; });
  const double centre = low->x + 0.5 * (high->x - low->x);
  const double reach = std::max(high->x - centre, centre - low->x);
  int exponent = 0;
  (void)std::frexp(reach, &exponent);
  return {degree, through_origin, static_cast<Real>(centre), reach > 0.0 ? std::ldexp(1.0L, exponent) : 1.0L};
}

Matrix design(std::span<const Observation> readings, const Basis& basis) {
  Matrix m(static_cast<Eigen::Index>(readings.size()), basis.count());
  for (Eigen::Index row = 0; row < m.rows(); ++row) {
    const Real x = static_cast<Real>(readings[static_cast<std::size_t>(row)].x);
    Real power = basis.through_origin ? x : 1.0L;
    for (Eigen::Index column = 0; column < m.cols(); ++column) {
      m(row, column) = power;
      power *= (x - basis.centre) / basis.half;
    }
  }
  return m;
}

// Column j: the coefficients of x^0 ... x^degree in the j-th function of the basis.
Matrix powers_of_x(const Basis& basis) {
  Matrix t = Matrix::Zero(basis.degree + 1, basis.count());
  const Eigen::Index first = basis.through_origin ? 1 : 0;
  t(first, 0) = 1.0L;
  for (Eigen::Index j = 1; j < t.cols(); ++j) {
    for (Eigen::Index k = first; k < t.rows(); ++k) {
      const Real lower = k > first ? t(k - 1, j - 1) : 0.0L;
      t(k, j) = (lower - basis.centre * t(k, j - 1)) / basis.half;
    }
  }
  return t;
}

struct Group {
  Real sum = 0.0L;
  int count = 0;
};

struct Spread {
  Real between = 0.0L;  // of the group means about the curve
  Real within = 0.0L;   // of the readings about their group's mean
};

Spread spread_of(std::span<const Observation> readings, const Vector& residual,
                 std::map<int, Group>& groups) {
  const auto at = [&](std::size_t i) { return residual(static_cast<Eigen::Index>(i)); };
  for (std::size_t i = 0; i < readings.size(); ++i) {
    auto& g = groups[readings[i].group];
    g.sum += at(i);
    ++g.count;
  }
  Spread s;
  for (const auto& [number, g] : groups) s.between += g.sum * g.sum / g.count;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const auto& g = groups[readings[i].group];
    const Real off = at(i) - g.sum / g.count;
    s.within += off * off;
  }
  return s;
}

LackOfFit judge(std::span<const Observation> readings, const Vector& residual, int coefficients) {
  std::map<int, Group> groups;
  const Spread s = spread_of(readings, residual, groups);
  LackOfFit l{};
  l.groups_dof = static_cast<int>(groups.size()) - coefficients;
  l.pure_dof = static_cast<int>(readings.size() - groups.size());
  // Below the rounding of y there is no scatter, only arithmetic.
  const Real rounding = 4.0L * static_cast<Real>(std::numeric_limits<double>::epsilon()) *
                        static_cast<Real>(largest_y(readings));
  const Real nothing = rounding * rounding * static_cast<Real>(readings.size());
  l.available = l.groups_dof > 0 && l.pure_dof > 0 && (s.within > nothing || s.between > nothing);
  if (!l.available) return l;
  const Real pure_variance = s.within > nothing ? s.within / l.pure_dof : 0.0L;
  l.pure_sd = static_cast<double>(std::sqrt(pure_variance));
  l.f = pure_variance > 0.0L ? static_cast<double>(s.between / l.groups_dof / pure_variance)
                             : std::numeric_limits<double>::infinity();
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

// As a double; what has no place in one is a matter of units.
double narrowed(Real value) {
  const auto v = static_cast<double>(value);
  if (std::isfinite(v) && (value == 0.0L || std::isnormal(v))) return v;
  throw refused(
      "a coefficient or its uncertainty is too large or too small for a number of this computer; write x in "
      "another unit or use a lower --degree");
}

std::vector<double> row_by_row(const Matrix& m) {
  std::vector<double> out;
  for (Eigen::Index row = 0; row < m.rows(); ++row) {
    for (Eigen::Index column = 0; column < m.cols(); ++column) out.push_back(narrowed(m(row, column)));
  }
  return out;
}

// Coefficients, their errors and covariance: of the basis, and of the powers of x.
void fill_coefficients(Fit& fit, const Basis& basis, const Vector& own, const Matrix& r_inverse, Real ss) {
  const Matrix to_powers = powers_of_x(basis);
  const Matrix root = std::sqrt(ss / fit.residual_dof) * r_inverse;  // times its transpose: the covariance
  const Matrix root_of_powers = to_powers * root;
  fit.own = {static_cast<double>(basis.centre), static_cast<double>(basis.half), row_by_row(own),
             row_by_row(root * root.transpose())};
  fit.coefficient = row_by_row(to_powers * own);
  fit.covariance = row_by_row(root_of_powers * root_of_powers.transpose());
  for (Eigen::Index i = 0; i <= basis.degree; ++i)
    fit.standard_error.push_back(narrowed(root_of_powers.row(i).norm()));
}

void fill_sums(Fit& fit, std::span<const Observation> readings, const Vector& residual, Real ss) {
  fit.residual_ss = static_cast<double>(ss);
  fit.residual_sd = static_cast<double>(std::sqrt(ss / fit.residual_dof));
  fit.largest_residual = static_cast<double>(residual.cwiseAbs().maxCoeff());
  Real mean = 0.0L;
  if (!fit.through_origin) {
    for (const auto& r : readings) mean += static_cast<Real>(r.y) / static_cast<Real>(readings.size());
  }
  Real total = 0.0L;
  for (const auto& r : readings) total += (static_cast<Real>(r.y) - mean) * (static_cast<Real>(r.y) - mean);
  const auto differs = [&](const Observation& r) { return r.y != readings.front().y; };
  const bool spread =
      fit.through_origin ? total > 0.0L : std::any_of(readings.begin(), readings.end(), differs);
  fit.r_squared = spread ? static_cast<double>(1.0L - ss / total) : std::numeric_limits<double>::quiet_NaN();
}

void fill_figures(Fit& fit, std::span<const Observation> readings, const Matrix& m, const Matrix& r_inverse,
                  const Vector& residual) {
  const Matrix q = m * r_inverse;
  const double coefficients = static_cast<double>(m.cols());
  const double n = static_cast<double>(readings.size());
  // Exact data leave only the rounding of y in the residuals: nothing there is an outlier.
  const bool exact = fit.residual_sd <= 8.0 * std::numeric_limits<double>::epsilon() * largest_y(readings);
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
  check(readings, degree, through_origin);
  const Basis basis = basis_of(readings, degree, through_origin);
  const Matrix m = design(readings, basis);
  const auto offset = static_cast<Real>(offset_of(readings, through_origin));
  Vector y(m.rows());
  for (Eigen::Index i = 0; i < m.rows(); ++i)
    y(i) = static_cast<Real>(readings[static_cast<std::size_t>(i)].y) - offset;

  const Eigen::HouseholderQR<Matrix> qr(m);
  const Matrix r_inverse = inverse_triangle(qr, m.cols(), degree);
  Vector own = qr.solve(y);
  const Vector residual = y - m * own;
  own(0) += offset;  // zero through the origin, where this is no constant
  const Real ss = residual.squaredNorm();

  Fit fit{};
  fit.degree = degree;
  fit.through_origin = through_origin;
  fit.residual_dof = static_cast<int>(m.rows() - m.cols());
  fill_sums(fit, readings, residual, ss);
  fill_coefficients(fit, basis, own, r_inverse, ss);
  fill_figures(fit, readings, m, r_inverse, residual);
  fit.lack_of_fit = judge(readings, residual, static_cast<int>(basis.count()));
  return fit;
}

}  // namespace strandproof::host::gauge
