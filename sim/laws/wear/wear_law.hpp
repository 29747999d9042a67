// SPDX-License-Identifier: MIT
#pragma once

#include "sim/laws/wear/formula.hpp"
#include "sim/laws/wear/registry.hpp"

/// The law of a model: one of the registry, or the one that a configuration states itself (formula.hpp). A formula has
/// `under(conditions)` in the place of `times(severity)`, since it says itself what of a wood matters.
namespace arris::laws {

template <class T>
using WearLaw = BuiltInWearLaws::AnyOf<T, Formula<T>>;

}  // namespace arris::laws
