// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>

/// Texts that go on from a fit: its residuals, and a configuration with its values.
namespace arris {

class CampaignModel;
struct Campaign;
struct FitReport;
struct Scenario;
struct Sensitivities;

/// Every measurement beside its prediction, with the effects of its edge, operator and lot: CSV, readings in gram-force,
/// residuals in standard deviations.
[[nodiscard]] std::string residuals_csv(const CampaignModel& model, const FitReport& report);

/// One row per parameter: path, value, then one column per measurement. Parameters that no measurement moves with are left out.
[[nodiscard]] std::string sensitivities_csv(const Sensitivities& found, const Scenario& scenario);

/// A configuration with the fitted values, each marked as fitted, that every command reads. `folder` is where it will
/// stand: the readings file is named relative to it.
[[nodiscard]] std::string fitted_toml(const Campaign& campaign, const CampaignModel& model,
                                      const FitReport& report, const std::filesystem::path& folder);

}  // namespace arris
