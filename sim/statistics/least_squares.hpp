// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <limits>
#include <vector>

#include <Eigen/Core>

/// Nonlinear least squares by Levenberg–Marquardt with geodesic acceleration and extrapolation, for residuals with exact derivatives.
///
///     minimise ½·‖r(x)‖²;   step: δ = v + ½·a,  taken only if  2·‖D·a‖ ≤ α·‖D·v‖  and the cost falls
///     velocity      v:  min ‖J·v + r‖² + λ·‖D·v‖²
///     acceleration  a:  min ‖J·a + r″‖² + λ·‖D·a‖²,   r″ = (2/h)·((r(x + h·v) − r(x))/h − J·v)
///
/// | symbol | C++                     | meaning                                                           | default |
/// |--------|-------------------------|-------------------------------------------------------------------|---------|
/// | x      | `x`                     | n parameters                                                      |         |
/// | r, J   | `residuals`, `jacobian` | m residuals and their derivatives, m × n                          |         |
/// | D      |                         | lengths of the columns of J; once large, they fade by 0.7 a step  |         |
/// | λ      | `first_damping`         | damping, at the start                                             | 1e-3    |
/// | r″     |                         | second derivative of r along v                                    |         |
/// | h      | `curvature_step`        | share of v over which r″ is measured                              | 0.1     |
/// | α      | `largest_curvature`     | bend of the path at which a step is too long                      | 0.5     |
///
/// The acceleration follows the bend of a curved valley and, more important, refuses steps along which J changes so much
/// that v means nothing: those which end on a plateau where a parameter has lost its effect. It costs one evaluation
/// without derivatives to a step, and saves more than it costs; it is left out where steps have become short.
///
/// Where residuals are large they bend out of the tangent plane, and velocities shrink by a factor a step, no faster. Near the end
/// the last three places tell where the velocity vanishes, and the step goes there if that is downhill:
///
///     δ = v − (ΔX + ΔV)·γ,   γ:  min ‖D·(v − ΔV·γ)‖,   ΔX, ΔV: steps taken and changes of v
///
/// Where no step gets on although the plane promises more, r bends as much as it slopes: then the part of Σ rᵢ·rᵢ″ that curves the cost upwards is had by
/// differences of Jᵀ·r, one evaluation to a parameter, and steps go on with it beside Jᵀ·J, four times at most.
///
/// Both problems are solved by Householder QR on columns brought to length 1, never by the normal equations: parameters
/// may differ in scale by any factor, and directions that the data tell apart by the square root of the machine precision
/// are still found. An undetermined combination stays where it was. A residual that is not finite makes the step fail and
/// the damping rise; it can never win.
///
/// The end is reached when the residual stands square on the tangent plane (`gradient_tolerance`), when steps are
/// negligible (`step_tolerance`), or when the change that J promises is lost in rounding or in `noise`. If a good part of the residual
/// then still lies in the plane, what stopped the search is no minimum: a wall, a jump, a plateau; the status is
/// `stalled`. What is found is a local minimum.
///
/// Source: Levenberg 1944, Marquardt 1963; scaling and gain ratio after Moré 1978, damping update after Nielsen 1999,
/// relative offset after Bates & Watts 1981, acceleration after Transtrum & Sethna 2012, arXiv:1201.5885,
/// extrapolation after Anderson 1965, J. ACM 12, 547 (from memory).
///
///     const LeastSquaresResult fit = least_squares(
///         [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* J) {
///           r = A * x - y;
///           if (J != nullptr) *J = A;
///           return true;
///         }, start);
///     if (fit.usable()) …
namespace arris {

struct LeastSquaresOptions {
  int    max_iterations     = 400;    ///< raise it for problems that creep along a curved valley
  double gradient_tolerance = 1e-12;  ///< share of the residual in the tangent plane: no step can help
  double step_tolerance     = 1e-12;  ///< length of a step against that of x, both scaled by D
  double first_damping      = 1e-3;   ///< λ; larger is more careful, 0 begins with a Gauss–Newton step
  double curvature_step     = 0.1;    ///< h; smaller is more exact but for rounding, 0 does not accelerate
  double largest_curvature  = 0.5;    ///< α; smaller is more careful
  double noise = 0.0;  ///< relative error of what the model gives, where that is more than rounding

  Eigen::VectorXd lower = {}, upper = {};  ///< n each, infinite where there is none; empty: no bounds at all

  /// Whether x_i = `value` lies at a bound, but for rounding.
  [[nodiscard]] bool is_at_lower(Eigen::Index i, double value) const;
  [[nodiscard]] bool is_at_upper(Eigen::Index i, double value) const;
};

enum class LeastSquaresStatus {
  converged,       ///< no step can help, or steps have become negligible
  max_iterations,  ///< gave up
  bad_start,       ///< the residuals are not finite at the start
  stalled,         ///< J promises a better place, no step finds it: residuals fail or jump, or J is wrong
};

struct LeastSquaresResult {
  LeastSquaresStatus status = LeastSquaresStatus::bad_start;
  Eigen::VectorXd    x;                                           ///< n
  Eigen::VectorXd    residuals;                                   ///< m
  Eigen::MatrixXd    jacobian;                                    ///< m × n, at x
  double cost        = std::numeric_limits<double>::quiet_NaN();  ///< ½·‖r‖²; NaN from a bad start
  int    iterations  = 0;                                         ///< rounds, whether a step was taken or not
  int    evaluations = 0;                                         ///< calls of the function
  int    jacobians   = 0;                                         ///< those calls that asked for derivatives
  std::vector<Eigen::Index> held;  ///< parameters that rest at a bound and would gain beyond it, ascending

  [[nodiscard]] bool usable() const { return status == LeastSquaresStatus::converged; }
};

/// Fills residuals (m) and, unless it is nullptr, the Jacobian (m × n) at x (n). Returns false, or leaves something not
/// finite, where they cannot be had.
using Residuals =
    std::function<bool(const Eigen::VectorXd& x, Eigen::VectorXd& residuals, Eigen::MatrixXd* jacobian)>;

/// A start beyond a bound is put at it. Throws only what the function throws.
[[nodiscard]] LeastSquaresResult least_squares(const Residuals& function, const Eigen::VectorXd& start,
                                               const LeastSquaresOptions& options = {});

}  // namespace arris
