// SPDX-License-Identifier: MIT
#include "sim/statistics/mean_squares.hpp"

#include <algorithm>
#include <cmath>

#include "sim/statistics/distributions.hpp"

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
  const auto   G = [&](const MeanSquare& t) { return 1.0 - t.df / chi_squared_quantile_above(tail, t.df); };
  const auto   H = [&](const MeanSquare& t) { return t.df / chi_squared_quantile(tail, t.df) - 1.0; };
  double       below = 0.0, above = 0.0;
  for (const MeanSquare& q : terms) {
    const double size = squared(q.coefficient * q.value);
    below += squared(q.coefficient > 0.0 ? G(q) : H(q)) * size;
    above += squared(q.coefficient > 0.0 ? H(q) : G(q)) * size;
    for (const MeanSquare& r : terms) {
      if (!(q.coefficient > 0.0 && r.coefficient < 0.0)) continue;
      const double product = -q.coefficient * r.coefficient * q.value * r.value;
      const double F       = f_quantile_above(tail, q.df, r.df);
      below += product * (squared(F - 1.0) - squared(G(q) * F) - squared(H(r))) / F;
      const double f = f_quantile(tail, q.df, r.df);
      above += product * (squared(1.0 - f) - squared(H(q) * f) - squared(G(r))) / f;
    }
  }
  const double middle = combined(terms);
  return {std::max(0.0, middle - std::sqrt(std::max(0.0, below))),
          std::max(0.0, middle + std::sqrt(std::max(0.0, above)))};
}

Interval chi_square_interval(double variance, double df, double confidence) {
  const double tail = 0.5 * (1.0 - confidence);
  const double few  = chi_squared_quantile(tail, df);
  return {variance * df / chi_squared_quantile_above(tail, df),
          few > 1e-6 * df ? variance * df / few : not_given};
}

}  // namespace arris
