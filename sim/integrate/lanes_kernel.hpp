// SPDX-License-Identifier: MIT
#pragma once

#include "sim/integrate/lanes_abrasion.hpp"
#include "sim/integrate/lanes_integrals.hpp"
#include "sim/laws/wear/registry.hpp"

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

/// The tasks of the law that stands at `law` in `Laws`; none are made of a law that depends on the path.
template <class T, template <class> class... Laws>
void growth_of(laws::WearLawList<Laws...>, Growth<T::slopes>* const* tasks, std::size_t count,
               std::size_t law, const Rules& rules) {
  std::size_t at  = 0;
  const auto  one = [&]<template <class> class Law>() {
    if constexpr (Law<typename T::Value>::by_radius_alone()) {
      if (at == law) GrowthInWood<T, Law>::run(tasks, count, rules);
    }
    ++at;
  };
  (one.template operator()<Laws>(), ...);
}

template <class T>
void growth_by(Growth<T::slopes>* const* tasks, std::size_t count, std::size_t law, const Rules& rules) {
  growth_of<T>(laws::BuiltInWearLaws{}, tasks, count, law, rules);
}

template <class T>
[[nodiscard]] const Kernels<T::slopes>* kernels_over() {
  static const Kernels<T::slopes> kernels{abrasion_by<T>, StrokesSoFar<T>::run, growth_by<T>};
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
