// SPDX-License-Identifier: MIT
#include "sim/statistics/mean_squares.hpp"

#include <algorithm>
#include <cmath>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>

namespace arris {
namespace {

double squared(double x) { return x * x; }

}  // namespace

double combined(const std::vector<MeanSquare>& terms) {
  double sum = 0.0;
  for (const MeanSquare& t : terms) sum += t.coefficient * t.value;
  return sum;
}

Interval variance_interval(const std::vector<MeanSquare>& terms, double confidence) {
  const double tail = 0.5 * (1.0 - confidence);
  const auto   G    = [&](const MeanSquare& t) {
    return 1.0 - t.df / quantile(complement(boost::math::chi_squared(t.df), tail));
  };
  const auto H = [&](const MeanSquare& t) {
    return t.df / quantile(boost::math::chi_squared(t.df), tail) - 1.0;
  };
  double below = 0.0, above = 0.0;
  for (const MeanSquare& q : terms) {
    const double size = squared(q.coefficient * q.value);
    below += squared(q.coefficient > 0.0 ? G(q) : H(q)) * size;
    above += squared(q.coefficient > 0.0 ? H(q) : G(q)) * size;
    for (const MeanSquare& r : terms) {
      if (!(q.coefficient > 0.0 && r.coefficient < 0.0)) continue;
      const boost::math::fisher_f ratio(q.df, r.df);
      const double                product = -q.coefficient * r.coefficient * q.value * r.value;
      const double                F       = quantile(complement(ratio, tail));
      below += product * (squared(F - 1.0) - squared(G(q) * F) - squared(H(r))) / F;
      const double f = quantile(ratio, tail);
      above += product * (squared(1.0 - f) - squared(H(q) * f) - squared(G(r))) / f;
    }
  }
  const double middle = combined(terms);
  return {std::max(0.0, middle - std::sqrt(std::max(0.0, below))),
          std::max(0.0, middle + std::sqrt(std::max(0.0, above)))};
}

Interval chi_square_interval(double variance, double df, double confidence) {
  const double                   tail = 0.5 * (1.0 - confidence);
  const boost::math::chi_squared chi(df);
  const double                   few = quantile(chi, tail);
  return {variance * df / quantile(complement(chi, tail)), few > 1e-6 * df ? variance * df / few : not_given};
}

}  // namespace arris
