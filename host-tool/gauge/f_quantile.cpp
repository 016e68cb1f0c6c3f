// Boost.Math alone in this translation unit: its headers are heavy.
#include <boost/math/distributions/fisher_f.hpp>

#include "host-tool/gauge/fit.hpp"

namespace strandproof::host::gauge {

double f_quantile_95(int numerator_dof, int denominator_dof) {
  return boost::math::quantile(boost::math::fisher_f(numerator_dof, denominator_dof), 0.95);
}

}  // namespace strandproof::host::gauge
