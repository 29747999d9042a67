// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

namespace arris::laws {

/// The names of the laws of the registry, as a configuration names them, in its order.
[[nodiscard]] std::vector<std::string> built_in_wear_laws();

}  // namespace arris::laws
