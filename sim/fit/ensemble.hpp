// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/discrepancy.hpp"
#include "sim/fit/fit.hpp"
#include "sim/fit/free_parameters.hpp"
#include "sim/fit/ways.hpp"
#include "sim/history/scenario.hpp"
#include "sim/statistics/quantiles.hpp"

/// Many versions of a model, each as likely as any other: posterior draws of a fit, or draws from the priors where nothing
/// was fitted. An answer with honest bands is worked out for every member.
namespace arris {

/// One of several wear laws that members have.
struct EnsembleLaw {
  std::string               name;
  double                    weight    = 0.0;    ///< share of the members
  bool                      ruled_out = false;  ///< the readings speak against it
  laws::HeldWearLaw<double> wear;               ///< at the optimum under it
  std::vector<std::string>  fitted;             ///< paths of the numbers of it that were free
  std::vector<double>       best;               ///< by path, at that optimum
  Discrepancy               discrepancy;        ///< what this law misses along the passes
};

struct Ensemble {
  std::vector<std::string>
                      paths;    ///< of the parameters that differ; none of a wear law where there are several
  Eigen::MatrixXd     values;   ///< members × paths, in the units of the parameters
  std::vector<Spread> spreads;  ///< one per member: standard deviations of the log
  std::vector<double> best;  ///< by path: the optimum of a fit; empty where the scenario's own values are it
  int                 edges    = 0;  ///< edges with readings behind it; 0: defaults only
  int                 readings = 0;
  std::string         rests_on;   ///< a sentence that begins with "Rests on"
  std::vector<EnsembleLaw> laws;  ///< heaviest first; empty: all members have the law of the scenario
  std::vector<laws::HeldWearLaw<double>> wear;    ///< by member, where there are several laws
  std::vector<std::size_t>               law_of;  ///< by member, which of `laws` it has
  Discrepancy discrepancy;  ///< of the fit behind it, where its members have one law (discrepancy.hpp)
  std::vector<Effect>      effects;      ///< of ways of sharpening and woods, of the fit behind it (ways.hpp)
  Eigen::MatrixXd          effect_logs;  ///< members × effects: logs of the factors
  Eigen::VectorXd          effect_best;  ///< effects: what goes with `best`
  std::vector<std::string> misses;       ///< what the fit behind it misses, sentences (lack_of_fit.hpp)

  [[nodiscard]] std::size_t size() const { return spreads.size(); }
  [[nodiscard]] bool        is_fitted() const { return edges > 0; }
  [[nodiscard]] bool        has_laws() const { return !laws.empty(); }
};

/// What a fit took as given: every number of the model but the free ones and the scatter, by path, and the wear law. Another
/// configuration may use the fit where all that both have agrees.
struct Given {
  std::vector<std::string> paths;
  std::vector<double>      values;
  std::string              wear_law;  ///< its name, and the formula where it is one
};
[[nodiscard]] Given given_to_fit(const Model<double>& model, const std::vector<std::string>& free);

/// Throws Error (Exit::data, "another-campaign") where the fit of the file `source` held numbers fixed that have other values here; those at
/// `fitted`, free in one or the other, may differ. `laws`: it has several wear laws, which bring their numbers with them.
void check_given(const Given& then, bool laws, const std::string& source, const Scenario& scenario,
                 const std::vector<std::string>& fitted);

/// Posterior draws under one of several wear laws.
struct FittedLaw {
  std::string              name;
  std::string              wear_law;  ///< wear_law_text
  double                   weight    = 0.0;
  bool                     ruled_out = false;
  std::vector<std::string> columns;  ///< as those of FittedDraws
  std::vector<double>      values;
  std::vector<std::string> parameters;
  std::vector<double>      best;
  Spread                   spread;
  std::vector<std::string> wear_paths;   ///< of all numbers of the law, and
  std::vector<double>      wear_values;  ///< what they are at the optimum
  Discrepancy              discrepancy;  ///< what it misses along the passes
};

/// Effects of a fit at its optimum, as its file has them.
struct EffectsAtBest {
  std::vector<std::string> kinds, names;  ///< name_of the kind; of whom
  std::vector<double>      log_factors;
};

/// Posterior draws of a fit as they come out of a file or a report.
struct FittedDraws {
  std::vector<std::string>
                           columns;  ///< parameters by their paths, standard deviations and factors of ways, as FitReport::draw_names has them
  std::vector<double>      values;      ///< row by row: draws × columns
  std::vector<std::string> parameters;  ///< paths of the parameters, and
  std::vector<double>      best;        ///< their values at the optimum
  EffectsAtBest            effects;     ///< and what goes with them
  Spread                   spread;      ///< at the optimum, for the standard deviations that were not drawn
  int                      edges    = 0;
  int                      readings = 0;
  std::string              source;       ///< what messages call it: the file
  Given                    given;        ///< what the fit held fixed
  std::vector<FittedLaw>   laws;         ///< draws under each law; empty: under one alone, those above
  Discrepancy              discrepancy;  ///< where there is one law
  std::vector<std::string> misses;       ///< what the fit misses, sentences (lack_of_fit.hpp)
};

/// At most `members` of the draws, evenly taken; of each law, where there are several, as its weight has it. Throws Error (Exit::data, "another-campaign") when a parameter of it is none of
/// the scenario's, or when the scenario has other values where the fit took some as given.
[[nodiscard]] Ensemble ensemble_of(const FittedDraws& draws, const Scenario& scenario, int members);

/// Draws from the priors (stated ones, else the default ones) of every parameter of the scenario that has one, and the
/// scatter that the configuration states. Same seed, same members, on any machine. Draws beyond a parameter's range are
/// put at its end.
[[nodiscard]] Ensemble prior_ensemble(const Scenario& scenario, const std::map<std::string, Prior>& stated,
                                      int members, unsigned long long seed);

/// What the laws miss at the given passes (ascending), a row for each member, by its law; members × passes, logs, from one seed.
[[nodiscard]] Eigen::MatrixXd drawn_misses(const Ensemble& ensemble, const std::vector<double>& passes,
                                           unsigned long long seed);

/// Logs of the factor that an effect is, by member: of a way of sharpening (way_at) or a wood (wood_at). For one that the fit did not see they
/// are drawn anew from `seed`, as those of its kind differ; 0 where the fit has none of its kind.
[[nodiscard]] Eigen::VectorXd effect_logs(const Ensemble& ensemble, const Effect& effect,
                                          unsigned long long seed);

/// The same beside the values of `best`; 0 for one that the fit did not see.
[[nodiscard]] double effect_at_best(const Ensemble& ensemble, const Effect& effect);

/// By member, what is known beside the model of edges that were sharpened one way and cut one wood: logs of the factors on the apex and on
/// what it grows in that wood.
struct SharedLuck {
  Eigen::VectorXd apex, growth;
};

/// Of a way and a wood.
[[nodiscard]] SharedLuck shared_luck(const Ensemble& ensemble, const std::string& way,
                                     const std::string& wood, unsigned long long seed);

/// Logs of the factor, by member, by which others than those who read would read more; 0 where the fit does not tell (ways.hpp).
[[nodiscard]] Eigen::VectorXd reading_levels(const Ensemble& ensemble);

/// One member only: the scenario as it stands, with its own scatter.
[[nodiscard]] Ensemble single_member(const Scenario& scenario);

/// The members that have law `k` of `ensemble.laws`, with the numbers of it that differ among them as parameters: for what needs slopes by
/// the same parameters in all members. The scenario that goes with it has `laws[k].wear`.
[[nodiscard]] Ensemble of_one_law(const Ensemble& ensemble, std::size_t k);

/// The model of one member. Throws Error (Exit::usage, "unknown-parameter") when the scenario lacks a parameter of the
/// ensemble: it belongs to another configuration.
[[nodiscard]] Model<double> member_of(const Model<double>& model, const Ensemble& ensemble,
                                      std::size_t index);

/// The scenario with the values that an answer is about: those at the optimum of the fit behind the ensemble, or its own. The
/// members tell how far it may be off. Throws as member_of.
[[nodiscard]] Scenario at_best(const Scenario& scenario, const Ensemble& ensemble);

/// What the fit behind the ensemble found beside the model at those values: ways, woods, and means of what the law misses along the passes.
[[nodiscard]] BesideModel beside_model(const Ensemble& ensemble);

/// The ways and woods of one member in place of those in `beside`.
void put_member_beside(BesideModel& beside, const Ensemble& ensemble, std::size_t index);

/// As at_best, with that beside the model: for readings of a simulation, which are then what forecasts from the fit say.
[[nodiscard]] Scenario as_read(const Scenario& scenario, const Ensemble& ensemble);

}  // namespace arris
