// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>

#include "sim/output/fit_tables.hpp"

/// The files of a fit; the layout of the HDF5 file stands in docs/results.md.
namespace arris {

struct Provenance;

/// `readings`: what the file of readings is called; `fitted`: the configuration with the fitted values (fitted_toml).
void write_fit_hdf5(const std::filesystem::path& path, const CampaignModel& model, const FitReport& report,
                    const std::string& readings, const std::string& fitted, const Provenance& provenance);

[[nodiscard]] std::string fit_json(const CampaignModel& model, const FitReport& report,
                                   const Provenance& provenance);

}  // namespace arris
