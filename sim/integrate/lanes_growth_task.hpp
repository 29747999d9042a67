// SPDX-License-Identifier: MIT
#pragma once

#include "sim/integrate/lanes_tasks.hpp"
#include "sim/laws/wear/registry.hpp"

/// The task that has room for the parameters of any law of wear: apart from the others (lanes_tasks.hpp), which know no such law.
namespace arris::lanes {

/// An edge in wood, by a law whose rate depends on the radius alone (growth.hpp).
template <int K>
struct Growth {
  static constexpr int most_numbers = static_cast<int>(laws::BuiltInWearLaws::most_parameters);
  using Number                      = Parts<K>;

  Number  law[most_numbers];  ///< parameters in the order of its `fields`
  Number  critical_radius;    ///< of the collapse
  Number  collapse_length;
  double  joint[2];
  double  path;    ///< in metres
  Number  radius;  ///< at the start, then at the end
  Outcome outcome;
};

}  // namespace arris::lanes
