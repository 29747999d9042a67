// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/fit/ensemble.hpp"
#include "sim/fit/law_fits.hpp"

/// Posterior draws under each of several wear laws, for answers that rest on all of them (ensemble.hpp).
///
/// Parameters and logs of standard deviations are drawn from a Student's t distribution of 5 degrees of freedom about the optimum, with
/// the covariance there, and kept in proportion to the posterior density over the density they were drawn with (sampling-importance
/// resampling). `quick` leaves the densities aside and draws from the normal distribution about the optimum.
/// Source: Rubin 1988, Gelman et al. 2013, section 10.4 (from memory).
namespace arris {

struct LawDrawOptions {
  int  draws   = 1000;   ///< under each law
  bool quick   = false;  ///< normal draws, without any history
  int  threads = 0;
};

/// Of the laws that are usable. The same draws on any machine and for any number of threads, by the seed of the fit's settings.
[[nodiscard]] std::vector<FittedLaw> draws_of_laws(const LawFits& fits, const LawDrawOptions& options);

}  // namespace arris
