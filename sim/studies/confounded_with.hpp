// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/simulate/readings.hpp"

namespace arris {

/// Of "operators", "filament lots" and "test days" those that the readings of two groups of edges went together with, so that these
/// readings cannot tell a difference of the groups from one of those (fit/confounding.hpp); all of them where only several together do that.
/// Empty where the groups can be told apart, or where one of them was not read. Only readings count that were `taken_then`; excluded ones never do.
[[nodiscard]] std::vector<std::string> confounded_with(const Scenario&                            scenario,
                                                       const std::vector<Reading>&                readings,
                                                       const std::function<bool(const Reading&)>& taken_then,
                                                       const std::vector<std::string>&            first,
                                                       const std::vector<std::string>&            second);

/// "by different operators and with different filament lots", of what `confounded_with` gives.
[[nodiscard]] std::string read_differently(const std::vector<std::string>& with);

}  // namespace arris
