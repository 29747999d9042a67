// SPDX-License-Identifier: MIT
#pragma once

#include <string>

/// The two files of a planned experiment: the run sheet that goes to the tester, and the configuration that is its key.
namespace arris {

struct Plan;

/// A readings file (readings_csv.hpp) with every reading blank, in the order in which they are to be taken. Edges stand under
/// their codes and moments under "stage 1", "stage 2" …, so that the one who reads does not know what lies before him. Seed,
/// filaments, what to do and the usual caution stand in `#` lines at its head. `configuration` is the name of the other file.
[[nodiscard]] std::string run_sheet(const Plan& plan, const std::string& configuration);

/// A configuration that includes `base` (a path relative to it), names `sheet` as its readings, and holds the planned edges
/// with their codes.
[[nodiscard]] std::string plan_toml(const Plan& plan, const std::string& base, const std::string& sheet);

}  // namespace arris
