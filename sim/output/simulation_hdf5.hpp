// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <optional>
#include <vector>

/// The HDF5 file of a simulation. Its layout, and that of every other kind of result, stands in docs/results.md.
///
/// Columns, units and long names are those of columns.hpp. Missing numbers are NaN.
namespace arris {

struct Comparison;
struct Loaded;
struct Provenance;
struct Reading;
struct SimulationResult;

/// Of every kind of result. 3: an edge has a dub, and the burr a limit; fits of before rest on coefficients that are gone.
inline constexpr int schema_version = 4;
/// The first version whose fits are of the present model.
inline constexpr int model_version = 3;

void write_hdf5(const std::filesystem::path& path, const Loaded& loaded, const SimulationResult& result,
                const std::optional<Comparison>& comparison, const std::vector<Reading>& readings,
                const Provenance& provenance);

}  // namespace arris
