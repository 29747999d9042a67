// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/studies/answer.hpp"

/// A fit as text at two depths: a line, and a page.
namespace arris {

class CampaignModel;
struct FitReport;
struct GradientCheck;

[[nodiscard]] std::string fit_line(const CampaignModel& model, const FitReport& report);

/// Parameters with intervals, what the readings do not tell and what would, scatter, how well readings are met.
[[nodiscard]] std::string fit_page(const CampaignModel& model, const FitReport& report, bool full);

/// What is said in files: the line, what is open, scatter and outliers. `readings` is what the file of them is called.
[[nodiscard]] Answer fit_sentences(const CampaignModel& model, const FitReport& report,
                                   const std::string& readings);

[[nodiscard]] std::string gradient_text(const GradientCheck& check);

}  // namespace arris
