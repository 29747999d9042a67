// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/fit/fit.hpp"
#include "sim/studies/answer.hpp"

/// Evidence that a campaign's readings hold for rival wear laws.
///
///     AICc = −2·log L + 2k + 2k(k + 1)/(n − k − 1),   BIC = −2·log L + k·log n
///     elpd = Σ_e log p(y_e | readings of all other edges)
///
/// L is the likelihood at the fit with the effects integrated out (Laplace), k counts parameters and standard deviations,
/// n measurements. The predictive density of an edge left out is normal about the refitted prediction, with the scatter of
/// readings and edges and the uncertainty of the parameters in its covariance. A difference in elpd smaller than twice its
/// standard error is no evidence, and none below 0.1, odds of 1.1 to 1 (an estimate): laws that say the same differ by what
/// integration leaves.
/// Source: Akaike 1974, Hurvich & Tsai 1989, Schwarz 1978; leave-one-group-out prediction after Vehtari, Gelman & Gabry
/// 2017 (from memory).
namespace arris {

/// How far off a law is in one stretch of the histories.
struct Misfit {
  std::string moment;  ///< name of the moment
  int         count = 0;
  double      mean  = 0.0;  ///< mean log measured over predicted, effects of edges left out
};

struct WeighedLaw {
  std::string         name;
  bool                usable = false;
  std::string         failure;
  int                 parameters     = 0;  ///< k
  double              log_likelihood = 0.0;
  double              aicc = 0.0, bic = 0.0;
  double              elpd = 0.0, elpd_se = 0.0;
  std::vector<double> elpd_by_edge;
  double              difference = 0.0, difference_se = 0.0;  ///< elpd below the best, and its standard error
  FitPoint            best;
  std::vector<Misfit> misfits;  ///< largest first
};

/// Fits each law to the readings. `settings.free` are the paths to free beside the parameters of the law itself; those that
/// begin with "wear." are left out of it. The law of the scenario keeps the numbers and priors stated for it; others have
/// their defaults. Sorted by elpd, best first; failures last. Throws Error (Exit::usage): "unknown-law" for a law that does
/// not exist, "no-formula" for `formula` where the scenario states none.
[[nodiscard]] std::vector<WeighedLaw> weigh(
    const Scenario& scenario, const std::vector<Reading>& readings, const FitSettings& settings,
    const std::vector<std::string>& laws, int threads = 0,
    const std::function<void(std::size_t, std::size_t)>& progress = {});

/// What the evidence says: which law, and whether the others can be told from it. Tables "laws" and "misfits".
/// `laws` must not be empty; `readings` is what the readings are called in the sentence on what this rests on.
[[nodiscard]] Answer weigh_answer(const std::vector<WeighedLaw>& laws, const std::string& readings);

/// Names of the wear laws there are for a model: those built in, and its formula if it has one.
[[nodiscard]] std::vector<std::string> wear_law_names(const Model<double>& model);

}  // namespace arris
