// SPDX-License-Identifier: MIT
#pragma once

#include <variant>

#include "sim/laws/wear/constant_rate.hpp"
#include "sim/laws/wear/formula.hpp"
#include "sim/laws/wear/power.hpp"
#include "sim/laws/wear/settling.hpp"
#include "sim/laws/wear/shared_load.hpp"
#include "sim/laws/wear/square_root.hpp"

/// The wear laws that a configuration can name. A new one is a header beside these, a line here, and a test.
///
/// A wear law is a struct template over the number type with
///   `static constexpr std::string_view law_name`,
///   `T rate(const T& apex_radius_um, const T& path_m) const` in µm per metre of path, for the reference wood and steel,
///   `times(const T& severity)`, the same law for a wood and steel that wear it `severity` times as fast,
///   `fields`, the list of its parameters (field.hpp).
/// `path_m` counts from the last time the edge met an abrasive.
///
/// Beside them stands the law that a configuration states itself (formula.hpp). It has `under(conditions)` in the place of
/// `times(severity)`, since it says itself what of a wood matters.
namespace arris::laws {

template <class T>
using BuiltInWearLaw = std::variant<SharedLoad<T>,    //
                                    ConstantRate<T>,  //
                                    SquareRoot<T>,    //
                                    Power<T>,         //
                                    Settling<T>>;

namespace detail {
template <class Laws, class Law>
struct Beside;
template <class... Laws, class Law>
struct Beside<std::variant<Laws...>, Law> {
  using type = std::variant<Laws..., Law>;
};
}  // namespace detail

/// The law of a model: one of those above, or a formula.
template <class T>
using WearLaw = typename detail::Beside<BuiltInWearLaw<T>, Formula<T>>::type;

}  // namespace arris::laws
