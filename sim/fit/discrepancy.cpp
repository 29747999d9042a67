// SPDX-License-Identifier: MIT
#include "sim/fit/discrepancy.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include "sim/fit/edge_moments.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

constexpr double      prior_scale = 0.2, prior_dof = 4.0;
constexpr double      level_sd = 0.1, slope_sd = 0.1;  // the fit has had its say of both
constexpr std::size_t most_classes = 12;

/// In what δ is smooth: logs of passes, or their square roots.
enum class Along { logs, roots };

/// One of the splines that δ may be.
struct Spline {
  Along  along;
  double bend;  ///< s
};

std::vector<Spline> all_splines() {
  std::vector<Spline> out;
  for (const Along along : {Along::logs, Along::roots}) {
    for (double s = 0.0025; s < 4.0; s *= std::sqrt(2.0)) out.push_back({along, s});
  }
  return out;
}

// of δ at places `a` and `b`
Eigen::MatrixXd covariance_along(const Eigen::VectorXd& a, const Eigen::VectorXd& b, double bend) {
  Eigen::MatrixXd k(a.size(), b.size());
  for (Eigen::Index i = 0; i < a.size(); ++i) {
    for (Eigen::Index j = 0; j < b.size(); ++j) {
      const double near = std::min(a[i], b[j]), far = std::max(a[i], b[j]);
      k(i, j) = bend * bend * near * near * (3.0 * far - near) / 6.0 + level_sd * level_sd +
                slope_sd * slope_sd * a[i] * b[j];
    }
  }
  return k;
}

// t of the given passes; both scales are as long up to the last passes that were read
Eigen::VectorXd places_of(const Discrepancy& known, const std::vector<double>& passes, Along along) {
  const double    last = known.passes.back();
  Eigen::VectorXd t(static_cast<Eigen::Index>(passes.size()));
  for (Eigen::Index i = 0; i < t.size(); ++i) {
    const double x = passes[static_cast<std::size_t>(i)];
    t[i]           = along == Along::logs ? std::log1p(x) : std::sqrt(x / last) * std::log1p(last);
  }
  return t;
}

Eigen::VectorXd vector_of(const std::vector<double>& values) {
  return Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
}

// log density of the misses and of s itself; s is on a grid of its logarithm
double log_weight(const Discrepancy& known, const Spline& spline) {
  const double          s = spline.bend;
  const Eigen::VectorXd t = places_of(known, known.passes, spline.along), y = vector_of(known.miss);
  Eigen::MatrixXd       v = covariance_along(t, t, s);
  v.diagonal() += vector_of(known.variance);
  const Cholesky factor(v);
  const double   half_t =
      -0.5 * (prior_dof + 1.0) * std::log1p(std::pow(s / prior_scale, 2) / prior_dof) + std::log(s);
  return -0.5 * y.dot(factor.solve(y)) - 0.5 * factor.log_determinant() + half_t;
}

/// δ where it is asked for, given what is known of it.
struct Conditional {
  Eigen::VectorXd mean;
  Eigen::MatrixXd root;  ///< of its covariance
};

Conditional conditional_on(const Discrepancy& known, const std::vector<double>& passes,
                           const Spline& spline) {
  const double          s  = spline.bend;
  const Eigen::VectorXd t  = places_of(known, known.passes, spline.along),
                        at = places_of(known, passes, spline.along);
  Eigen::MatrixXd v        = covariance_along(t, t, s);
  v.diagonal() += vector_of(known.variance);
  const Cholesky        factor(v);
  const Eigen::MatrixXd across = covariance_along(t, at, s);
  Conditional           out;
  out.mean             = across.transpose() * factor.solve(vector_of(known.miss));
  Eigen::MatrixXd left = covariance_along(at, at, s) - across.transpose() * factor.solve(across);
  for (double more = 1e-10; !Cholesky(left).is_positive(); more *= 10.0)  // rounding
    left.diagonal().array() += more;
  out.root = Cholesky(left).lower();
  return out;
}

}  // namespace

namespace {

/// What edges left over at one count of passes.
struct AtPasses {
  std::vector<double> misses;  ///< of each edge
  int                 readings = 0;
};

std::map<double, AtPasses> misses_by_passes(const std::vector<EdgeMoment>& moments) {
  std::map<double, AtPasses> out;
  for (std::size_t i = 0; i < moments.size(); ++i) {
    const EdgeMoment& m = moments[i];
    // what was read between stones and strop is no place on the curve in wood
    const bool sharpened_on =
        i + 1 < moments.size() && moments[i + 1].edge == m.edge && !(moments[i + 1].phase.passes > 0.0);
    if (!(m.phase.passes > 0.0) && sharpened_on) continue;
    AtPasses& here = out[m.phase.passes];
    here.misses.push_back(m.of_edge);
    here.readings += m.readings;
  }
  return out;
}

// variances of the means, as edges differ; of few edges, as readings scatter
std::function<double(const AtPasses&)> variance_of_means(const std::map<double, AtPasses>& by_passes,
                                                         double                            reading_sd) {
  double within = 0.0, df = 0.0;
  for (const auto& [passes, at] : by_passes) {
    within += (vector_of(at.misses).array() - vector_of(at.misses).mean()).square().sum();
    df += static_cast<double>(at.misses.size()) - 1.0;
  }
  if (df > 2.0 && within > 0.0)
    return [of_edge = within / df](const AtPasses& at) {
      return of_edge / static_cast<double>(at.misses.size());
    };
  return [single = reading_sd * reading_sd](const AtPasses& at) { return single / at.readings; };
}

// those with most readings: single counts of passes say little
void keep_most_read(std::map<double, AtPasses>& by_passes) {
  if (by_passes.size() <= most_classes) return;
  std::vector<std::size_t> sizes;
  for (const auto& [passes, at] : by_passes) sizes.push_back(at.misses.size());
  std::sort(sizes.rbegin(), sizes.rend());
  const std::size_t least = std::max<std::size_t>(sizes[most_classes - 1], 2);
  std::erase_if(by_passes, [&](const auto& entry) { return entry.second.misses.size() < least; });
}

}  // namespace

Discrepancy discrepancy_of(const CampaignModel& model, const FitPoint& point,
                           const Information& information) {
  // of specimens nothing is known of it (lack_of_fit.cpp)
  if (model.scenario().model.specimen.in_use) return {};
  std::map<double, AtPasses> by_passes = misses_by_passes(edge_moments(model, point, information));
  const auto                 variance  = variance_of_means(by_passes, point.spread.reading);
  keep_most_read(by_passes);
  Discrepancy out;
  for (const auto& [passes, at] : by_passes) {
    out.passes.push_back(passes);
    out.miss.push_back(vector_of(at.misses).mean());
    out.variance.push_back(variance(at));
  }
  return out.is_known() ? out : Discrepancy{};
}

namespace {

// at passes none of which lies beyond the farthest
Eigen::MatrixXd drawn_within(const Discrepancy& known, const std::vector<double>& passes, std::size_t count,
                             unsigned long long seed) {
  const auto      rows = static_cast<Eigen::Index>(count), columns = static_cast<Eigen::Index>(passes.size());
  Eigen::MatrixXd out(rows, columns);
  const std::vector<Spline> all = all_splines();
  std::vector<double>       cumulated;
  for (const Spline& spline : all) cumulated.push_back(log_weight(known, spline));
  const double most = *std::max_element(cumulated.begin(), cumulated.end());
  double       sum  = 0.0;
  for (double& w : cumulated) w = sum += std::exp(w - most);
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  boost::random::uniform_01<double>          uniform;
  std::map<std::size_t, Conditional>         kept;
  for (Eigen::Index i = 0; i < rows; ++i) {
    const double chosen = uniform(engine) * sum;
    const auto   which  = static_cast<std::size_t>(
        std::min(std::lower_bound(cumulated.begin(), cumulated.end(), chosen), cumulated.end() - 1) -
        cumulated.begin());
    if (kept.count(which) == 0) kept.emplace(which, conditional_on(known, passes, all[which]));
    const Conditional& c = kept.at(which);
    Eigen::VectorXd    z(columns);
    for (double& x : z) x = normal(engine);
    out.row(i) = (c.mean + c.root * z).transpose();
  }
  return out;
}

}  // namespace

Eigen::MatrixXd drawn_discrepancy(const Discrepancy& known, const std::vector<double>& passes,
                                  std::size_t count, unsigned long long seed) {
  const auto rows = static_cast<Eigen::Index>(count), columns = static_cast<Eigen::Index>(passes.size());
  if (!known.is_known()) return Eigen::MatrixXd::Zero(rows, columns);
  std::vector<double> within = passes;
  std::erase_if(within, [&](double x) { return x >= known.farthest(); });
  const auto nearer = static_cast<Eigen::Index>(within.size());
  if (nearer < columns) within.push_back(known.farthest());
  const Eigen::MatrixXd drawn = drawn_within(known, within, count, seed);
  Eigen::MatrixXd       out(rows, columns);
  out.leftCols(nearer) = drawn.leftCols(nearer);
  if (nearer < columns) out.rightCols(columns - nearer).colwise() = drawn.col(nearer);
  return out;
}

}  // namespace arris
