// SPDX-License-Identifier: MIT
#pragma once

#include "sim/integrate/lanes_jet.hpp"
#include "sim/integrate/lanes_number.hpp"
#include "sim/integrate/lanes_tasks.hpp"

/// Between tasks and registers: what the kernels of lanes_abrasion.hpp and lanes_integrals.hpp share.
namespace arris::lanes {

/// Where tasks are kept while they are worked on: part j of number k of lane i at [k][j][i].
template <class T, int Count>
struct LaneArray {
  alignas(64) double at[Count][1 + T::slopes][T::size];

  [[nodiscard]] T get(int k) const {
    T out;
    for (int j = 0; j <= T::slopes; ++j) out.part(j) = T::Value::load(at[k][j]);
    return out;
  }
  void set(int k, const T& x) {
    for (int j = 0; j <= T::slopes; ++j) x.part(j).store(at[k][j]);
  }
  /// To and from one lane of a task.
  void load(int k, int lane, const Parts<T::slopes>& x) {
    for (int j = 0; j <= T::slopes; ++j) at[k][j][lane] = x.of[j];
  }
  void store(int k, int lane, Parts<T::slopes>& x) const {
    for (int j = 0; j <= T::slopes; ++j) x.of[j] = at[k][j][lane];
  }
};

/// x with the derivatives of `slopes`; of plain numbers x.
template <class T>
T with_slopes_of(const typename T::Value& x, const T& slopes) {
  T out       = slopes;
  out.part(0) = x;
  return out;
}

}  // namespace arris::lanes
