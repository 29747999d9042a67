// SPDX-License-Identifier: MIT
#pragma once

#include <limits>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include "sim/statistics/least_squares.hpp"

/// Profile-likelihood interval of one parameter, of a linear combination of several, or of a quantity that follows from them
/// by a model, about a least-squares optimum.
///
///     S(x) = ‖r(x)‖²;   profile  P(φ) = min S(x) over all x with cᵀx = φ;   ends of the interval: P(φ) = S(x̂) + Δ
///
/// | symbol | C++           | meaning                                                                             |
/// |--------|---------------|-------------------------------------------------------------------------------------|
/// | x̂      | `optimum`     | n parameters that minimise S                                                        |
/// | c      | `combination` | n weights; for one parameter, 1 there and 0 elsewhere                               |
/// | φ      | `value`       | value at which cᵀx is held                                                          |
/// | Δ      | `rise`        | > 0; s²·F(1, ν) quantile, where s² = S(x̂)/ν is estimated from the residuals;        |
/// |        |               | χ²(1) quantile, where they have been divided by their known standard deviations     |
/// | τ      |               | √(P(φ) − S(x̂)); a straight line in |φ − cᵀx̂| if the model is linear                 |
///
/// The parameter that moves the residuals least for a unit of φ is eliminated: it follows from φ and the others. From the
/// optimum outwards, each new place starts from the last along the tangent of the profile; the distance grows as τ
/// foretells, to no more than twice. The first place beyond Δ brackets the end, and TOMS 748 on τ finds it. The symmetric
/// interval ±√(Δ·cᵀ(JᵀJ)⁻¹c), Wald's, serves as the unit of length only. A place costs some three to eight Jacobians, an
/// end five to eight places.
///
/// An end is `open` when P has not risen by Δ at the limit of the search: the data do not bound φ on that side. It is
/// `blocked` when no re-optimised place can be had farther out: the residuals fail there. A place lower than S(x̂) by more
/// than Δ/1000 means that x̂ is not the minimum: it is handed back as `better`, and both ends are `no_minimum`.
///
/// A quantity g(x) that is not linear is held by a penalty:
///
///     x* = argmin S(x) + w²·(g(x) − φ)²,   w = 30·√Δ/(Wald's half width)
///
/// The place that it leads to has g(x*) a little off φ (by some thousandth of the half width), but it is the least S among all
/// places with that g: (g(x*), S(x*)) lies exactly on the profile, and is what is kept.
///
/// Bounds in `fit.lower` and `fit.upper` are those of the n parameters; every place lies within.
///
/// Assumes that the profile between the optimum and the end is one valley; of several crossings the first met is reported.
/// Where P jumps over Δ, the end is the last place before the jump, and its `rise` says so.
/// Source: Bates & Watts 1988, Nonlinear Regression Analysis, chapter 6; TOMS 748 by Alefeld, Potra & Shi 1995, as in
/// Boost.Math (from memory).
///
///     const double rise = s * s * quantile(fisher_f(1, dof), 0.95);
///     const ProfileInterval rate = profile_interval(residuals, fit.x, 1, rise);
///     if (rate.upper.found()) … rate.upper.value …
namespace arris {

struct ProfileOptions {
  double widest    = 1e3;  ///< search up to so many of Wald's half widths from the optimum
  double lowest    = -std::numeric_limits<double>::infinity();  ///< φ is not searched below: 0 of a rate
  double highest   = std::numeric_limits<double>::infinity();   ///< nor above
  double tolerance = 1e-6;                                      ///< of τ at an end, relative
  /// of each re-optimisation: P is wrong by the square of what is left in the tangent plane
  LeastSquaresOptions fit = {.gradient_tolerance = 1e-5, .step_tolerance = 1e-10, .first_damping = 1e-6};
};

enum class ProfileEnd {
  found,       ///< P(value) = S(x̂) + Δ
  open,        ///< P stays below at `value`, the limit of the search
  blocked,     ///< P stays below at `value`, and nothing can be had beyond
  no_minimum,  ///< a place lower than the optimum was met
};

struct ProfilePoint {
  double          value = 0.0;  ///< φ
  double          rise  = 0.0;  ///< P(φ) − S(x̂)
  Eigen::VectorXd x;            ///< n, re-optimised
};

struct ProfileSide {
  ProfileEnd end   = ProfileEnd::blocked;
  double     value = 0.0;  ///< the end, or the farthest place that was reached: always a number
  double     rise  = 0.0;  ///< of P there

  [[nodiscard]] bool found() const { return end == ProfileEnd::found; }
};

struct ProfileInterval {
  double                         estimate        = 0.0;  ///< cᵀx̂ or g(x̂)
  double                         wald_half_width = 0.0;  ///< infinite if the residuals do not tell φ at all
  ProfileSide                    lower, upper;
  std::vector<ProfilePoint>      points;  ///< the optimum and all places met, by rising value
  std::optional<Eigen::VectorXd> better;  ///< a place lower than the optimum: fit again from here
  int                            evaluations = 0, jacobians = 0;

  /// Both ends found.
  [[nodiscard]] bool closed() const { return lower.found() && upper.found(); }
};

/// Interval of cᵀx. Throws std::invalid_argument if sizes do not agree, the combination is nothing, the rise is not
/// above 0, a number is not finite, the limits do not hold the estimate, or the residuals cannot be had at the optimum.
[[nodiscard]] ProfileInterval profile_interval(const Residuals& function, const Eigen::VectorXd& optimum,
                                               const Eigen::VectorXd& combination, double rise,
                                               const ProfileOptions& options = {});

/// Interval of a quantity that follows from the parameters: `function` gives the residuals and, as the last row, the quantity
/// itself with its slopes. `lowest` and `highest` limit the quantity. Throws as above.
[[nodiscard]] ProfileInterval profile_of_quantity(const Residuals& function, const Eigen::VectorXd& optimum,
                                                  double rise, const ProfileOptions& options = {});

/// Interval of the parameter at `index`.
[[nodiscard]] ProfileInterval profile_interval(const Residuals& function, const Eigen::VectorXd& optimum,
                                               Eigen::Index index, double rise,
                                               const ProfileOptions& options = {});

}  // namespace arris
