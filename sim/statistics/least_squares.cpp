// SPDX-License-Identifier: MIT
#include "sim/statistics/least_squares.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/QR>

namespace arris {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double rounding         = std::numeric_limits<double>::epsilon();
constexpr double smallest_damping = 1e-30;
// damping that shortens a step enough to be felt: what a failure asks for where there was none. Otherwise dozens of doublings would
// pass unfelt, and the next would be far beyond what is needed
constexpr double felt_damping = 1e-3;
// share of D that is kept from one place to the next
constexpr double memory = 0.7;
// steps shorter than this (against x, scaled) are straight: their bend would be measured from rounding
constexpr double straight_step = 1e-4;
// steps longer than this (against x, scaled) are too far apart to foretell the next
constexpr double near_step = 0.1;
// so many steps are remembered
constexpr std::size_t most_remembered = 3;
// what may be left in the tangent plane of a minimum found through noise: 1 % of the residual (Bates & Watts ask for
// 0.1 % where nothing disturbs), or a millionth of what the model gives
constexpr double noisy_offset = 1e-2, noisy_change = 1e-6;

// The tangent plane of the residuals at one point: J = Q·R·Pᵀ·C, where J·C⁻¹ has columns of length 1.
class Tangent {
 public:
  explicit Tangent(const MatrixXd& jacobian) : length_(jacobian.colwise().norm().transpose()) {
    length_ = (length_.array() > 0.0).select(length_, 1.0);
    qr_.compute(jacobian * length_.cwiseInverse().asDiagonal());
  }

  const VectorXd& length() const { return length_; }

  // Qᵀ·r, as far as it lies in the plane
  VectorXd along(const VectorXd& r) const {
    return (qr_.householderQ().adjoint() * r).head(std::min(qr_.rows(), qr_.cols()));
  }
  // length of the part of r that lies in the plane
  double share(const VectorXd& r) const { return along(r).head(qr_.rank()).norm(); }
  // R·Pᵀ·C
  MatrixXd root() const {
    const auto k = std::min(qr_.rows(), qr_.cols());
    MatrixXd   r = qr_.matrixR().topRows(k).template triangularView<Eigen::Upper>();
    return r * qr_.colsPermutation().transpose() * length_.asDiagonal();
  }

 private:
  VectorXd                             length_;
  Eigen::ColPivHouseholderQR<MatrixXd> qr_;
};

// Solves min ‖J·δ + r‖² + λ·‖D·δ‖² for several r, as the small problem ‖R·Pᵀ·C·δ + Qᵀ·r‖² + λ·‖D·δ‖².
class Damped {
 public:
  Damped(const Tangent& tangent, const VectorXd& scale, double damping) : tangent_(tangent) {
    const MatrixXd root = tangent.root();
    MatrixXd       stacked(root.rows() + root.cols(), root.cols());
    stacked.topRows(root.rows())    = root;
    stacked.bottomRows(root.cols()) = MatrixXd((std::sqrt(damping) * scale).asDiagonal());
    length_                         = stacked.colwise().norm().transpose();
    length_                         = (length_.array() > 0.0).select(length_, 1.0);
    qr_.compute(stacked * length_.cwiseInverse().asDiagonal());
  }

  // min ‖J·δ + r‖² + λ·‖D·δ‖²
  VectorXd solve(const VectorXd& r) const {
    VectorXd       right     = VectorXd::Zero(qr_.rows());
    const VectorXd along     = tangent_.along(r);
    right.head(along.size()) = -along;
    return length_.cwiseInverse().asDiagonal() * qr_.solve(right);
  }

 private:
  const Tangent&                       tangent_;
  VectorXd                             length_;
  Eigen::ColPivHouseholderQR<MatrixXd> qr_;
};

// Where velocities shrink by a steady factor, since residuals bend out of the plane, the last few tell where they vanish
// (Anderson mixing): the step is v − (ΔX + ΔV)·γ, with ‖D·(v − ΔV·γ)‖ least.
class Extrapolation {
 public:
  void forget() {
    steps_.clear();
    turns_.clear();
    velocity_.resize(0);
  }
  // from a place with velocity `v` this step was taken
  void took(const VectorXd& v, const VectorXd& step) {
    if (velocity_.size() == 0) turns_.clear();
    velocity_ = v;
    steps_.push_back(step);
    if (steps_.size() > most_remembered) {
      steps_.erase(steps_.begin());
      turns_.erase(turns_.begin());
    }
  }
  // the step from where it led to, and the velocity there; v itself while nothing is known
  VectorXd step(const VectorXd& v, const VectorXd& scale) {
    if (velocity_.size() == 0) return v;
    turns_.emplace_back(v - velocity_);
    MatrixXd turns(v.size(), static_cast<Eigen::Index>(turns_.size())), sums = turns;
    for (std::size_t i = 0; i < turns_.size(); ++i) {
      turns.col(static_cast<Eigen::Index>(i)) = scale.cwiseProduct(turns_[i]);
      sums.col(static_cast<Eigen::Index>(i))  = steps_[i] + turns_[i];
    }
    const VectorXd gamma = turns.colPivHouseholderQr().solve(scale.cwiseProduct(v));
    return v - sums * gamma;
  }

 private:
  std::vector<VectorXd> steps_, turns_;  // ΔX, and ΔV, which is known one place later
  VectorXd              velocity_;
};

// Bounds of parameters: which are held at a point, and steps that stay within.
class Box {
 public:
  explicit Box(const LeastSquaresOptions& options) : options_(options), is_there_(options.lower.size() > 0) {}

  [[nodiscard]] bool     is_there() const { return is_there_; }
  [[nodiscard]] VectorXd inside(const VectorXd& x) const {
    return is_there_ ? VectorXd(x.cwiseMax(options_.lower).cwiseMin(options_.upper)) : x;
  }
  [[nodiscard]] std::vector<Eigen::Index> held(const VectorXd& x, const VectorXd& r,
                                               const MatrixXd& j) const {
    std::vector<Eigen::Index> out;
    for (Eigen::Index i = 0; is_there_ && i < x.size(); ++i) {
      const double slope = j.col(i).dot(r);
      if ((slope >= 0.0 && options_.is_at_lower(i, x[i])) || (slope <= 0.0 && options_.is_at_upper(i, x[i])))
        out.push_back(i);
    }
    return out;
  }
  // J with nothing in the columns that are held: they take no part
  [[nodiscard]] static MatrixXd free(const MatrixXd& j, const std::vector<Eigen::Index>& held) {
    MatrixXd out = j;
    for (const Eigen::Index i : held) out.col(i).setZero();
    return out;
  }

  // A step from x that crosses bounds: parameters that do are taken to them, and the others are worked out anew.
  [[nodiscard]] VectorXd step_within(const VectorXd& x, VectorXd v, const VectorXd& r, const MatrixXd& j,
                                     const std::vector<Eigen::Index>& held, const VectorXd& scale,
                                     double damping, bool& met) const {
    met                              = false;
    std::vector<Eigen::Index> out_of = held;
    VectorXd                  fixed  = VectorXd::Zero(x.size());
    for (const Eigen::Index i : held) v[i] = 0.0;
    while (is_there_) {
      const VectorXd to   = inside(x + v);
      bool           more = false;
      for (Eigen::Index i = 0; i < x.size(); ++i) {
        if (to[i] == x[i] + v[i] || std::find(out_of.begin(), out_of.end(), i) != out_of.end()) continue;
        fixed[i] = to[i] - x[i];
        out_of.push_back(i);
        more = met = true;
      }
      if (!more) break;
      const Tangent rest(free(j, out_of));
      v = Damped(rest, scale, damping).solve(r + j * fixed);
      for (const Eigen::Index i : out_of) v[i] = fixed[i];
    }
    return v;
  }

 private:
  const LeastSquaresOptions& options_;
  bool                       is_there_;
};

bool is_near(double bound, double value) {
  return std::isfinite(bound) && std::abs(value - bound) <= 1e-9 * std::max(1.0, std::abs(bound));
}

}  // namespace

bool LeastSquaresOptions::is_at_lower(Eigen::Index i, double value) const {
  return lower.size() > 0 && (value <= lower[i] || is_near(lower[i], value));
}
bool LeastSquaresOptions::is_at_upper(Eigen::Index i, double value) const {
  return upper.size() > 0 && (value >= upper[i] || is_near(upper[i], value));
}

LeastSquaresResult least_squares(const Residuals& function, const VectorXd& start,
                                 const LeastSquaresOptions& options) {
  LeastSquaresResult result;
  const auto         evaluate = [&](const VectorXd& x, VectorXd& r, MatrixXd* j) {
    ++result.evaluations;
    if (j != nullptr) ++result.jacobians;
    return function(x, r, j) && r.allFinite() && (j == nullptr || j->allFinite());
  };
  const Box box(options);
  result.x = box.inside(start);
  if (!evaluate(result.x, result.residuals, &result.jacobian)) return result;
  result.cost   = 0.5 * result.residuals.squaredNorm();
  result.status = LeastSquaresStatus::max_iterations;
  result.held   = box.held(result.x, result.residuals, result.jacobian);

  Tangent       tangent(Box::free(result.jacobian, result.held));
  VectorXd      scale   = tangent.length();
  double        share   = tangent.share(result.residuals);
  double        damping = options.first_damping, growth = 2.0;
  bool          failed = false;
  Extrapolation before;
  for (; result.iterations < options.max_iterations; ++result.iterations) {
    const VectorXd& r = result.residuals;
    const MatrixXd& j = result.jacobian;  // columns that are held play no part in steps: v is 0 there
    if (share <= options.gradient_tolerance * r.norm()) {
      result.status = LeastSquaresStatus::converged;
      break;
    }

    // velocity, and the fall of the cost that it promises
    const Damped   damped(tangent, scale, damping);
    bool           met   = false;  // a bound on the way
    const VectorXd v     = box.step_within(result.x, damped.solve(r), r, j, result.held, scale, damping, met);
    const double   size  = scale.cwiseProduct(v).norm();
    const double   place = scale.cwiseProduct(result.x).norm();
    const double   promised =
        met ? -(j * v).dot(r + 0.5 * (j * v)) : 0.5 * (j * v).squaredNorm() + damping * size * size;

    // is there more to gain: steps long enough, costs that differ by more than rounding in what the model gives?
    const double given     = r.norm() + (j.cwiseAbs() * result.x.cwiseAbs()).norm();
    const bool   invisible = promised <= std::max(rounding, options.noise) * r.norm() * given;
    const bool   negligible =
        !(size > options.step_tolerance * place) && !met;  // to a bound no step is too short
    if ((negligible || invisible) && !met) {
      const bool whole = promised >= 0.25 * share * share;  // at least half of what the plane holds: ½·share²
      if (whole || share <= std::max(noisy_offset * r.norm(), noisy_change * given)) {
        // steps that could be seen have failed until none can: what is left is noise
        if (negligible || (failed && !whole)) {
          result.status = LeastSquaresStatus::converged;
          break;
        }
      } else if (failed || damping <= smallest_damping) {
        result.status = LeastSquaresStatus::stalled;
        break;
      } else {  // damping hides what the plane holds, and no failure asked for it
        damping = std::max(damping / 3.0, smallest_damping);
        continue;
      }
    }

    // acceleration
    VectorXd step = v, trial_residuals;
    bool     good = promised > 0.0 || !met, extrapolated = false;
    if (met || size > near_step * place) {
      before.forget();
    } else {
      step         = before.step(v, scale);
      extrapolated = step != v;
      // downhill, and not far: otherwise what is remembered does not hold here
      if (extrapolated && !(r.dot(j * step) < 0.0 && scale.cwiseProduct(step).norm() <= near_step * place)) {
        before.forget();
        step         = v;
        extrapolated = false;
      }
    }
    if (const double h = options.curvature_step;
        good && !extrapolated && h > 0.0 && size > straight_step * place) {
      good = evaluate(box.inside(result.x + h * v), trial_residuals, nullptr);
      if (good) {
        const VectorXd a = damped.solve((2.0 / h) * ((trial_residuals - r) / h - j * v));
        good             = 2.0 * scale.cwiseProduct(a).norm() <= options.largest_curvature * size;
        if (!met) step += 0.5 * a;
      }
    }

    // trial
    MatrixXd       trial_jacobian;
    double         gain        = 0.0;
    const VectorXd place_tried = box.inside(result.x + step);
    good                       = good && evaluate(place_tried, trial_residuals, &trial_jacobian);
    if (good) {
      const double fall       = 0.5 * (r - trial_residuals).dot(r + trial_residuals);
      gain                    = fall / (extrapolated ? -0.5 * r.dot(j * step) : promised);
      auto         trial_held = box.held(place_tried, trial_residuals, trial_jacobian);
      Tangent      trial_tangent(Box::free(trial_jacobian, trial_held));
      const double trial_share = trial_tangent.share(trial_residuals);
      // where costs can no longer be told apart, the better place is the one with less left to promise, or one at a bound
      const bool level = std::abs(fall) <= std::max(rounding, options.noise) * r.norm() * given;
      good             = invisible ? (trial_share < share || (met && level)) : fall > 0.0 && gain > 1e-4;
      if (good) {
        if (met)
          before.forget();
        else
          before.took(v, place_tried - result.x);
        result.x = place_tried;
        result.held.swap(trial_held);
        result.residuals.swap(trial_residuals);
        result.jacobian.swap(trial_jacobian);
        result.cost = 0.5 * result.residuals.squaredNorm();
        tangent     = std::move(trial_tangent);
        share       = trial_share;
        scale       = (memory * scale).cwiseMax(tangent.length());
      }
    }
    if (good) {
      const double shrink =
          invisible ? 1.0 / 3.0 : std::max(1.0 / 3.0, 1.0 - std::pow(2.0 * std::min(gain, 1.0) - 1.0, 3));
      damping = std::max(shrink * damping, smallest_damping);
      growth  = 2.0;
    } else if (extrapolated) {
      before.forget();
    } else if (invisible && !met) {
      result.status = LeastSquaresStatus::converged;
      break;
    } else {
      damping = damping > smallest_damping ? growth * damping : felt_damping;
      growth *= 2.0;
    }
    failed = !good && !extrapolated;
  }
  return result;
}

}  // namespace arris
