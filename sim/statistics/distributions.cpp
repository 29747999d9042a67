// SPDX-License-Identifier: MIT
#include "sim/statistics/distributions.hpp"

#include <cmath>

#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/special_functions/gamma.hpp>

namespace arris {

namespace bm = boost::math;

double normal_quantile(double p) { return bm::quantile(bm::normal(), p); }

double t_quantile(double p, double df) { return bm::quantile(bm::students_t(df), p); }
double t_quantile_above(double tail, double df) {
  return bm::quantile(bm::complement(bm::students_t(df), tail));
}
double t_above(double t, double df) { return bm::cdf(bm::complement(bm::students_t(df), t)); }
double noncentral_t_above(double t, double df, double noncentrality) {
  return bm::cdf(bm::complement(bm::non_central_t(df, noncentrality), t));
}

double t_log_peak(double df) {
  return log_gamma(0.5 * (df + 1.0)) - log_gamma(0.5 * df) - 0.5 * std::log(df * M_PI);
}

double log_gamma(double x) { return bm::lgamma(x); }

double f_quantile(double p, double df, double df_below) {
  return bm::quantile(bm::fisher_f(df, df_below), p);
}
double f_quantile_above(double tail, double df, double df_below) {
  return bm::quantile(bm::complement(bm::fisher_f(df, df_below), tail));
}
double f_above(double F, double df, double df_below) {
  return bm::cdf(bm::complement(bm::fisher_f(df, df_below), F));
}

double chi_squared_quantile(double p, double df) { return bm::quantile(bm::chi_squared(df), p); }
double chi_squared_quantile_above(double tail, double df) {
  return bm::quantile(bm::complement(bm::chi_squared(df), tail));
}

double beta_quantile(double p, double a, double b) { return bm::quantile(bm::beta_distribution(a, b), p); }

}  // namespace arris
