// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>

#include "sim/fit/fit_report.hpp"
#include "sim/output/fit_tables.hpp"
#include "sim/output/provenance.hpp"

/// The files of a fit.
///
///     /                 attributes as in every result (answer_output.hpp), kind = "fit"
///     /parameters       axis parameter (paths); says, value, unit, low, high, log_sd, prior_centre, prior_spread, prior_share,
///                       determined, at_bound; covariance (parameter × parameter, scaled)
///     /given            axis path; value of every number that was held fixed, in the unit of its path
///     /readings         axis row; edge, moment, kind, measured, predicted, residual_sd (N or µm)
///     /effects          axis effect; kind, name, log_factor
///     /starts           axis start; log_posterior, evaluations
///     /profile/PATH     axis point; value, rise of −2·log posterior
///     /derived          axis quantity; unit, value, low, high (Wald), profile_low, profile_high, drawn_low, drawn_median,
///                       drawn_high, determined, moved
///     /derived/profile/N   of quantity N, from 0: axis point; value, rise
///     /draws            axes draw and column; value (draw × column), log_density
///     attributes of /: sd_readings, sd_edges, sd_operators, sd_lots, log_posterior, starts_agreeing, wear_law
namespace arris {

/// `readings`: what the file of readings is called.
void write_fit_hdf5(const std::filesystem::path& path, const CampaignModel& model, const FitReport& report,
                    const std::string& readings, const Provenance& provenance);

[[nodiscard]] std::string fit_json(const CampaignModel& model, const FitReport& report,
                                   const Provenance& provenance);

}  // namespace arris
