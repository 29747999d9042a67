// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/input/loader.hpp"
#include "sim/studies/sweep/sweep.hpp"

/// Inputs of a sweep, from text.
///
///     backing.soft hide.modulus_MPa=1:100:40:log      40 values in equal ratios
///     step.5.laps=0:60:61                             61 values, evenly
///     step.5.laps=0|10|20|40                          these values
///     step.7.cut=white oak|hard maple|teak            these materials
///     step.2.skip=0|1                                 with and without that step
namespace arris {

/// Most values along one axis, and most members of one sweep.
inline constexpr long long   most_values  = 10'000'000;
inline constexpr std::size_t most_members = 1'000'000'000;

/// The materials that these inputs name, to be loaded beside those of the configuration.
[[nodiscard]] std::vector<NamedMaterial> materials_in(const std::vector<std::string>& inputs);

/// One input. Numbers come out in ascending order. Throws Error (Exit::usage): "bad-sweep" for what does not read as an
/// input, "unknown-input" with a suggestion, "no-such-step", "out-of-range" with the range, "given-twice".
[[nodiscard]] SweepAxis sweep_axis(const std::string& input, const Loaded& loaded, const EdgePlan& plan);

/// "end", "after step 5" or "after 100 passes". Throws Error (Exit::usage, "bad-sweep").
[[nodiscard]] SweepMoment sweep_moment(const std::string& text);

/// Gives the coordinates of several axes names of their own, none of those that are taken. Throws Error (Exit::usage, "given-twice").
void name_apart(std::vector<SweepAxis>& axes, const std::vector<std::string>& taken = {});

}  // namespace arris
