// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/studies/fit_report.hpp"

/// A fit told at two depths: a line, and a page.
namespace arris {

[[nodiscard]] std::string fit_line(const CampaignModel& model, const FitReport& report);

/// Parameters with intervals, what the readings do not tell and what would, scatter, how well readings are met.
[[nodiscard]] std::string fit_page(const CampaignModel& model, const FitReport& report, bool full);

[[nodiscard]] std::string gradient_text(const GradientCheck& check);

}  // namespace arris
