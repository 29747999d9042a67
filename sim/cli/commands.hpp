// SPDX-License-Identifier: MIT
#pragma once

#include "sim/cli/options.hpp"
#include "sim/diagnostic.hpp"

namespace arris::cli {

/// Each command takes what was said and returns an exit code; faults come as Error.
Exit simulate(const Arguments& arguments);
Exit check(const Arguments& arguments);
Exit fit(const Arguments& arguments);
Exit materials(const Arguments& arguments);
Exit write_documents(const Arguments& arguments);

/// The names in a list with commas between them, without blanks around them.
[[nodiscard]] std::vector<std::string> names_in(const std::string& list);

}  // namespace arris::cli
