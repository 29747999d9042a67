// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/history/model.hpp"
#include "sim/history/state.hpp"
#include "sim/history/steps.hpp"

/// What stropping and chips leave for the next honing to do.
namespace arris {

struct NextHoning {
  double depth_um =
      0.0;  ///< to take off the bevel before the stone meets the tip all along; 0 where it meets it at once
  double strokes =
      not_given;  ///< that takes on `medium`, freshly dressed; NaN where no honing is known or 1e6 do not suffice
  std::string medium;  ///< of the first hone step of the edge
};

/// Of an edge that its history has left in `state`. The depth is that of the dub, or that back to where the deepest chip ends if
/// that is more.
[[nodiscard]] NextHoning next_honing(const Model<double>& model, const EdgePlan& plan,
                                     const Blade<double>& blade, const EdgeState<double>& state);

}  // namespace arris
