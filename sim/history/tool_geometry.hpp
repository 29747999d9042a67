// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/history/tables.hpp"
#include "sim/laws/geometry.hpp"

/// Angles and lengths of a tool that no blade can have, each allowed by itself.
namespace arris {

/// Every fault with the key that it is reported at in `Diagnostic::key`; empty for a tool that can be. Numbers that are not
/// given are passed over.
[[nodiscard]] inline std::vector<Diagnostic> geometry_faults(const Tool<double>& tool) {
  std::vector<Diagnostic> faults;
  if (tool.micro_bevel_deg < tool.primary_bevel_deg) {
    faults.push_back(
        {.code  = "impossible-geometry",
         .what  = fmt::format("the micro-bevel of {:g}° lies below the primary bevel of {:g}°",
                              tool.micro_bevel_deg, tool.primary_bevel_deg),
         .cause = "A micro-bevel is steeper than the bevel it stands on, or it never touches the stone.",
         .next  = fmt::format("Give at least {:g}, or leave micro_bevel_deg out to hone the whole bevel.",
                              tool.primary_bevel_deg),
         .key   = "micro_bevel_deg"});
  } else if (tool.micro_bevel_deg > tool.primary_bevel_deg &&
             tool.micro_bevel_deg - tool.primary_bevel_deg < 0.1) {
    faults.push_back({.code  = "impossible-geometry",
                      .what  = fmt::format("the micro-bevel is only {:.2g}° steeper than the primary bevel",
                                           tool.micro_bevel_deg - tool.primary_bevel_deg),
                      .cause = "No jig holds that, and the land would be wider than the bevel.",
                      .next  = "Make it at least 0.1° steeper, or equal.",
                      .key   = "micro_bevel_deg"});
  }
  if (tool.micro_bevel_deg + tool.back_bevel_deg >= 90.0) {
    faults.push_back(
        {.code  = "impossible-geometry",
         .what  = fmt::format("the edge would be {:g}° wide", tool.micro_bevel_deg + tool.back_bevel_deg),
         .cause = "Bevel and back bevel together must stay below 90°.",
         .key   = "back_bevel_deg"});
  }
  if (tool.honed_sides == 2 && tool.back_bevel_deg > 0.0) {
    faults.push_back({.code = "impossible-geometry",
                      .what = "a blade honed on two sides has no back to put a back bevel on",
                      .next = "Set honed_sides = 1, or leave back_bevel_deg out.",
                      .key  = "back_bevel_deg"});
  }
  const double side = tool.honed_sides == 2 ? 0.5 : 1.0;
  const double full =
      laws::full_bevel_land(tool.thickness_mm * side, tool.primary_bevel_deg * laws::degree * side);
  if (tool.micro_bevel_deg > tool.primary_bevel_deg && tool.land_mm > full) {
    faults.push_back({.code = "impossible-geometry",
                      .what = fmt::format("a land of {:g} mm is wider than the whole bevel, {:.3g} mm",
                                          tool.land_mm, full),
                      .next = "Check land_mm and thickness_mm.",
                      .key  = "land_mm"});
  }
  return faults;
}

}  // namespace arris
