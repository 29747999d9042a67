// SPDX-License-Identifier: MIT
#pragma once

#include "sim/cli/options.hpp"
#include "sim/diagnostic.hpp"
#include "sim/input/files.hpp"

namespace arris::cli {

/// Each command takes what was said and returns an exit code; faults come as Error.
Exit simulate(const Arguments& arguments);
Exit check(const Arguments& arguments);
Exit fit(const Arguments& arguments);
Exit weigh(const Arguments& arguments);
Exit materials(const Arguments& arguments);
Exit write_documents(const Arguments& arguments);

/// The names in a list with commas between them, without blanks around them.
[[nodiscard]] std::vector<std::string> names_in(const std::string& list);

/// What readings of honed, stropped and used edges usually tell something about: free when nothing else is said.
[[nodiscard]] std::vector<std::string> usual_parameters(const Scenario& scenario);

/// Throws Error (Exit::usage, "would-overwrite") when one of these options names a file that the campaign was read from,
/// or two of them name the same file.
void check_outputs(const Arguments& arguments, const Campaign& campaign,
                   const std::vector<std::string>& options);

/// Throws Error (Exit::usage, "no-readings") when the configuration names none.
void require_readings(const Campaign& campaign, const std::string& file);

}  // namespace arris::cli
