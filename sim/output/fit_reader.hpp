// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>

#include "sim/input/loader.hpp"
#include "sim/studies/ensemble.hpp"

/// Draws of an earlier fit, out of its HDF5 file.
namespace arris {

/// At most `members` of the draws that `arris fit --draws N --out FILE` left in `path`, evenly taken. Throws Error
/// (Exit::data): "not-a-fit" for another kind of file, "no-draws" for a fit without draws, "another-campaign" when a
/// parameter of it is none of the scenario's.
[[nodiscard]] Ensemble read_ensemble(const std::filesystem::path& path, const Scenario& scenario,
                                     int members);

}  // namespace arris
