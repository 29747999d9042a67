// SPDX-License-Identifier: MIT
#include "sim/statistics/variance_components.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/numbers.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

class Marginal {
 public:
  explicit Marginal(const MixedModel& m) : model_(m), k_(m.design.cols()) {
    const auto n = m.design.rows();
    MatrixXd   unknown(n, k_ + 1), known(n, k_ + 1);
    for (Index i = 0; i < n; ++i) {
      const bool         is_known = m.known_sd[i] > 0.0;
      const double       w        = is_known ? 1.0 / m.known_sd[i] : std::sqrt(m.weights[i]);
      Eigen::RowVectorXd row(k_ + 1);
      row << m.design.row(i), m.response[i];
      unknown.row(i) = is_known ? Eigen::RowVectorXd::Zero(k_ + 1).eval() : Eigen::RowVectorXd(w * row);
      known.row(i)   = is_known ? Eigen::RowVectorXd(w * row) : Eigen::RowVectorXd::Zero(k_ + 1).eval();
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

  // what belongs to variances θ: σ², then the groups
  struct At {
    VectorXd                  theta;
    MatrixXd                  gram;       // S, with the response
    VectorXd                  precision;  // τ
    Cholesky                  factor;     // of S + T
    bool                      usable = false;
    [[nodiscard]] const auto& variance(int group) const { return theta[group + 1]; }
  };

  [[nodiscard]] At at(const VectorXd& theta) const {
    At a;
    a.theta     = theta;
    a.gram      = gram_unknown_ / theta[0] + gram_known_;
    a.precision = VectorXd::Zero(k_);
    for (Index j = 0; j < k_; ++j) {
      const int g = group(j);
      if (g != MixedModel::flat) a.precision[j] = g == MixedModel::unit ? 1.0 : 1.0 / a.variance(g);
    }
    MatrixXd system = a.gram.topLeftCorner(k_, k_);
    system.diagonal() += a.precision;
    a.factor = Cholesky(system);
    a.usable = a.factor.is_positive();
    return a;
  }

  // log p(y | θ); minus infinity where it cannot be had
  [[nodiscard]] double log_likelihood(const At& a) const {
    if (!a.usable) return -infinity;
    double log_precisions = 0.0;
    Index  flats          = 0;
    for (Index j = 0; j < k_; ++j) {
      if (a.precision[j] > 0.0) {
        log_precisions += std::log(a.precision[j]);
      } else {
        ++flats;
      }
    }
    const VectorXd right   = a.gram.topRightCorner(k_, 1);
    const double   log_det = a.factor.log_determinant();
    const double   quad    = a.gram(k_, k_) - right.dot(a.factor.solve(right));
    const double   log_var = log_known_ + unknown_count_ * std::log(a.theta[0]);
    const double   rows    = static_cast<double>(model_.design.rows() - flats);
    return -0.5 * (rows * std::log(2.0 * M_PI) + log_var + log_det - log_precisions + quad);
  }

  struct Slopes {
    VectorXd gradient;            // of log p against θ
    MatrixXd observed, expected;  // information about θ
  };

  [[nodiscard]] Slopes slopes(const At& a) const {
    const Parts    p       = parts(a);
    const double   e       = a.theta[0];
    const auto     size    = a.theta.size();
    const MatrixXd G       = gram_unknown_.topLeftCorner(k_, k_);
    const VectorXd beta    = a.factor.solve(VectorXd(a.gram.topRightCorner(k_, 1)));
    const VectorXd y_part  = gram_unknown_.topRightCorner(k_, 1);
    const VectorXd left    = y_part - G * beta;  // XᵀW of what is left of y
    const double   squares = std::max(0.0, gram_unknown_(k_, k_) - y_part.dot(beta) - beta.dot(left));
    // Zᵀ·P·y by column, Xᵀ·R⁻¹·V_e·P·y, and Zᵀ·P·V_e·P·y
    const VectorXd along = a.precision.cwiseProduct(beta);
    const VectorXd d     = left / (e * e);
    const VectorXd cd    = p.C * d;
    const VectorXd cross = a.precision.cwiseProduct(cd);

    Slopes s;
    s.gradient     = VectorXd::Zero(size);
    s.expected     = 0.5 * p.traces;
    MatrixXd bends = MatrixXd::Zero(size, size);  // yᵀP·V_a·P·V_b·P·y
    s.gradient[0]  = 0.5 * (squares / (e * e) - p.trace[0]);
    bends(0, 0)    = squares / (e * e * e) - d.dot(cd);
    for (int g = 0; g < model_.groups; ++g) {
      double own = 0.0, mixed = 0.0;
      for (const Index j : p.columns[static_cast<std::size_t>(g)]) {
        own += along[j] * along[j];
        mixed += along[j] * cross[j];
      }
      s.gradient[g + 1] = 0.5 * (own - p.trace[g + 1]);
      bends(0, g + 1) = bends(g + 1, 0) = mixed;
      for (int h = 0; h <= g; ++h) {
        double sum = 0.0;
        for (const Index i : p.columns[static_cast<std::size_t>(g)]) {
          for (const Index j : p.columns[static_cast<std::size_t>(h)]) sum += along[i] * p.B(i, j) * along[j];
        }
        bends(g + 1, h + 1) = bends(h + 1, g + 1) = sum;
      }
    }
    s.observed = bends - s.expected;
    return s;
  }

  // expected information about θ, and ∂c/∂θ of the variances c of combinations of β (m × θ)
  struct Behind {
    VectorXd variance;
    MatrixXd by_theta, expected;
  };
  [[nodiscard]] Behind behind(const At& a, const MatrixXd& combinations) const {
    const Parts    p  = parts(a);
    const MatrixXd CL = p.C * combinations;
    Behind         out;
    out.variance        = CL.cwiseProduct(combinations).colwise().sum().transpose();
    out.expected        = 0.5 * p.traces;
    out.by_theta        = MatrixXd::Zero(combinations.cols(), a.theta.size());
    const MatrixXd G    = gram_unknown_.topLeftCorner(k_, k_);
    out.by_theta.col(0) = (G * CL).cwiseProduct(CL).colwise().sum().transpose() / (a.theta[0] * a.theta[0]);
    for (int g = 0; g < model_.groups; ++g) {
      for (const Index j : p.columns[static_cast<std::size_t>(g)])
        out.by_theta.col(g + 1) += CL.row(j).cwiseAbs2().transpose() / (a.variance(g) * a.variance(g));
    }
    return out;
  }

  [[nodiscard]] bool has_noise() const { return unknown_count_ > 0.0; }

 private:
  struct Parts {
    MatrixXd                        C;        // (S + T)⁻¹
    MatrixXd                        B;        // Zᵀ·P·Z
    VectorXd                        trace;    // tr(P·V_a)
    MatrixXd                        traces;   // tr(P·V_a·P·V_b)
    std::vector<std::vector<Index>> columns;  // of each group
  };

  [[nodiscard]] Parts parts(const At& a) const {
    const double   e = a.theta[0];
    const auto     n = a.theta.size();
    const MatrixXd G = gram_unknown_.topLeftCorner(k_, k_);
    Parts          p;
    p.C               = a.factor.inverse();
    const MatrixXd CT = p.C * a.precision.asDiagonal();
    p.B               = a.gram.topLeftCorner(k_, k_) * CT;
    p.B               = 0.5 * (p.B + p.B.transpose()).eval();
    const MatrixXd CG = p.C * G;
    const MatrixXd M  = CT.transpose() * G * CT / (e * e);  // Zᵀ·P·V_e·P·Z
    p.columns.resize(static_cast<std::size_t>(model_.groups));
    for (Index j = 0; j < k_; ++j) {
      if (group(j) >= 0) p.columns[static_cast<std::size_t>(group(j))].push_back(j);
    }
    p.trace        = VectorXd::Zero(n);
    p.traces       = MatrixXd::Zero(n, n);
    p.trace[0]     = unknown_count_ / e - CG.trace() / (e * e);
    p.traces(0, 0) = unknown_count_ / (e * e) - 2.0 * CG.trace() / (e * e * e) +
                     CG.cwiseProduct(CG.transpose()).sum() / (e * e * e * e);
    for (int g = 0; g < model_.groups; ++g) {
      for (const Index j : p.columns[static_cast<std::size_t>(g)]) {
        p.trace[g + 1] += p.B(j, j);
        p.traces(0, g + 1) += M(j, j);
        for (int h = 0; h <= g; ++h) {
          for (const Index i : p.columns[static_cast<std::size_t>(h)])
            p.traces(g + 1, h + 1) += p.B(i, j) * p.B(i, j);
        }
      }
      p.traces(g + 1, 0) = p.traces(0, g + 1);
      for (int h = 0; h < g; ++h) p.traces(h + 1, g + 1) = p.traces(g + 1, h + 1);
    }
    return p;
  }

  [[nodiscard]] int group(Index j) const { return model_.group[static_cast<std::size_t>(j)]; }

  const MixedModel& model_;
  const Index       k_;
  MatrixXd          gram_unknown_, gram_known_;
  double            log_known_     = 0.0;
  double            unknown_count_ = 0.0;
};

// The step of a quadratic with gradient g and curvature H (positive definite) over the variances that move, kept between the
// bounds: whatever would cross one goes to it and stays there, and the others are worked out anew.
VectorXd bounded_step(const VectorXd& theta, const VectorXd& g, const MatrixXd& H, std::vector<Index> moving,
                      double least, double most) {
  VectorXd step = VectorXd::Zero(theta.size());
  while (!moving.empty()) {
    const auto m = static_cast<Index>(moving.size());
    VectorXd   right(m);
    MatrixXd   h(m, m);
    for (Index a = 0; a < m; ++a) {
      const Index at = moving[static_cast<std::size_t>(a)];
      right[a]       = g[at] - H.row(at).dot(step);  // `step` holds what has been put at a bound
      for (Index b = 0; b < m; ++b) h(a, b) = H(at, moving[static_cast<std::size_t>(b)]);
    }
    const VectorXd     free = solve_symmetric(h, right);
    std::vector<Index> inside;
    VectorXd           next = step;
    for (Index a = 0; a < m; ++a) {
      const Index  at = moving[static_cast<std::size_t>(a)];
      const double to = theta[at] + free[a];
      if (to < least || to > most) {
        step[at] = next[at] = std::clamp(to, least, most) - theta[at];
      } else {
        next[at] = free[a];
        inside.push_back(at);
      }
    }
    if (inside.size() == moving.size()) return next;
    moving = std::move(inside);
  }
  return step;
}

bool is_positive(const MatrixXd& m, const std::vector<Index>& of) {
  const auto n = static_cast<Index>(of.size());
  MatrixXd   part(n, n);
  for (Index a = 0; a < n; ++a) {
    for (Index b = 0; b < n; ++b)
      part(a, b) = m(of[static_cast<std::size_t>(a)], of[static_cast<std::size_t>(b)]);
  }
  return Cholesky(part).is_positive();
}

using LogPrior = std::function<double(const VectorXd& theta)>;

// slopes and curvature of the prior too; those of the likelihood come in
void add_prior(const LogPrior& prior, const VectorXd& theta, Marginal::Slopes& s) {
  constexpr double h = 1e-3;  // relative: a prior is smooth on the scale of the value
  for (Index i = 0; i < theta.size(); ++i) {
    VectorXd up = theta, down = theta;
    up[i] *= 1.0 + h;
    down[i] *= 1.0 - h;
    const double above = prior(up), below = prior(down), step_of = h * theta[i];
    s.gradient[i] += (above - below) / (2.0 * step_of);
    // where the prior bends downwards it holds the step; bends upwards are left to the halving of steps
    const double bend = std::max(0.0, (2.0 * prior(theta) - above - below) / (step_of * step_of));
    s.observed(i, i) += bend;
    s.expected(i, i) += bend;
  }
}

// a variance whose likelihood rises beyond its bound rests there; so does σ where every row states its own noise
std::vector<Index> moving_variances(const VectorXd& theta, const Marginal::Slopes& s, bool has_noise,
                                    double least, double most) {
  std::vector<Index> moving;
  for (Index i = 0; i < theta.size(); ++i) {
    const bool rests =
        (theta[i] <= least && s.gradient[i] <= 0.0) || (theta[i] >= most && s.gradient[i] >= 0.0);
    if (!rests && (i > 0 || has_noise)) moving.push_back(i);
  }
  return moving;
}

struct PromisedStep {
  VectorXd step;
  double   gain = 0.0;  // by the slopes and the curvature
};

PromisedStep promised_step(const VectorXd& theta, const Marginal::Slopes& s, const std::vector<Index>& moving,
                           double least, double most) {
  if (moving.empty()) return {};
  PromisedStep    out;
  const MatrixXd& curvature = is_positive(s.observed, moving) ? s.observed : s.expected;
  out.step                  = bounded_step(theta, s.gradient, curvature, moving, least, most);
  out.gain                  = s.gradient.dot(out.step) - 0.5 * out.step.dot(curvature * out.step);
  if (!(out.gain > 0.0)) {  // what was put at bounds has spoilt it: each variance for itself always rises
    const MatrixXd alone = s.expected.diagonal().asDiagonal();
    out.step             = bounded_step(theta, s.gradient, alone, moving, least, most);
    out.gain             = s.gradient.dot(out.step) - 0.5 * out.step.dot(alone * out.step);
  }
  return out;
}

}  // namespace

VarianceComponents variance_components(const MixedModel& model, const std::vector<double>& start,
                                       const std::function<double(const std::vector<double>&)>& log_prior) {
  const Marginal marginal(model);
  const auto     size  = static_cast<Index>(start.size());
  const double   least = std::pow(VarianceComponents::smallest_sd, 2);
  const double   most  = std::pow(1e6 * *std::max_element(start.begin(), start.end()), 2);
  const auto     sds   = [](const VectorXd& theta) {
    std::vector<double> sd;
    for (const double variance : theta) sd.push_back(std::sqrt(variance));
    return sd;
  };
  const LogPrior prior = [&](const VectorXd& theta) { return log_prior ? log_prior(sds(theta)) : 0.0; };

  VectorXd theta(size);
  for (Index i = 0; i < size; ++i)
    theta[i] = std::clamp(std::pow(start[static_cast<std::size_t>(i)], 2), least, most);
  auto   here = marginal.at(theta);
  double best = marginal.log_likelihood(here) + prior(theta);

  VarianceComponents out;
  for (out.iterations = 0; out.iterations < 500 && std::isfinite(best); ++out.iterations) {
    Marginal::Slopes s = marginal.slopes(here);
    if (log_prior) add_prior(prior, theta, s);
    const std::vector<Index> moving = moving_variances(theta, s, marginal.has_noise(), least, most);
    const auto [step, promised]     = promised_step(theta, s, moving, least, most);
    // a gain below 1e-14 is a change of θ of 1e-7 of its standard error
    if (moving.empty() || std::abs(promised) < 1e-14) {
      out.converged = true;
      break;
    }
    // gains that rounding hides are believed; others are seen, or the step is halved
    const bool hidden = std::abs(promised) < 1e-12 * std::max(1.0, std::abs(best));
    bool       moved  = false;
    for (double share = 1.0; share > 1e-9 && !moved; share *= 0.5) {
      const VectorXd trial = (theta + share * step).cwiseMax(least).cwiseMin(most);
      auto           there = marginal.at(trial);
      const double   value = marginal.log_likelihood(there) + prior(trial);
      if (!(value > best || (hidden && std::isfinite(value)))) continue;
      theta = trial;
      here  = std::move(there);
      best  = value;
      moved = true;
    }
    if (!moved) {
      // nothing better along a direction that promises next to nothing: the top, as far as numbers tell
      out.converged = std::abs(promised) < 1e-9 * std::max(1.0, std::abs(best));
      break;
    }
  }
  const auto sd      = sds(theta);
  out.residual_sd    = sd[0];
  out.group_sd       = {sd.begin() + 1, sd.end()};
  out.log_likelihood = marginal.log_likelihood(here);
  return out;
}

namespace {

VectorXd variances_of(const std::vector<double>& sd) {
  VectorXd theta(static_cast<Index>(sd.size()));
  for (std::size_t i = 0; i < sd.size(); ++i) theta[static_cast<Index>(i)] = sd[i] * sd[i];
  return theta;
}

// the model without the columns of a group; those behind it move up
MixedModel without_group(MixedModel model, int group) {
  std::vector<Index> kept;
  std::vector<int>   groups;
  for (std::size_t j = 0; j < model.group.size(); ++j) {
    if (model.group[j] == group) continue;
    kept.push_back(static_cast<Index>(j));
    groups.push_back(model.group[j] > group ? model.group[j] - 1 : model.group[j]);
  }
  model.design = MatrixXd(model.design(Eigen::all, kept));
  model.group  = std::move(groups);
  --model.groups;
  return model;
}

}  // namespace

MatrixXd log_sd_information(const MixedModel& model, const std::vector<double>& sd) {
  const Marginal marginal(model);
  const auto     k  = model.design.cols();
  const auto     at = marginal.at(variances_of(sd));
  const auto     n  = static_cast<Index>(sd.size());
  if (!at.usable) return MatrixXd::Zero(n, n);
  const VectorXd by_log = 2.0 * at.theta;  // dθ/d log σ
  return by_log.asDiagonal() * marginal.behind(at, MatrixXd::Zero(k, 0)).expected * by_log.asDiagonal();
}

double deviance_of_group(const MixedModel& model, const std::vector<double>& sd, int group) {
  std::vector<double> others = sd;
  others.erase(others.begin() + group + 1);
  const double with    = variance_components(model, sd).log_likelihood;
  const double without = variance_components(without_group(model, group), others).log_likelihood;
  return std::max(0.0, 2.0 * (with - without));
}

VectorXd degrees_of_freedom(const MixedModel& model, const std::vector<double>& sd,
                            const MatrixXd& combinations, double prior_dof) {
  const Marginal     marginal(model);
  const VectorXd     theta = variances_of(sd);
  std::vector<Index> estimated;
  const double       known = 1.01 * VarianceComponents::smallest_sd;
  for (std::size_t i = 0; i < sd.size(); ++i) {
    if (sd[i] > known && (i > 0 || marginal.has_noise())) estimated.push_back(static_cast<Index>(i));
  }
  const auto k   = combinations.cols();
  VectorXd   out = VectorXd::Constant(k, infinity);
  const auto at  = marginal.at(theta);
  if (!at.usable || estimated.empty()) return out;
  const Marginal::Behind behind = marginal.behind(at, combinations);
  const auto             m      = static_cast<Index>(estimated.size());
  MatrixXd               information(m, m), slope(k, m);
  for (Index a = 0; a < m; ++a) {
    slope.col(a) = behind.by_theta.col(estimated[static_cast<std::size_t>(a)]);
    for (Index b = 0; b < m; ++b)
      information(a, b) =
          behind.expected(estimated[static_cast<std::size_t>(a)], estimated[static_cast<std::size_t>(b)]);
    const double variance = theta[estimated[static_cast<std::size_t>(a)]];
    information(a, a) += 0.5 * prior_dof / (variance * variance);
  }
  const MatrixXd covariance = inverse_symmetric(information);
  for (Index j = 0; j < k; ++j) {
    const double variance = slope.row(j).dot(covariance * slope.row(j).transpose());
    if (variance > 0.0) out[j] = 2.0 * behind.variance[j] * behind.variance[j] / variance;
  }
  return out;
}

}  // namespace arris
