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

void write_hdf5(const std::filesystem::path& path, const Loaded& loaded, const SimulationResult& result,
                const std::optional<Comparison>& comparison, const std::vector<Reading>& readings,
                const Provenance& provenance);

}  // namespace arris
