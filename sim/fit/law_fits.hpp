// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/fit/fit.hpp"
#include "sim/fit/law_growth.hpp"

/// The same readings fitted under several wear laws, and how far each law is to be believed.
///
/// No law is favoured by its prior. Each is scaled, by its own `times`, to the same growth of the radius over a reference path, and its
/// rates are given just so wide a prior that this growth has the same spread under every law:
///
///     log Δr(x_ref) ≈ N( log Δr_ref, (log 3)² ),   Δr from r = 0.3 µm over x_ref = 100 m in the reference wood
///
/// Δr_ref is that of the scenario's law as it stands where its numbers are not the defaults, else that of the default shared-load law, so
/// that which law the configuration names makes no difference. Numbers of shape (`exponent`) have a factor of 2 at least. A prior that
/// is stated, "wear.KEY" for the law of the scenario or "wear.LAW.KEY" for any, stays as it is; so do the numbers of a formula.
///
/// What a law foretells of an edge is log p(its readings | readings of all other edges): parameters and scatter are found without
/// that edge, and the density is integrated over what is left open of them and over the luck of the edge. With more than `most_folds` edges
/// so many groups of them are left out in turn, since an edge among so many hardly moves a fit (K-fold). Weights are those of
/// stacking (stacking.hpp). With fewer than `few_edges` edges it is not to be trusted, and laws that the readings do not rule out
/// have equal weights.
/// Source: Yao, Vehtari, Simpson & Gelman 2018; Vehtari, Gelman & Gabry 2017 (from memory). Factor, radius and path: estimates.
namespace arris {

/// Below so many edges with readings weights are equal (an estimate: with three edges one of them decides).
inline constexpr int few_edges = 4;

/// Fits without some of the edges, at most (common practice in statistics is 10 to 20 folds).
inline constexpr int most_folds = 20;

/// d of stacking_weights: a law counts as if one edge had spoken for it alone (an estimate). A law that the readings speak against has no weight,
/// nor has one that is behind the best by odds of 150 and by four standard errors.
inline constexpr double doubt_of_weights = 1.0;

struct LawFit {
  std::string name;
  bool        usable = false;
  std::string failure;
  std::shared_ptr<const CampaignModel>
                      model;  ///< of the readings under this law; empty where it is not usable
  FitPoint            best;
  Information         information;
  int                 parameters     = 0;  ///< with standard deviations
  double              log_likelihood = 0.0;
  std::vector<double> elpd_by_edge;  ///< empty where fewer than two edges have readings
  double              elpd = 0.0;
  double difference = 0.0, difference_se = 0.0;  ///< elpd less that of the best, and its standard error
  double by_chance = 1.0;    ///< how often chance does as much against it (sign_flip_probability)
  bool   ruled_out = false;  ///< the readings speak against it
  double weight    = 0.0;
};

struct LawFits {
  std::vector<LawFit> laws;  ///< best first; failures last
  int                 edges   = 0;
  bool                stacked = false;  ///< whether weights are those of stacking
};

/// Names of the wear laws there are for a model: those built in, and its formula if it has one.
[[nodiscard]] std::vector<std::string> wear_law_names(const Model<double>& model);
/// The same, and the formulas that the scenario has beside it.
[[nodiscard]] std::vector<std::string> wear_law_names(const Scenario& scenario);

/// What the wear laws of a scenario are compared over.
[[nodiscard]] WearScale wear_scale(const Scenario& scenario);

/// Of specimens: the scenario with what readings show on average (Specimen::typical_way, typical_um: geometric means), and its wear law, where
/// nobody stated numbers of it, such that it wears so much. It sets no more than where the priors of a wear law are centred, and these are ten
/// times that wide. Of blades as it is.
[[nodiscard]] Scenario scaled_to_readings(const Scenario& scenario, const std::vector<Reading>& readings);

/// The scenario with the law of that name, scaled as above. Throws Error (Exit::usage): "unknown-law", "no-formula".
[[nodiscard]] Scenario under_law(const Scenario& scenario, const std::string& name);

/// What is free under the law `name` of `rival`, a scenario of under_law: the paths of `settings.free` that are none of a wear law, and every
/// parameter of the law that has a prior. `stated`: whether "wear.KEY" priors are meant for it.
[[nodiscard]] std::vector<FreeParameter> parameters_under_law(const Scenario& rival, const std::string& name,
                                                              const FitSettings& settings, bool stated);

/// What is free in a fit of the scenario: the paths of `settings.free`; where none is stated, what readings usually tell something about
/// (usual_parameters), and of the wear law all numbers, as under_law has them, so that a law that is fixed is fitted as it is beside others.
[[nodiscard]] std::vector<FreeParameter> parameters_of_fit(const Scenario&             scenario,
                                                           const FitSettings&          settings,
                                                           const std::vector<Reading>& readings = {});

/// Takes the optimum of a fit of `law.model` and what follows from it.
void set_optimum(LawFit& law, const FitResult& fit);

/// Index of the law that answers rest on most, the best of those that weigh the same; empty where none can be used.
[[nodiscard]] std::optional<std::size_t> heaviest_of(const LawFits& fits);

/// `progress(done, all)` may be empty; `threads` changes no bit. Throws as under_law, and Error (Exit::data, "no-readings").
[[nodiscard]] LawFits fit_laws(const Scenario& scenario, const std::vector<Reading>& readings,
                               const FitSettings& asked, const std::vector<std::string>& laws, int threads,
                               const std::function<void(std::size_t, std::size_t)>& progress = {});

}  // namespace arris
