// SPDX-License-Identifier: MIT
#pragma once

namespace arris {

/// How exact an integration is to be.
struct Tolerances {
  double relative    = 1e-6;
  double absolute_um = 1e-8;  ///< a hundredth of `relative`: below 0.01 µm nothing matters to a reading
  int    max_steps   = 100000;
};

}  // namespace arris
