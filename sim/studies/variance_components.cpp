// SPDX-License-Identifier: MIT
#include "sim/studies/variance_components.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Cholesky>

namespace arris {
namespace {

class Marginal {
 public:
  explicit Marginal(const MixedModel& m) : model_(m) {
    const auto      n = m.design.rows(), k = m.design.cols();
    Eigen::MatrixXd unknown(n, k + 1), known(n, k + 1);
    for (Eigen::Index i = 0; i < n; ++i) {
      const bool         is_known = m.known_sd[i] > 0.0;
      const double       w        = is_known ? 1.0 / m.known_sd[i] : std::sqrt(m.weights[i]);
      Eigen::RowVectorXd row(k + 1);
      row << m.design.row(i), m.response[i];
      unknown.row(i) = is_known ? Eigen::RowVectorXd::Zero(k + 1).eval() : Eigen::RowVectorXd(w * row);
      known.row(i)   = is_known ? Eigen::RowVectorXd(w * row) : Eigen::RowVectorXd::Zero(k + 1).eval();
      if (is_known) {
        log_known_ += 2.0 * std::log(m.known_sd[i]);
      } else {
        ++unknown_count_;
        log_known_ -= std::log(m.weights[i]);
      }
    }
    gram_unknown_ = unknown.transpose() * unknown;
    gram_known_   = known.transpose() * known;
  }

  // log p(y | σ); minus infinity where it cannot be had
  [[nodiscard]] double operator()(const std::vector<double>& sd) const {
    const auto            k              = model_.design.cols();
    const Eigen::MatrixXd s              = gram_unknown_ / (sd[0] * sd[0]) + gram_known_;
    Eigen::MatrixXd       a              = s.topLeftCorner(k, k);
    double                log_precisions = 0.0;
    int                   flats          = 0;
    for (Eigen::Index j = 0; j < k; ++j) {
      const int g = model_.group[static_cast<std::size_t>(j)];
      if (g == MixedModel::flat) {
        ++flats;
        continue;
      }
      const double tau =
          g == MixedModel::unit
              ? 1.0
              : 1.0 / (sd[static_cast<std::size_t>(g) + 1] * sd[static_cast<std::size_t>(g) + 1]);
      a(j, j) += tau;
      log_precisions += std::log(tau);
    }
    const Eigen::LLT<Eigen::MatrixXd> factor(a);
    if (factor.info() != Eigen::Success) return -std::numeric_limits<double>::infinity();
    const double log_det = 2.0 * factor.matrixLLT().diagonal().array().log().sum();
    const double quad =
        s(k, k) - s.topRightCorner(k, 1).col(0).dot(factor.solve(s.topRightCorner(k, 1).col(0)));
    const double log_var = log_known_ + 2.0 * unknown_count_ * std::log(sd[0]);
    const double rows    = static_cast<double>(model_.design.rows() - flats);
    return -0.5 * (rows * std::log(2.0 * M_PI) + log_var + log_det - log_precisions + quad);
  }

 private:
  const MixedModel& model_;
  Eigen::MatrixXd   gram_unknown_, gram_known_;
  double            log_known_     = 0.0;
  double            unknown_count_ = 0.0;
};

}  // namespace

VarianceComponents variance_components(const MixedModel& model, const std::vector<double>& start,
                                       const std::function<double(const std::vector<double>&)>& log_prior) {
  const Marginal marginal(model);
  const auto     size  = static_cast<Eigen::Index>(start.size());
  const double   least = std::log(VarianceComponents::smallest_sd);
  const double   most  = std::log(1e6 * *std::max_element(start.begin(), start.end()));
  const auto     sds   = [&](const Eigen::VectorXd& x) {
    std::vector<double> sd(start.size());
    for (std::size_t i = 0; i < sd.size(); ++i)
      sd[i] = std::exp(std::clamp(x[static_cast<Eigen::Index>(i)], least, most));
    return sd;
  };
  const auto value = [&](const Eigen::VectorXd& x) {
    const auto sd = sds(x);
    return marginal(sd) + (log_prior ? log_prior(sd) : 0.0);
  };

  // Newton in the logs of the standard deviations, by central differences; a step that does not help is halved
  Eigen::VectorXd x(size);
  for (Eigen::Index i = 0; i < size; ++i)
    x[i] = std::clamp(std::log(start[static_cast<std::size_t>(i)]), least, most);
  double             best = value(x);
  VarianceComponents out;
  constexpr double   h = 1e-4;
  for (int iteration = 0; iteration < 200; ++iteration) {
    Eigen::VectorXd gradient(size);
    Eigen::MatrixXd hessian(size, size);
    const auto      at = [&](Eigen::Index i, double a, Eigen::Index j, double b) {
      Eigen::VectorXd y = x;
      y[i] += a;
      y[j] += b;
      return value(y);
    };
    for (Eigen::Index i = 0; i < size; ++i) {
      const double up = at(i, h, i, 0.0), down = at(i, -h, i, 0.0);
      gradient[i]   = (up - down) / (2.0 * h);
      hessian(i, i) = (up - 2.0 * best + down) / (h * h);
      for (Eigen::Index j = 0; j < i; ++j) {
        hessian(i, j) = hessian(j, i) =
            (at(i, h, j, h) - at(i, h, j, -h) - at(i, -h, j, h) + at(i, -h, j, -h)) / (4.0 * h * h);
      }
    }
    // a group that is not there wants its σ to be nothing: it rests at the bound and leaves the system
    std::vector<Eigen::Index> moving;
    for (Eigen::Index i = 0; i < size; ++i) {
      if (!(x[i] <= least && gradient[i] <= 1e-9)) moving.push_back(i);
    }
    Eigen::VectorXd g(static_cast<Eigen::Index>(moving.size()));
    Eigen::MatrixXd m(g.size(), g.size());
    for (Eigen::Index a = 0; a < g.size(); ++a) {
      g[a] = gradient[moving[static_cast<std::size_t>(a)]];
      for (Eigen::Index b = 0; b < g.size(); ++b)
        m(a, b) = -hessian(moving[static_cast<std::size_t>(a)], moving[static_cast<std::size_t>(b)]);
    }
    double                      ridge = 0.0;
    Eigen::LLT<Eigen::MatrixXd> factor(m);
    while (factor.info() != Eigen::Success && ridge < 1e12) {
      ridge = std::max(10.0 * ridge, 1e-3 * (m.cwiseAbs().maxCoeff() + 1e-6));
      factor.compute(m + ridge * Eigen::MatrixXd::Identity(m.rows(), m.cols()));
    }
    Eigen::VectorXd step = factor.solve(g);
    if (step.size() > 0)
      step *= std::min(1.0, 2.0 / std::max(step.cwiseAbs().maxCoeff(), 1e-12));  // no factor above e²
    bool moved = false;
    for (double share = 1.0; share > 1e-6 && !moved; share *= 0.5) {
      Eigen::VectorXd y = x;
      for (std::size_t a = 0; a < moving.size(); ++a)
        y[moving[a]] = std::clamp(x[moving[a]] + share * step[static_cast<Eigen::Index>(a)], least, most);
      const double trial = value(y);
      if (trial > best) {
        const double change = (y - x).cwiseAbs().maxCoeff();
        x                   = y;
        best                = trial;
        moved               = change > 1e-9;
      }
    }
    if (!moved) {
      out.converged = std::isfinite(best);
      break;
    }
  }
  const auto sd      = sds(x);
  out.residual_sd    = sd[0];
  out.group_sd       = {sd.begin() + 1, sd.end()};
  out.log_likelihood = marginal(sd);
  return out;
}

}  // namespace arris
