// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include "sim/fit/derived.hpp"
#include "sim/fit/fit.hpp"

/// How far a length may be off that no microscope has seen.
///
///     var log q = sᵀ·( JᵀJ + I )⁻¹·s,   J: slopes of the readings over their scatter, s: those of log q
///
/// over every parameter that has a prior, fitted or held fixed, each on the scale of its prior. Readings fix an apex radius only by way
/// of the tester's scale and of the laws of sharpening; a fit that holds these fixed says nothing of how far they are off.
/// Source: linear propagation of error, priors as pseudo-measurements (from memory).
namespace arris {

class UnmeasuredScale {
 public:
  UnmeasuredScale(const CampaignModel& model, const FitPoint& point);
  /// Standard deviation of the log of a quantity; nothing where it has no slopes there.
  [[nodiscard]] std::optional<double> log_sd(const DerivedQuantity& quantity) const;

 private:
  Scenario                   scenario_;
  std::vector<FreeParameter> parameters_;
  Eigen::VectorXd            u_;
  Eigen::MatrixXd            covariance_;
};

/// Whether any radius or recession was measured.
[[nodiscard]] bool has_measured_lengths(const CampaignModel& model);

}  // namespace arris
