// SPDX-License-Identifier: MIT
#pragma once

#include <xsimd/xsimd.hpp>

#include "sim/laws/number.hpp"

/// A register of several histories as a number that the laws take: each lane is one history, and decides for itself.
namespace arris {

template <class A>
struct Choice<xsimd::batch_bool<double, A>> {
  template <class Yes, class No>
  [[nodiscard]] static auto of(const xsimd::batch_bool<double, A>& condition, const Yes& yes, const No& no) {
    return xsimd::select(condition, yes(), no());
  }
};

}  // namespace arris
