// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>

#include "sim/output/fit_tables.hpp"
#include "sim/output/provenance.hpp"
#include "sim/studies/fit_report.hpp"

/// The files of a fit.
///
///     /                 attributes as in every result, kind = "fit"
///     /parameters       axis parameter (paths); value, unit, low, high, log_sd, prior_centre, prior_spread, prior_share,
///                       determined, at_bound; covariance (parameter × parameter, scaled)
///     /readings         axis row; edge, moment, kind, measured, predicted, residual_sd (N or µm)
///     /effects          axis effect; kind, name, log_factor
///     /starts           axis start; log_posterior, evaluations
///     /profile/PATH     axis point; value, rise of −2·log posterior
///     /draws            axes draw and column; value (draw × column), log_density
///     attributes of /: sd_readings, sd_edges, sd_operators, sd_lots, log_posterior, starts_agreeing
namespace arris {

void write_fit_hdf5(const std::filesystem::path& path, const CampaignModel& model, const FitReport& report,
                    const Provenance& provenance);

[[nodiscard]] std::string fit_json(const CampaignModel& model, const FitReport& report,
                                   const Provenance& provenance);

}  // namespace arris
