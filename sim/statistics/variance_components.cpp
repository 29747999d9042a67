// SPDX-License-Identifier: MIT
#include "sim/statistics/variance_components.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/numbers.hpp"
#include "sim/statistics/bordered.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// a vector by what the columns are: two of each unit, and the border
struct Parted {
  Eigen::Matrix2Xd own;
  VectorXd         rest;

  [[nodiscard]] double dot(const Parted& other) const {
    return own.cwiseProduct(other.own).sum() + rest.dot(other.rest);
  }
};

// entries of a vector over the border that a unit meets
VectorXd picked(const VectorXd& all, const std::vector<int>& met) { return all(met); }

class Marginal {
 public:
  explicit Marginal(const MixedModel& m) : model_(m), k_(m.design.cols()) {
    prepare_units(gram_unknown_);
    prepare_units(gram_known_);
    const auto n = m.design.rows();
    MatrixXd   unknown(n, k_ + 1), known(n, k_ + 1);
    for (Index i = 0; i < n; ++i) {
      const bool         is_known = m.known_sd[i] > 0.0;
      const double       w        = is_known ? 1.0 / m.known_sd[i] : std::sqrt(m.weights[i]);
      Eigen::RowVectorXd row(k_ + 1);
      row << m.design.row(i), m.response[i];
      row *= w;
      unknown.row(i) = is_known ? Eigen::RowVectorXd::Zero(k_ + 1).eval() : row;
      known.row(i)   = is_known ? row : Eigen::RowVectorXd::Zero(k_ + 1).eval();
      if (!m.nested.unit.empty() && m.nested.unit[static_cast<std::size_t>(i)] >= 0)
        add_to_unit(is_known ? gram_known_ : gram_unknown_, i, w, row);
      if (is_known) {
        log_known_ += 2.0 * std::log(m.known_sd[i]);
      } else {
        ++unknown_count_;
        log_known_ -= std::log(m.weights[i]);
      }
    }
    gram_unknown_.rest.noalias() = unknown.transpose() * unknown;
    gram_known_.rest.noalias()   = known.transpose() * known;
  }

  // what belongs to variances θ: σ², then the groups
  struct At {
    VectorXd                  theta;
    Bordered                  gram;           // S, with the response in the last column of the border
    VectorXd                  precision;      // τ of the border
    Eigen::Vector2d           own_precision;  // of the columns of a unit
    Bordered                  system;         // S + T, without the response
    BorderedFactor            factor;         // of that
    bool                      usable = false;
    [[nodiscard]] const auto& variance(int group) const { return theta[group + 1]; }
  };

  [[nodiscard]] At at(const VectorXd& theta) const {
    At a;
    a.theta     = theta;
    a.precision = VectorXd::Zero(k_);
    for (Index j = 0; j < k_; ++j) {
      const int g = group(j);
      if (g != MixedModel::flat) a.precision[j] = g == MixedModel::unit ? 1.0 : 1.0 / a.variance(g);
    }
    for (int w = 0; w < 2; ++w) {
      const int g        = own_group(w);
      a.own_precision[w] = g >= 0 ? 1.0 / a.variance(g) : 1.0;
    }
    a.gram      = gram_unknown_;
    a.gram.rest = gram_unknown_.rest / theta[0] + gram_known_.rest;
    a.system.met.reserve(a.gram.units());
    for (std::size_t e = 0; e < a.gram.units(); ++e) {
      a.gram.own[e]    = gram_unknown_.own[e] / theta[0] + gram_known_.own[e];
      a.gram.border[e] = gram_unknown_.border[e] / theta[0] + gram_known_.border[e];
      a.system.met.push_back(met_[e]);
      a.system.border.emplace_back(a.gram.border[e].leftCols(std::ssize(met_[e])));
      a.system.own.emplace_back(a.gram.own[e]);
      a.system.own.back().diagonal() += a.own_precision;
    }
    a.system.rest = a.gram.rest.topLeftCorner(k_, k_);
    a.system.rest.diagonal() += a.precision;
    a.factor = BorderedFactor(a.system);
    a.usable = a.factor.is_positive;
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
    log_precisions += static_cast<double>(a.gram.units()) * a.own_precision.array().log().sum();
    const Parted right   = responses(a.gram);
    const double quad    = a.gram.rest(k_, k_) - right.dot(solved(a, right));
    const double log_var = log_known_ + unknown_count_ * std::log(a.theta[0]);
    const double rows    = static_cast<double>(model_.design.rows() - flats);
    return -0.5 * (rows * std::log(2.0 * M_PI) + log_var + a.factor.log_determinant - log_precisions + quad);
  }

  struct Slopes {
    VectorXd gradient;            // of log p against θ
    MatrixXd observed, expected;  // information about θ
  };

  [[nodiscard]] Slopes slopes(const At& a) const {
    const Parts  p       = parts(a);
    const double e       = a.theta[0];
    const auto   size    = a.theta.size();
    const Parted beta    = solved(a, responses(a.gram));
    const Parted y_part  = responses(gram_unknown_);
    Parted       left    = times(gram_unknown_, beta);  // XᵀW of what is left of y
    left.own             = y_part.own - left.own;
    left.rest            = y_part.rest - left.rest;
    const double squares = std::max(0.0, gram_unknown_.rest(k_, k_) - y_part.dot(beta) - beta.dot(left));
    // Zᵀ·P·y by column, Xᵀ·R⁻¹·V_e·P·y, and Zᵀ·P·V_e·P·y
    const Parted along = weighted(a, beta);
    const Parted d{left.own / (e * e), left.rest / (e * e)};
    const Parted cd    = solved(a, d);
    const Parted cross = weighted(a, cd);

    Slopes s;
    s.gradient     = VectorXd::Zero(size);
    s.expected     = 0.5 * p.traces;
    MatrixXd bends = MatrixXd::Zero(size, size);  // yᵀP·V_a·P·V_b·P·y
    s.gradient[0]  = 0.5 * (squares / (e * e) - p.trace[0]);
    bends(0, 0)    = squares / (e * e * e) - d.dot(cd);
    for (int g = 0; g < model_.groups; ++g) {
      const Parted mine = of_group(along, g);
      s.gradient[g + 1] = 0.5 * (mine.dot(along) - p.trace[g + 1]);
      bends(0, g + 1) = bends(g + 1, 0) = mine.dot(cross);
      const Parted through              = scatter_of(a, mine);
      for (int h = 0; h <= g; ++h)
        bends(g + 1, h + 1) = bends(h + 1, g + 1) = of_group(along, h).dot(through);
    }
    s.observed = bends - s.expected;
    return s;
  }

  // expected information about θ, and ∂c/∂θ of the variances c of combinations of β (m × θ)
  struct Behind {
    VectorXd variance;
    MatrixXd by_theta, expected;
  };
  // `combinations` of the columns of the border
  [[nodiscard]] Behind behind(const At& a, const MatrixXd& combinations) const {
    const Parts    p  = parts(a);
    const MatrixXd CL = p.W * combinations;
    Behind         out;
    out.variance        = CL.cwiseProduct(combinations).colwise().sum().transpose();
    out.expected        = 0.5 * p.traces;
    out.by_theta        = MatrixXd::Zero(combinations.cols(), a.theta.size());
    out.by_theta.col(0) = (p.N * CL).cwiseProduct(CL).colwise().sum().transpose() / (a.theta[0] * a.theta[0]);
    for (Index j = 0; j < k_; ++j) {
      const int g = group(j);
      if (g >= 0)
        out.by_theta.col(g + 1) += CL.row(j).cwiseAbs2().transpose() / (a.variance(g) * a.variance(g));
    }
    for (int w = 0; w < 2; ++w) {
      const int g = own_group(w);
      if (g >= 0)
        out.by_theta.col(g + 1) +=
            (p.of_own[w] * CL).cwiseProduct(CL).colwise().sum().transpose() / (a.variance(g) * a.variance(g));
    }
    return out;
  }

  [[nodiscard]] bool has_noise() const { return unknown_count_ > 0.0; }

 private:
  // the columns of the border that the rows of each unit meet, and the response behind them
  void prepare_units(Bordered& gram) {
    const auto units = static_cast<std::size_t>(model_.nested.units);
    if (met_.size() != units) {
      met_.resize(units);
      for (Index i = 0; i < model_.design.rows() && units > 0; ++i) {
        const int unit = model_.nested.unit[static_cast<std::size_t>(i)];
        if (unit < 0) continue;
        std::vector<int>& met = met_[static_cast<std::size_t>(unit)];
        for (Index j = 0; j < k_; ++j)
          if (model_.design(i, j) != 0.0) met.push_back(static_cast<int>(j));
        std::sort(met.begin(), met.end());
        met.erase(std::unique(met.begin(), met.end()), met.end());
      }
    }
    gram.met = met_;
    gram.own.assign(units, Eigen::Matrix2d::Zero());
    for (const std::vector<int>& met : met_)
      gram.border.emplace_back(Eigen::Matrix2Xd::Zero(2, std::ssize(met) + 1));
  }

  // `row` is weighted by w, and has the response behind it
  void add_to_unit(Bordered& gram, Index i, double w, const Eigen::RowVectorXd& row) const {
    const auto            e = static_cast<std::size_t>(model_.nested.unit[static_cast<std::size_t>(i)]);
    const Eigen::Vector2d a = w * model_.nested.slopes.col(i);
    gram.own[e] += a * a.transpose();
    const std::vector<int>& met = met_[e];
    for (std::size_t k = 0; k < met.size(); ++k) gram.border[e].col(static_cast<Index>(k)) += a * row[met[k]];
    gram.border[e].col(std::ssize(met)) += a * row[k_];
  }

  // Xᵀ·W·y of a Gram matrix
  [[nodiscard]] Parted responses(const Bordered& gram) const {
    Parted out{Eigen::Matrix2Xd(2, static_cast<Index>(gram.units())), gram.rest.topRightCorner(k_, 1)};
    for (std::size_t e = 0; e < gram.units(); ++e)
      out.own.col(static_cast<Index>(e)) = gram.border[e].col(std::ssize(met_[e]));
    return out;
  }

  // G·x
  [[nodiscard]] Parted times(const Bordered& gram, const Parted& x) const {
    Parted out{Eigen::Matrix2Xd(2, x.own.cols()), gram.rest.topLeftCorner(k_, k_) * x.rest};
    for (std::size_t e = 0; e < gram.units(); ++e) {
      const auto column = static_cast<Index>(e), many = std::ssize(met_[e]);
      const auto f        = gram.border[e].leftCols(many);
      out.own.col(column) = gram.own[e] * x.own.col(column) + f * picked(x.rest, met_[e]);
      out.rest(met_[e]) += f.transpose() * x.own.col(column);
    }
    return out;
  }

  // (S + T)⁻¹·x
  [[nodiscard]] Parted solved(const At& a, const Parted& x) const {
    Parted   out{Eigen::Matrix2Xd(2, x.own.cols()), {}};
    VectorXd right = x.rest;
    for (std::size_t e = 0; e < met_.size(); ++e)
      right(met_[e]) -= a.factor.across[e].transpose() * x.own.col(static_cast<Index>(e));
    out.rest = k_ > 0 ? a.factor.factor.solve(right) : right;
    for (std::size_t e = 0; e < met_.size(); ++e) {
      const auto column = static_cast<Index>(e);
      out.own.col(column) =
          a.factor.own[e] * x.own.col(column) - a.factor.across[e] * picked(out.rest, met_[e]);
    }
    return out;
  }

  // T·x
  [[nodiscard]] static Parted weighted(const At& a, const Parted& x) {
    return {a.own_precision.asDiagonal() * x.own, a.precision.cwiseProduct(x.rest)};
  }

  // what of x belongs to a group
  [[nodiscard]] Parted of_group(const Parted& x, int g) const {
    Parted out{Eigen::Matrix2Xd::Zero(2, x.own.cols()), VectorXd::Zero(k_)};
    for (int w = 0; w < 2; ++w)
      if (own_group(w) == g) out.own.row(w) = x.own.row(w);
    for (Index j = 0; j < k_; ++j)
      if (group(j) == g) out.rest[j] = x.rest[j];
    return out;
  }

  // Zᵀ·P·Z·x = S·(S + T)⁻¹·T·x
  [[nodiscard]] Parted scatter_of(const At& a, const Parted& x) const {
    return times(a.gram, solved(a, weighted(a, x)));
  }

  // With C = (S + T)⁻¹ = D + V·W·Vᵀ, D the A_e⁻¹, V = (−U; 1), W the inverse over the border, and G the Gram matrix of the rows whose
  // noise is σ
  struct Parts {
    MatrixXd W;
    MatrixXd N;          // Vᵀ·G·V
    MatrixXd of_own[2];  // Σ uᵀ·u over units, of the rows of U that a column of each unit has
    VectorXd trace;      // tr(P·V_a)
    MatrixXd traces;     // tr(P·V_a·P·V_b)
  };

  [[nodiscard]] Parts parts(const At& a) const {
    const double e = a.theta[0];
    const auto   n = a.theta.size();
    Parts        p;
    p.W         = k_ > 0 ? a.factor.factor.inverse() : MatrixXd(0, 0);
    p.N         = gram_unknown_.rest.topLeftCorner(k_, k_);
    p.of_own[0] = p.of_own[1] = MatrixXd::Zero(k_, k_);
    MatrixXd Q                = MatrixXd::Zero(k_, k_);  // (G·V)ᵀ·D·(G·V)
    double   trace = 0.0, square = 0.0;                  // tr(D·G), tr(D·G·D·G)
    for (std::size_t u = 0; u < met_.size(); ++u) add_unit(a, u, p, Q, trace, square);
    const MatrixXd WN = p.W * p.N;
    trace += WN.trace();
    square += 2.0 * p.W.cwiseProduct(Q).sum() + WN.cwiseProduct(WN.transpose()).sum();
    p.trace        = VectorXd::Zero(n);
    p.traces       = MatrixXd::Zero(n, n);
    p.trace[0]     = unknown_count_ / e - trace / (e * e);
    p.traces(0, 0) = unknown_count_ / (e * e) - 2.0 * trace / (e * e * e) + square / (e * e * e * e);
    add_border(a, WN, p);
    add_own(a, WN, p);
    for (Index g = 0; g < n; ++g) {
      for (Index h = 0; h < g; ++h) p.traces(h, g) = p.traces(g, h);
    }
    return p;
  }

  void add_unit(const At& a, std::size_t u, Parts& p, MatrixXd& Q, double& trace, double& square) const {
    const std::vector<int>& met  = met_[u];
    const auto              many = std::ssize(met);
    const Eigen::Matrix2Xd  U    = a.factor.across[u];
    const Eigen::Matrix2d&  G    = gram_unknown_.own[u];
    const Eigen::Matrix2Xd  H    = gram_unknown_.border[u].leftCols(many);
    const Eigen::Matrix2Xd  GV   = H - G * U;
    add_at(p.N, met, H, U, -1.0);
    add_at(p.N, met, U, GV, -1.0);
    add_at(Q, met, GV, a.factor.own[u] * GV);
    for (int w = 0; w < 2; ++w) {
      Eigen::Matrix2Xd row = Eigen::Matrix2Xd::Zero(2, many);
      row.row(0)           = U.row(w);
      add_at(p.of_own[w], met, row, row);
    }
    const Eigen::Matrix2d AG = a.factor.own[u] * G;
    trace += AG.trace();
    square += (AG * AG).trace();
  }

  // groups of the border; lower triangle
  void add_border(const At& a, const MatrixXd& WN, Parts& p) const {
    const double e       = a.theta[0];
    MatrixXd     reduced = a.factor.reduced;  // S less what units tell, but for T
    reduced.diagonal() -= a.precision;
    MatrixXd B         = reduced * p.W * a.precision.asDiagonal();
    B                  = 0.5 * (B + B.transpose()).eval();
    const VectorXd WNW = diagonal_of(WN, p.W);
    for (Index j = 0; j < k_; ++j) {
      const int g = group(j);
      if (g < 0) continue;
      p.trace[g + 1] += B(j, j);
      p.traces(g + 1, 0) += a.precision[j] * a.precision[j] * WNW[j] / (e * e);
      for (Index i = 0; i < k_; ++i) {
        const int h = group(i);
        if (h >= 0 && h <= g) p.traces(g + 1, h + 1) += B(i, j) * B(i, j);
      }
    }
  }

  // groups of the columns that units have of their own, with each other and with those of the border
  void add_own(const At& a, const MatrixXd& WN, Parts& p) const {
    if (met_.empty()) return;
    const double    e   = a.theta[0];
    const MatrixXd  WNW = WN * p.W;
    Eigen::Matrix2d pairs =
        Eigen::Matrix2d::Zero();  // sums of squares of B over pairs of units, a unit with itself
    Eigen::Vector2d        sums = Eigen::Vector2d::Zero(), with_noise = Eigen::Vector2d::Zero();
    const Eigen::Vector2d& tau = a.own_precision;
    for (std::size_t u = 0; u < met_.size(); ++u) {
      const std::vector<int>& met  = met_[u];
      const auto              many = std::ssize(met);
      const Eigen::Matrix2Xd& U    = a.factor.across[u];
      const MatrixXd          W    = p.W(met, met);
      const Eigen::Matrix2Xd  UW   = U * W;
      const Eigen::Matrix2d   Z    = UW * U.transpose();
      const Eigen::Matrix2Xd  F    = a.gram.border[u].leftCols(many);
      Eigen::Matrix2d B = (a.gram.own[u] * (a.factor.own[u] + Z) - F * UW.transpose()) * tau.asDiagonal();
      B                 = 0.5 * (B + B.transpose()).eval();
      const Eigen::Matrix2Xd GV  = gram_unknown_.border[u].leftCols(many) - gram_unknown_.own[u] * U;
      const Eigen::Matrix2d  AGW = a.factor.own[u] * GV * UW.transpose();  // W is symmetric
      const Eigen::Matrix2d  CGC = a.factor.own[u] * gram_unknown_.own[u] * a.factor.own[u] +
                                  U * WNW(met, met) * U.transpose() - AGW - AGW.transpose();
      for (int w = 0; w < 2; ++w) {
        sums[w] += B(w, w);
        with_noise[w] += tau[w] * tau[w] * CGC(w, w) / (e * e);
        for (int v = 0; v < 2; ++v) {
          const double low_rank = tau[w] * tau[v] * Z(w, v);
          pairs(w, v) += B(w, v) * B(w, v) - low_rank * low_rank;
        }
      }
    }
    const MatrixXd through[2] = {p.W * p.of_own[0], p.W * p.of_own[1]};
    for (int w = 0; w < 2; ++w) {
      const int g = own_group(w);
      if (g < 0) continue;
      p.trace[g + 1] += sums[w];
      p.traces(g + 1, 0) += with_noise[w];
      for (int v = 0; v < 2; ++v) {
        const int h = own_group(v);
        if (h < 0 || h > g) continue;
        p.traces(g + 1, h + 1) += pairs(w, v) + tau[w] * tau[w] * tau[v] * tau[v] *
                                                    through[w].cwiseProduct(through[v].transpose()).sum();
      }
      const VectorXd WMW = diagonal_of(through[w], p.W);
      for (Index j = 0; j < k_; ++j) {
        const int h = group(j);
        if (h < 0) continue;
        p.traces(std::max(g, h) + 1, std::min(g, h) + 1) +=
            tau[w] * tau[w] * a.precision[j] * a.precision[j] * WMW[j];
      }
    }
  }

  // of A·B, with B symmetric
  [[nodiscard]] static VectorXd diagonal_of(const MatrixXd& A, const MatrixXd& B) {
    return A.cwiseProduct(B).rowwise().sum();
  }

  [[nodiscard]] int group(Index j) const { return model_.group[static_cast<std::size_t>(j)]; }
  // of a column that each unit has; −1: it has none
  [[nodiscard]] int own_group(int w) const { return model_.nested.group[static_cast<std::size_t>(w)]; }

  const MixedModel&             model_;
  const Index                   k_;
  std::vector<std::vector<int>> met_;  // by unit
  Bordered                      gram_unknown_, gram_known_;
  double                        log_known_     = 0.0;
  double                        unknown_count_ = 0.0;
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
  for (std::size_t w = 0; w < model.nested.group.size(); ++w) {
    int& of_units = model.nested.group[w];
    if (of_units == group) {
      of_units = MixedModel::flat;
      model.nested.slopes.row(static_cast<Index>(w)).setZero();
    } else if (of_units > group) {
      --of_units;
    }
  }
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

std::vector<double> deviances_of_groups(const MixedModel& model, const std::vector<double>& sd,
                                        const std::vector<int>& groups) {
  std::vector<double> out;
  if (groups.empty()) return out;
  const double with = variance_components(model, sd).log_likelihood;
  for (const int group : groups) {
    std::vector<double> others = sd;
    others.erase(others.begin() + group + 1);
    const double without = variance_components(without_group(model, group), others).log_likelihood;
    out.push_back(std::max(0.0, 2.0 * (with - without)));
  }
  return out;
}

double deviance_of_group(const MixedModel& model, const std::vector<double>& sd, int group) {
  return deviances_of_groups(model, sd, {group}).front();
}

VectorXd degrees_of_freedom(const MixedModel& model, const std::vector<double>& sd,
                            const MatrixXd& combinations, const std::vector<double>& prior_dof) {
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
    const Index  i        = estimated[static_cast<std::size_t>(a)];
    const double variance = theta[i];
    if (!prior_dof.empty())
      information(a, a) += 0.5 * prior_dof.at(static_cast<std::size_t>(i)) / (variance * variance);
  }
  const MatrixXd covariance = inverse_symmetric(information);
  for (Index j = 0; j < k; ++j) {
    const double variance = slope.row(j).dot(covariance * slope.row(j).transpose());
    if (variance > 0.0) out[j] = 2.0 * behind.variance[j] * behind.variance[j] / variance;
  }
  return out;
}

}  // namespace arris
