// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <variant>

#include "sim/laws/wear/constant_rate.hpp"
#include "sim/laws/wear/power.hpp"
#include "sim/laws/wear/settling.hpp"
#include "sim/laws/wear/shared_load.hpp"
#include "sim/laws/wear/square_root.hpp"

/// The wear laws that a configuration can name. A new one is a header beside these, its `#include` and its name in the list here, and a test.
///
/// A wear law is a struct template over the number type that holds its parameters and nothing else, with
///   `static constexpr std::string_view law_name`,
///   `T rate(const T& apex_radius_um, const T& path_m) const` in µm per metre of path, for the reference wood and steel,
///   `times(const T& severity)`, the same law for a wood and steel that wear it `severity` times as fast,
///   `static constexpr bool by_radius_alone()`: whether `rate` leaves `path_m` aside,
///   `fields`, the list of its parameters (field.hpp).
/// `path_m` counts from the last time the edge met an abrasive. The order of the list is no part of any file.
namespace arris::laws {

/// How many parameters a law has.
template <template <class> class Law>
inline constexpr std::size_t parameters_of = sizeof(Law<double>) / sizeof(double);

/// Laws as a list of templates, so that whoever needs one of each kind makes it of the list.
template <template <class> class... Laws>
struct WearLawList {
  static constexpr std::size_t size = sizeof...(Laws);
  /// One of the laws over the number T, or one of `More`.
  template <class T, class... More>
  using AnyOf = std::variant<Laws<T>..., More...>;
  /// The largest number of parameters that one of them has.
  static constexpr std::size_t most_parameters = std::max({parameters_of<Laws>...});
};

using BuiltInWearLaws = WearLawList<SharedLoad,    //
                                    ConstantRate,  //
                                    SquareRoot,    //
                                    Power,         //
                                    Settling>;

template <class T>
using BuiltInWearLaw = BuiltInWearLaws::AnyOf<T>;

}  // namespace arris::laws
