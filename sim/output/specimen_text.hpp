// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/history/specimen.hpp"

/// A simulation of specimens as text for a terminal, in their own quantity and units; what simulation_text.hpp gives for blades.
namespace arris {

struct Comparison;
struct EdgeResult;
struct Loaded;
struct SimulationResult;

/// "312 µm"
[[nodiscard]] std::string wear_said(double um, const WearUnits& units);
/// "1400 metres"
[[nodiscard]] std::string way_said(double way, const WearUnits& units);

[[nodiscard]] std::string specimens_answer(const Loaded& loaded, const SimulationResult& result);
[[nodiscard]] std::string specimens_overview(const Loaded& loaded, const SimulationResult& result);
[[nodiscard]] std::string specimen_text(const Loaded& loaded, const EdgeResult& specimen);
/// Measured beside predicted; `comparison.wear` is there.
[[nodiscard]] std::string wear_compared(const Comparison& comparison, const std::string& agreement);

}  // namespace arris
