// SPDX-License-Identifier: MIT
#include "sim/statistics/weibull.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <utility>

#include <boost/math/tools/roots.hpp>
#include <ceres/jet.h>

#include "sim/numbers.hpp"
#include "sim/statistics/distributions.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

using Jet2 = ceres::Jet<double, 2>;

struct Problem {
  const std::vector<ObservedLife>& lives;
  Eigen::MatrixXd                  design;  // 1 and the covariates, n × (1 + k)
  double                           unit;    // times are counted in it
};

// log L of one life at (β, u), u = b·(1, x)
template <class T>
T log_likelihood(const ObservedLife& life, double unit, const T& shape, const T& u) {
  using std::exp;
  using std::log;
  const auto z     = [&](double t) { return shape * std::log(t / unit) - u; };
  const auto count = static_cast<double>(life.count);
  if (life.high == life.low)
    return count * (log(shape) + z(life.low) - exp(z(life.low)) - std::log(life.low));
  // log(S(low) − S(high)) = −H(low) + log(1 − e^−(H(high) − H(low)))
  const T before = life.low > 0.0 ? T(exp(z(life.low))) : T(0.0);
  if (!std::isfinite(life.high)) return -count * before;
  return count * (log(T(1.0) - exp(before - exp(z(life.high)))) - before);
}

Eigen::Vector2d slope_of(const ObservedLife& life, double unit, double shape, double u) {
  return log_likelihood(life, unit, Jet2(shape, 0), Jet2(u, 1)).v;
}

struct Slopes {
  double          value = 0.0;
  Eigen::VectorXd gradient;
  Eigen::MatrixXd hessian;
};

double value_at(const Problem& p, const Eigen::VectorXd& x) {
  const Eigen::VectorXd u   = p.design * x.tail(x.size() - 1);
  double                sum = 0.0;
  for (std::size_t i = 0; i < p.lives.size(); ++i)
    sum += log_likelihood(p.lives[i], p.unit, x[0], u[static_cast<Eigen::Index>(i)]);
  return std::isnan(sum) ? -infinity : sum;
}

// at x = (β, b); the curvature by central differences of exact slopes of each life: good to 1e-9 of it
Slopes slopes_at(const Problem& p, const Eigen::VectorXd& x) {
  const Eigen::Index    n = x.size();
  const Eigen::VectorXd u = p.design * x.tail(n - 1);
  Slopes                s;
  s.gradient.setZero(n);
  s.hessian.setZero(n, n);
  Eigen::MatrixXd to(2, n);  // from x to (β, u)
  for (std::size_t i = 0; i < p.lives.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    to.setZero();
    to(0, 0)              = 1.0;
    to.row(1).tail(n - 1) = p.design.row(row);
    const Jet2 l          = log_likelihood(p.lives[i], p.unit, Jet2(x[0], 0), Jet2(u[row], 1));
    s.value += l.a;
    s.gradient += to.transpose() * l.v;
    const double    h0 = 1e-5 * x[0], h1 = 1e-5 * std::max(std::abs(u[row]), 1.0);
    Eigen::Matrix2d bend;
    bend.col(0) =
        (slope_of(p.lives[i], p.unit, x[0] + h0, u[row]) - slope_of(p.lives[i], p.unit, x[0] - h0, u[row])) /
        (2.0 * h0);
    bend.col(1) =
        (slope_of(p.lives[i], p.unit, x[0], u[row] + h1) - slope_of(p.lives[i], p.unit, x[0], u[row] - h1)) /
        (2.0 * h1);
    s.hessian += to.transpose() * (0.5 * (bend + bend.transpose())) * to;
  }
  return s;
}

struct Top {
  bool            found = false;
  Eigen::VectorXd x;
  Slopes          slopes;
};

// the top of log L over x = origin + basis·y, from y on: Newton's steps on a concave function, halved until it rises
Top climb(const Problem& p, const Eigen::VectorXd& origin, const Eigen::MatrixXd& basis, Eigen::VectorXd y) {
  constexpr double most_shape = 1e3;  // lives so close together that no shape can be determined
  Top              top;
  top.x      = origin + basis * y;
  top.slopes = slopes_at(p, top.x);
  for (int round = 0; round < 200 && std::isfinite(top.slopes.value); ++round) {
    const Eigen::VectorXd gradient  = basis.transpose() * top.slopes.gradient;
    const Eigen::MatrixXd curvature = -basis.transpose() * top.slopes.hessian * basis;
    const Eigen::VectorXd step      = solve_symmetric(curvature, gradient);
    if (!step.allFinite()) return top;
    const double gain = gradient.dot(step);
    if (std::abs(gain) < 1e-14) {
      top.found = Cholesky(curvature).is_positive();
      return top;
    }
    bool moved = false;
    for (double share = 1.0; share > 1e-10 && !moved; share *= 0.5) {
      const Eigen::VectorXd to = origin + basis * (y + share * step);
      if (!(to[0] > 0.0)) continue;
      const double value = value_at(p, to);
      if (!std::isfinite(value) || !(value > top.slopes.value || gain < 1e-10)) continue;
      y += share * step;
      top.x      = to;
      top.slopes = slopes_at(p, to);
      moved      = true;
    }
    if (!moved || top.x[0] > most_shape) return top;
  }
  return top;
}

Problem problem_of(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates) {
  const auto n = static_cast<Eigen::Index>(lives.size());
  if (covariates.size() > 0 && covariates.rows() != n)
    throw std::invalid_argument("fit_weibull: covariates have a row for each life");
  if (!covariates.allFinite()) throw std::invalid_argument("fit_weibull: a covariate is no number");
  Problem p{lives, Eigen::MatrixXd::Ones(n, 1 + (covariates.size() > 0 ? covariates.cols() : 0)), 1.0};
  if (covariates.size() > 0) p.design.rightCols(covariates.cols()) = covariates;
  double logs = 0.0, weight = 0.0;
  for (const ObservedLife& life : lives) {
    if (!(life.low >= 0.0) || !(life.high >= life.low) || life.high == 0.0 || !std::isfinite(life.low))
      throw std::invalid_argument("fit_weibull: a life lies between 0 ≤ low ≤ high, high above 0");
    const double t = std::isfinite(life.high) ? life.high : life.low;
    if (!(t > 0.0)) continue;  // still good before the first pass says nothing
    logs += life.count * std::log(t);
    weight += life.count;
  }
  if (weight > 0.0) p.unit = std::exp(logs / weight);
  return p;
}

// (β, b) of a fit
Eigen::VectorXd place_of(const Problem& p, const WeibullFit& fit) {
  Eigen::VectorXd x(2 + fit.effects.size());
  x << fit.shape, fit.shape * std::log(fit.scale / p.unit), fit.shape * fit.effects;
  return x;
}

// the most that log L can be where one of (log η, log β, γ) is `value`
double best_with(const Problem& p, const WeibullFit& fit, int which, double value) {
  const Eigen::VectorXd at     = place_of(p, fit);
  const Eigen::Index    n      = at.size();
  Eigen::VectorXd       origin = Eigen::VectorXd::Zero(n), y = Eigen::VectorXd::Zero(n - 1);
  Eigen::MatrixXd       basis = Eigen::MatrixXd::Zero(n, n - 1);
  if (which == 1) {  // β
    origin[0] = std::exp(value);
    basis.bottomRows(n - 1).setIdentity();
    y = at.tail(n - 1) * (origin[0] / at[0]);  // as η and γ stay where they are
  } else {                                     // b of this one is β times what is held
    const Eigen::Index held = which == 0 ? 1 : which;
    basis(0, 0)             = 1.0;
    basis(held, 0)          = which == 0 ? value - std::log(p.unit) : value;
    y[0] = 1.0;  // from exponential lives; at the shape of the fit log L may be beyond numbers
    for (Eigen::Index from = 1, column = 1; from < n; ++from) {
      if (from != held) basis(from, column++) = 1.0;
    }
  }
  const Top top = climb(p, origin, basis, y);
  return top.found ? top.slopes.value : not_given;
}

// m and ν
std::pair<double, double> counts_of(const std::vector<ObservedLife>& lives,
                                    const Eigen::MatrixXd&           covariates) {
  double ended = 0.0;
  for (const ObservedLife& life : lives) ended += std::isfinite(life.high) ? life.count : 0;
  return {ended, ended - 1.0 - static_cast<double>(covariates.size() > 0 ? covariates.cols() : 0)};
}

double theta(const WeibullFit& fit, int which) {
  return which == 0 ? std::log(fit.scale) : which == 1 ? std::log(fit.shape) : fit.effects[which - 2];
}

}  // namespace

WeibullFit fit_weibull(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates) {
  const Problem      p = problem_of(lives, covariates);
  const Eigen::Index n = 1 + p.design.cols();
  WeibullFit         fit;
  bool               ended = false, differ = false;
  double             first = not_given;
  for (const ObservedLife& life : lives) {
    const double t = std::isfinite(life.high) ? life.high : life.low;
    ended |= std::isfinite(life.high);
    if (!(t > 0.0)) continue;
    if (std::isnan(first)) first = t;
    differ |= t != first || life.low != life.high;
  }
  if (!ended || !differ) return fit;

  Eigen::VectorXd start = Eigen::VectorXd::Zero(n);  // exponential lives of about the length of the unit
  start[0]              = 1.0;
  const Top top         = climb(p, Eigen::VectorXd::Zero(n), Eigen::MatrixXd::Identity(n, n), start);
  if (!top.found) return fit;
  const Eigen::VectorXd b     = top.x.tail(n - 1);
  const double          shape = top.x[0];
  // from (β, b) to (log η, log β, γ): log η = log unit + b/β, γ = b_j/β
  Eigen::MatrixXd by = Eigen::MatrixXd::Zero(n, n);
  by(0, 0)           = -b[0] / (shape * shape);
  by(0, 1)           = 1.0 / shape;
  by(1, 0)           = 1.0 / shape;
  for (Eigen::Index j = 2; j < n; ++j) {
    by(j, 0) = -b[j - 1] / (shape * shape);
    by(j, j) = 1.0 / shape;
  }
  const Eigen::MatrixXd covariance = by * inverse_symmetric(-top.slopes.hessian) * by.transpose();
  // a group of which none has ended pulls its effect away without end, until slopes are lost in rounding
  const Eigen::VectorXd spread =
      (p.design.rowwise() - p.design.colwise().mean()).cwiseAbs().colwise().maxCoeff();
  for (Eigen::Index j = 2; j < n; ++j) {
    if (!(std::sqrt(covariance(j, j)) * spread[j - 1] < 1e3)) return fit;
  }
  fit.usable         = true;
  fit.shape          = shape;
  fit.scale          = p.unit * std::exp(b[0] / shape);
  fit.effects        = b.tail(n - 2) / shape;
  fit.log_likelihood = top.slopes.value;
  fit.covariance     = covariance;
  fit.dof            = counts_of(lives, covariates).second;
  return fit;
}

WeibullFit::Quantile WeibullFit::quantile(double p) const {
  const double          w     = std::log(-std::log1p(-p));  // log t = log η + w/β
  const double          log_t = std::log(scale) + w / shape;
  const Eigen::Vector2d slope(1.0, -w / shape);
  const double          sd    = std::sqrt(slope.dot(covariance.topLeftCorner<2, 2>() * slope));
  const double          reach = dof > 0.0 ? t_quantile(0.95, dof) : not_given;
  return {std::exp(log_t), std::exp(log_t - reach * sd), std::exp(log_t + reach * sd)};
}

double weibull_rise(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates,
                    double confidence) {
  const auto [m, nu] = counts_of(lives, covariates);
  if (!(nu > 0.0)) return not_given;
  return m * std::log1p(f_quantile(confidence, 1.0, nu) / nu);
}

double weibull_p(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates, double rise) {
  const auto [m, nu] = counts_of(lives, covariates);
  if (!(nu > 0.0) || std::isnan(rise)) return not_given;
  return f_above(nu * std::expm1(rise / m), 1.0, nu);
}

Interval weibull_interval(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates,
                          const WeibullFit& fit, int which, double rise) {
  if (!fit.usable || std::isnan(rise)) return {not_given, not_given};
  const Problem p      = problem_of(lives, covariates);
  const double  centre = theta(fit, which), sd = std::sqrt(fit.covariance(which, which));
  const auto    beyond = [&](double value) {  // below 0 inside of the interval
    return 2.0 * (fit.log_likelihood - best_with(p, fit, which, value)) - rise;
  };
  const auto end = [&](double side) {
    double inside = centre, step = std::sqrt(rise) * sd;
    for (int i = 0; i < 40; ++i, step *= 1.6) {
      const double outside = inside + side * step;
      const double there   = beyond(outside);
      if (std::isnan(there)) return side * infinity;  // so far out that there is no top
      if (there > 0.0) {
        const auto     close = boost::math::tools::eps_tolerance<double>(40);
        std::uintmax_t most  = 100;
        const auto     found = boost::math::tools::toms748_solve(beyond, std::min(inside, outside),
                                                                 std::max(inside, outside), close, most);
        return 0.5 * (found.first + found.second);
      }
      inside = outside;
    }
    return side * infinity;
  };
  return {end(-1.0), end(1.0)};
}

double weibull_rise_without(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates,
                            const WeibullFit& fit, int j) {
  if (!fit.usable) return not_given;
  const double without = best_with(problem_of(lives, covariates), fit, 2 + j, 0.0);
  return std::isnan(without) ? not_given : std::max(2.0 * (fit.log_likelihood - without), 0.0);
}

std::vector<Surviving> product_limit(const std::vector<double>& at, const std::vector<bool>& ended) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < at.size(); ++i) order.push_back(i);
  // at one time ends come before what is only no longer watched
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return at[a] != at[b] ? at[a] < at[b] : ended[a] && !ended[b];
  });
  std::vector<Surviving> steps;
  double                 share = 1.0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    if (!ended[order[i]]) continue;
    share *= 1.0 - 1.0 / static_cast<double>(order.size() - i);
    if (!steps.empty() && steps.back().time == at[order[i]])
      steps.back().share = share;
    else
      steps.push_back({at[order[i]], share});
  }
  return steps;
}

double product_limit_median(const std::vector<double>& at, const std::vector<bool>& ended) {
  for (const Surviving& step : product_limit(at, ended)) {
    if (step.share <= 0.5 + 1e-12) return step.time;
  }
  return infinity;
}

}  // namespace arris
