// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

/// The text files of a simulation.
namespace arris {

struct Comparison;
struct Loaded;
struct Provenance;
struct SimulationResult;

/// One row per point of every curve: edge, tool, verb, subject, then the columns of track_columns(). Missing: empty.
[[nodiscard]] std::string simulation_csv(const Loaded& loaded, const SimulationResult& result);

/// Edges with their steps and curves, comparison and provenance. Missing numbers are null.
[[nodiscard]] std::string simulation_json(const Loaded& loaded, const SimulationResult& result,
                                          const std::optional<Comparison>& comparison,
                                          const Provenance&                provenance);

}  // namespace arris
