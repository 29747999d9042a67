// SPDX-License-Identifier: MIT
#pragma once

/// The blade of the made-up campaigns that fits are tried on.
namespace arris::bench {

inline constexpr const char* iron_to_fit = R"(
[tool.iron]
steel             = "O1"
width_mm          = 50
thickness_mm      = 3.2
primary_bevel_deg = 25
micro_bevel_deg   = 30
apex_radius_um    = 3
)";

}  // namespace arris::bench
