// SPDX-License-Identifier: MIT
#pragma once

#include "sim/integrate/lanes_abrasion.hpp"
#include "sim/integrate/lanes_integrals.hpp"

/// The kernels of lanes_tasks.hpp over a register type. Included by one file per instruction set, compiled for that set:
/// only templates over the register type may come out of such a file, since the linker keeps one copy of anything else.
///
/// T is the number that goes into the laws, plain lanes or lanes with derivatives; V = T::Value are plain lanes.
/// The depth D along a stage and the size of its steps do not vary with the parameters; where a stage ends, or what a
/// closed form makes of its end, may.
namespace arris::lanes {

template <class T>
void abrasion_by(Abrasion<T::slopes>* const* tasks, std::size_t count, Face face, const Rules& rules) {
  if (count == 0) return;
  switch (face) {
    case Face::back:
      return AbrasionKernel<T, Face::back>::run(tasks, count, rules);
    case Face::bevel:
      return AbrasionKernel<T, Face::bevel>::run(tasks, count, rules);
    case Face::counted:
      return AbrasionKernel<T, Face::counted>::run(tasks, count, rules);
    case Face::strop:
      return AbrasionKernel<T, Face::strop>::run(tasks, count, rules);
  }
}

template <class T>
[[nodiscard]] const Kernels<T::slopes>* kernels_over() {
  static const Kernels<T::slopes> kernels{abrasion_by<T>, StrokesSoFar<T>::run, GrowthKernel<T>::run};
  return &kernels;
}

/// Of a register type with two lanes only, plain numbers alone pay.
template <class V>
[[nodiscard]] const KernelSet& kernel_set_over() {
  if constexpr (V::Register::size > 2) {
    static const KernelSet set{kernels_over<V>(), kernels_over<LaneJet<V, 4>>(),
                               kernels_over<LaneJet<V, 8>>()};
    return set;
  } else {
    static const KernelSet set{kernels_over<V>(), nullptr, nullptr};
    return set;
  }
}

}  // namespace arris::lanes
