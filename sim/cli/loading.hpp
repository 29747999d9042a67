// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/input/files.hpp"

namespace arris {
struct Arguments;
}

/// The configuration that a command reads, with what it names.
namespace arris::cli {

/// How far the configuration may reach: no further than its folder where --confined was said.
[[nodiscard]] Reach reach_of(const Arguments& arguments);

/// As load_campaign_file with the file FILE of a command; from now on the program keeps to `[computer]` of that configuration, and what
/// readings were taken for is noted. `also` are materials beside those that its steps name.
[[nodiscard]] Campaign load_within_limits(const Arguments&                  arguments,
                                          const std::vector<NamedMaterial>& also = {});

}  // namespace arris::cli
