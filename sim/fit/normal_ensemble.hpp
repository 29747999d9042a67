// SPDX-License-Identifier: MIT
#pragma once

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit.hpp"

namespace arris {

/// Draws of the normal approximation of a fit that has converged: u ~ N(û, covariance), put at the end of its range where it would lie
/// beyond. Scatter is drawn too, normal in its logs about what the fit found, so that one reading does not make it sure; it is as the
/// configuration states it where it is not in the fit. Takes no time, where posterior draws take minutes; leaves out that a posterior
/// may be skewed. Same seed, same members, on any machine and for any number of `threads` (0: all).
[[nodiscard]] Ensemble normal_ensemble(const CampaignModel& model, const FitResult& result, int members,
                                       unsigned long long seed, int threads = 0);

/// Scatter as the fit found it, and as the configuration states it where it is not in the fit.
[[nodiscard]] Spread typical_spread(const CampaignModel& model, const FitResult& result);

}  // namespace arris
