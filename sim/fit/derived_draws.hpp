// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/derived.hpp"
#include "sim/fit/fit.hpp"

/// Derived quantities at draws of a fit, with what these know of how edges are sharpened and of woods (ways.hpp).
namespace arris {

/// The effects on the apex and on its growth that a quantity has by its history.
[[nodiscard]] std::vector<Effect> effects_in_history(const DerivedQuantity& quantity);

/// Some draws of a fit.
struct DrawsOfFit {
  const std::vector<std::string>& columns;  ///< as FittedDraws has them
  Eigen::MatrixXd                 rows;     ///< draws × columns
  Eigen::MatrixXd                 u;        ///< parameters × draws, scaled
  Spread                          spread;   ///< at the optimum, for standard deviations that are no column
  unsigned long long              seed = 1;
};

/// The quantity at each draw, in its unit; NaN where its history fails. A way or wood that the fit has not read is drawn anew, as those of its
/// kind differ; a reading is at the level of others than those who read.
[[nodiscard]] std::vector<double> at_draws(DerivedModel& derived, const DerivedQuantity& quantity,
                                           const DrawsOfFit& draws);

}  // namespace arris
