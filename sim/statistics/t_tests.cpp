// SPDX-License-Identifier: MIT
#include "sim/statistics/t_tests.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "sim/statistics/distributions.hpp"

namespace arris {
namespace {

struct Sample {
  double n, mean, variance_of_mean;
};

Sample sample_of(const std::vector<double>& x) {
  if (x.size() < 2) throw std::domain_error("a sample needs two values");
  const auto   n    = static_cast<double>(x.size());
  const double mean = std::accumulate(x.begin(), x.end(), 0.0) / n;
  double       sum  = 0.0;
  for (const double v : x) sum += (v - mean) * (v - mean);
  return {n, mean, sum / (n - 1.0) / n};
}

}  // namespace

double TTest::p_not_equivalent(double margin) const {
  const double upper = t_above((margin - difference) / se, dof);
  const double lower = t_above((margin + difference) / se, dof);
  return std::max(upper, lower);
}

TTest t_test(double difference, double se, double dof, double level) {
  if (!(se > 0.0) || !(dof > 0.0)) throw std::domain_error("no scatter, or no degrees of freedom");
  const double quantile = t_quantile_above(0.5 * (1.0 - level), dof);
  TTest        out;
  out.difference = difference;
  out.se         = se;
  out.dof        = dof;
  out.t          = difference / se;
  out.p          = 2.0 * t_above(std::abs(out.t), dof);
  out.low        = difference - quantile * se;
  out.high       = difference + quantile * se;
  return out;
}

TTest welch_test(const std::vector<double>& a, const std::vector<double>& b, double level) {
  const Sample x = sample_of(a), y = sample_of(b);
  const double v   = x.variance_of_mean + y.variance_of_mean;
  const double dof = v * v /
                     (x.variance_of_mean * x.variance_of_mean / (x.n - 1.0) +
                      y.variance_of_mean * y.variance_of_mean / (y.n - 1.0));
  return t_test(x.mean - y.mean, std::sqrt(v), dof, level);
}

TTest paired_test(const std::vector<double>& a, const std::vector<double>& b, double level) {
  if (a.size() != b.size()) throw std::domain_error("pairs need samples of one size");
  std::vector<double> d(a.size());
  std::transform(a.begin(), a.end(), b.begin(), d.begin(), [](double x, double y) { return x - y; });
  const Sample s = sample_of(d);
  return t_test(s.mean, std::sqrt(s.variance_of_mean), s.n - 1.0, level);
}

}  // namespace arris
