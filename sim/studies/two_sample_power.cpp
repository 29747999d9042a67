// SPDX-License-Identifier: MIT
#include "sim/studies/two_sample_power.hpp"

#include <cmath>
#include <cstdint>
#include <limits>

#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/tools/roots.hpp>

namespace arris {
namespace {

constexpr double most_readings = 1e6;

// the root of a rising function between two points, to the last bits but a few
template <class F>
double root_between(const F& f, double low, double high) {
  std::uintmax_t iterations = 200;
  const auto     bracket    = boost::math::tools::toms748_solve(
             f, low, high, boost::math::tools::eps_tolerance<double>(48), iterations);
  return 0.5 * (bracket.first + bracket.second);
}

}  // namespace

double t_power(double noncentrality, double df, double risk) {
  const double limit = quantile(complement(boost::math::students_t(df), 0.5 * risk));
  return cdf(complement(boost::math::non_central_t(df, noncentrality), limit));
}

double noncentrality_for_power(double df, double risk, double power) {
  double high = 4.0;
  while (t_power(high, df, risk) < power) high *= 2.0;
  return root_between([&](double x) { return t_power(x, df, risk) - power; }, 0.0, high);
}

double two_sample_power(double readings_each, double difference_sd, double risk) {
  return t_power(difference_sd * std::sqrt(0.5 * readings_each), 2.0 * (readings_each - 1.0), risk);
}

double readings_for_power(double difference_sd, double risk, double power) {
  const auto below = [&](double n) { return two_sample_power(n, difference_sd, risk) - power; };
  if (below(2.0) >= 0.0) return 2.0;
  double high = 4.0;
  while (high < most_readings && below(high) < 0.0) high *= 2.0;
  if (high >= most_readings) return std::numeric_limits<double>::infinity();
  return root_between(below, 0.5 * high, high);
}

}  // namespace arris
