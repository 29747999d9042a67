// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <functional>
#include <span>

#include "sim/history/stages.hpp"
#include "sim/integrate/stepper.hpp"
#include "sim/laws/wear/held_law.hpp"

/// A stage in wood under the wear law of a model. Only where this is compiled are the laws read: who runs whole histories knows that there
/// is one.
namespace arris {

template <class T>
struct Cut {
  const WoodStage<T>&         wood;
  const laws::HeldWearLaw<T>& law;
  laws::WearConditions<T>     here;
};

/// What a point along the stage shows: the count, and r + b.
template <class T>
using CutVisit = std::function<void(double, const std::array<T, 1>&)>;

/// Integrates it over `end` passes from `start`, as `integrate_stage` does: by an integral (growth.hpp) where the rate depends on the
/// radius alone and that way is open, otherwise by steps of the solver. There for double and for ceres::Jet<double, 4> and
/// <double, 8>; over other numbers with cut_run.hpp.
template <class T>
StageEnd<T, 1> integrate_cut(const Cut<T>& cut, const std::array<T, 1>& start, double end,
                             std::span<const double> points, const CutVisit<T>& visit,
                             const Tolerances& tolerances);

}  // namespace arris
