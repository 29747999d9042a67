// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/fit/law_fits.hpp"
#include "sim/studies/answer.hpp"

/// Evidence that a campaign's readings hold for rival wear laws.
///
///     AICc = −2·log L + 2k + 2k(k + 1)/(n − k − 1),   BIC = −2·log L + k·log n
///     elpd = Σ_e log p(y_e | readings of all other edges)
///
/// L is the likelihood at the fit with the effects integrated out (Laplace), k counts parameters and standard deviations,
/// n measurements. elpd and the weights are those of law_fits.hpp, as a fit takes them.
///
/// The readings speak against a law where its elpd is lower than the best by more than chance explains: of all choices of sign for the
/// differences of edges fewer than 5 % give as large a sum, and it is more than 0.1, odds of 1.1 to 1 (an estimate): laws that say the
/// same differ by what integration leaves. Fewer than 6 edges cannot show that, as even with all on one side chance does as much
/// 2/2ⁿ of the time; there each edge must be 20 times less likely under the law, and with one edge all its readings 150 times.
/// Source: Akaike 1974, Hurvich & Tsai 1989, Schwarz 1978; Fisher 1935; Kass & Raftery 1995 for the odds (from memory).
namespace arris {

/// How far off a law is in one stretch of the histories.
struct Misfit {
  std::string moment;  ///< name of the moment
  int         count = 0;
  /// Mean log measured over predicted, effects of edges left out; where wear scatters by micrometres measured less predicted, µm.
  double mean = 0.0;
};

struct WeighedLaw : LawFit {
  double              aicc = 0.0, bic = 0.0;
  double              elpd_se = 0.0;
  std::vector<Misfit> misfits;  ///< largest first
};

/// Fits each law to the readings. `settings.free` are the paths to free beside the parameters of the law itself; those that
/// begin with "wear." are left out of it. Best first; failures last. Throws Error (Exit::usage): "unknown-law" for a law that does
/// not exist, "no-formula" for `formula` where the scenario states none.
[[nodiscard]] std::vector<WeighedLaw> weigh(
    const Scenario& scenario, const std::vector<Reading>& readings, const FitSettings& settings,
    const std::vector<std::string>& laws, int threads = 0,
    const std::function<void(std::size_t, std::size_t)>& progress = {});

/// What the evidence says: which law, and whether the others can be told from it. Tables "laws" and "misfits".
/// `laws` must not be empty; `readings` is what the readings are called in the sentence on what this rests on.
[[nodiscard]] Answer weigh_answer(const std::vector<WeighedLaw>& laws, const std::string& readings);

}  // namespace arris
