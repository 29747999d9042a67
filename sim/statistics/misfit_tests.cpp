// SPDX-License-Identifier: MIT
#include "sim/statistics/misfit_tests.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <stdexcept>

#include "sim/statistics/distributions.hpp"

namespace arris {
namespace {

double log_choose(int n, int k) { return log_gamma(n + 1.0) - log_gamma(k + 1.0) - log_gamma(n - k + 1.0); }

// of `a` of one sign and `b` of the other in random order
double chance_of_runs(int runs, int a, int b) {
  const auto ways = [&](int of_a, int of_b) {
    if (of_a < 1 || of_b < 1 || of_a > a || of_b > b) return 0.0;
    return std::exp(log_choose(a - 1, of_a - 1) + log_choose(b - 1, of_b - 1) - log_choose(a + b, a));
  };
  const int half = runs / 2;
  return runs % 2 == 0 ? 2.0 * ways(half, half) : ways(half, half + 1) + ways(half + 1, half);
}

}  // namespace

PureErrorTest pure_error_test(const std::vector<double>& residuals, const std::vector<int>& group,
                              double parameters) {
  if (residuals.size() != group.size()) throw std::domain_error("a group for each residual");
  struct Sums {
    double count = 0.0, sum = 0.0;
  };
  std::map<int, Sums> groups;
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    Sums& sums = groups[group[i]];
    sums.count += 1.0;
    sums.sum += residuals[i];
  }
  PureErrorTest out;
  out.error_ss = out.misfit_ss = 0.0;
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    const Sums&  sums = groups.at(group[i]);
    const double mean = sums.sum / sums.count;
    out.error_ss += std::pow(residuals[i] - mean, 2);
    out.misfit_ss += mean * mean;
  }
  out.error_df  = static_cast<double>(residuals.size()) - static_cast<double>(groups.size());
  out.misfit_df = static_cast<double>(groups.size()) - parameters;
  if (!(out.error_df > 0.0) || !(out.misfit_df > 0.0) || !(out.error_ss > 0.0)) return out;
  out.F = out.misfit_ss / out.misfit_df / (out.error_ss / out.error_df);
  out.p = f_above(out.F, out.misfit_df, out.error_df);
  return out;
}

RunsTest runs_test(const std::vector<bool>& signs) {
  RunsTest   out;
  const int  n = static_cast<int>(signs.size());
  const auto a = static_cast<int>(std::count(signs.begin(), signs.end(), true));
  for (std::size_t i = 0; i < signs.size(); ++i) out.runs += i == 0 || signs[i] != signs[i - 1] ? 1 : 0;
  if (a == 0 || a == n) return out;
  out.expected = 1.0 + 2.0 * a * (n - a) / n;
  double few = 0.0, many = 0.0;
  for (int r = 2; r <= n; ++r) {
    const double chance = chance_of_runs(r, a, n - a);
    few += r <= out.runs ? chance : 0.0;
    many += r >= out.runs ? chance : 0.0;
  }
  out.p = std::min(1.0, 2.0 * std::min(few, many));
  return out;
}

std::vector<double> holm_adjusted(const std::vector<double>& p) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < p.size(); ++i) {
    if (!std::isnan(p[i])) order.push_back(i);
  }
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return p[a] < p[b]; });
  std::vector<double> out(p.size(), not_given);
  double              most = 0.0;
  for (std::size_t k = 0; k < order.size(); ++k) {
    most          = std::max(most, std::min(1.0, static_cast<double>(order.size() - k) * p[order[k]]));
    out[order[k]] = most;
  }
  return out;
}

}  // namespace arris
