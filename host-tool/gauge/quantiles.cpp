// Boost.Math alone in this translation unit: its headers are heavy.
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include "host-tool/gauge/fit.hpp"

namespace strandproof::host::gauge {

double f_quantile_95(int numerator_dof, int denominator_dof) {
  return boost::math::quantile(boost::math::fisher_f(numerator_dof, denominator_dof), 0.95);
}

double t_quantile(double probability, double degrees_of_freedom) {
  constexpr double as_good_as_normal = 1e7;
  if (!(degrees_of_freedom < as_good_as_normal))
    return boost::math::quantile(boost::math::normal{}, probability);
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), probability);
}

}  // namespace strandproof::host::gauge
