// SPDX-License-Identifier: MIT
#include "sim/studies/least_squares.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/QR>

namespace arris {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double rounding         = std::numeric_limits<double>::epsilon();
constexpr double smallest_damping = 1e-30;
// share of D that is kept from one place to the next
constexpr double memory = 0.7;
// steps shorter than this (against x, scaled) are straight: their bend would be measured from rounding
constexpr double straight_step = 1e-4;
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

}  // namespace

LeastSquaresResult least_squares(const Residuals& function, const VectorXd& start,
                                 const LeastSquaresOptions& options) {
  LeastSquaresResult result;
  const auto         evaluate = [&](const VectorXd& x, VectorXd& r, MatrixXd* j) {
    ++result.evaluations;
    if (j != nullptr) ++result.jacobians;
    return function(x, r, j) && r.allFinite() && (j == nullptr || j->allFinite());
  };
  result.x = start;
  if (!evaluate(result.x, result.residuals, &result.jacobian)) return result;
  result.cost   = 0.5 * result.residuals.squaredNorm();
  result.status = LeastSquaresStatus::max_iterations;

  Tangent  tangent(result.jacobian);
  VectorXd scale   = tangent.length();
  double   share   = tangent.share(result.residuals);
  double   damping = options.first_damping, growth = 2.0;
  bool     failed = false;
  for (; result.iterations < options.max_iterations; ++result.iterations) {
    const VectorXd& r = result.residuals;
    const MatrixXd& j = result.jacobian;
    if (share <= options.gradient_tolerance * r.norm()) {
      result.status = LeastSquaresStatus::converged;
      break;
    }

    // velocity, and the fall of the cost that it promises
    const Damped   damped(tangent, scale, damping);
    const VectorXd v        = damped.solve(r);
    const double   size     = scale.cwiseProduct(v).norm();
    const double   place    = scale.cwiseProduct(result.x).norm();
    const double   promised = 0.5 * (j * v).squaredNorm() + damping * size * size;

    // is there more to gain: steps long enough, costs that differ by more than rounding in what the model gives?
    const double given      = r.norm() + (j.cwiseAbs() * result.x.cwiseAbs()).norm();
    const bool   invisible  = promised <= std::max(rounding, options.noise) * r.norm() * given;
    const bool   negligible = !(size > options.step_tolerance * place);
    if (negligible || invisible) {
      const bool whole = promised >= 0.25 * share * share;  // at least half of what the plane holds: ½·share²
      if (whole || share <= std::max(noisy_offset * r.norm(), noisy_change * given)) {
        if (negligible) {
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
    bool     good = true;
    if (const double h = options.curvature_step; h > 0.0 && size > straight_step * place) {
      good = evaluate(result.x + h * v, trial_residuals, nullptr);
      if (good) {
        const VectorXd a = damped.solve((2.0 / h) * ((trial_residuals - r) / h - j * v));
        good             = 2.0 * scale.cwiseProduct(a).norm() <= options.largest_curvature * size;
        step += 0.5 * a;
      }
    }

    // trial
    MatrixXd trial_jacobian;
    double   gain = 0.0;
    good          = good && evaluate(result.x + step, trial_residuals, &trial_jacobian);
    if (good) {
      const double fall = 0.5 * (r - trial_residuals).dot(r + trial_residuals);
      gain              = fall / promised;
      Tangent      trial_tangent(trial_jacobian);
      const double trial_share = trial_tangent.share(trial_residuals);
      // where costs can no longer be told apart, the better place is the one with less left to promise
      good = invisible ? trial_share < share : fall > 0.0 && gain > 1e-4;
      if (good) {
        result.x += step;
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
    } else if (invisible) {
      result.status = LeastSquaresStatus::converged;
      break;
    } else {
      damping = std::max(growth * damping, smallest_damping);
      growth *= 2.0;
    }
    failed = !good;
  }
  return result;
}

}  // namespace arris
