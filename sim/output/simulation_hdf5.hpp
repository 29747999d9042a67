// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <optional>

#include "sim/output/provenance.hpp"
#include "sim/simulate/readings.hpp"

/// The HDF5 file of a simulation, schema version 2:
///
///     /                        attributes: Conventions, title, history, kind = "simulate", schema_version, provenance;
///                              headline, remarks, remarks_about, cautions (answer_output.hpp)
///     /edges                   axis edge; name, tool, route, status, included_angle_deg, passes_to_limit
///     /edge/NAME/track         axis point; the curve: step, count, strokes, passes, path_m, apex_radius_um, …
///     /edge/NAME/steps         axis step; what each step did: verb, subject, count, strokes_to_burr, …
///     /comparison              axis row; measured against predicted, where the configuration names readings
///     /readings                axis row; every reading of the tester, where on the curve of its edge it was taken (since 2)
///     /measures                axis row; radii, recessions and losses of mass against predicted, where there are any
///
/// Columns, units and long names are those of columns.hpp. Missing numbers are NaN.
///
/// Version 2 (of every kind of result) adds sentences: headline, remarks, cautions, what each remark is about. What a file of
/// version 1 held stands in one of version 2 under the same name.
namespace arris {

inline constexpr int schema_version = 2;

void write_hdf5(const std::filesystem::path& path, const Loaded& loaded, const SimulationResult& result,
                const std::optional<Comparison>& comparison, const std::vector<Reading>& readings,
                const Provenance& provenance);

}  // namespace arris
