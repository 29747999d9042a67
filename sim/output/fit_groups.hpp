// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/output/columns.hpp"

/// What there is to keep of a fit, once: groups with axes, data along them, units and meanings (fit_files.hpp lists them). HDF5
/// files and Python are both made from it.
namespace arris {

/// "reading", "apex radius", "recession" or "mass loss".
[[nodiscard]] const char* kind_name(Observation::Kind kind);
/// "edge", "operator" or "filament lot".

/// A function for each group of the file, which it makes below `root`, and for parts of the large ones. `Group` has `group(name)`,
/// `attribute(name, value)`, `axis` and `data` as Hdf5Group has.
namespace fit_groups {

/// A path without blanks and slashes, for the name of a group.
[[nodiscard]] inline std::string group_name(std::string path) {
  for (char& c : path) {
    if (c == '/' || c == ' ') c = '_';
  }
  return path;
}

[[nodiscard]] inline std::vector<std::string> parameter_paths(const CampaignModel& model) {
  std::vector<std::string> paths;
  for (const FreeParameter& p : model.parameters()) paths.push_back(p.path);
  return paths;
}

/// Attributes of the root itself: how much was read, the scatter, how good the optimum is.
template <class Group>
void put_summary(const Group& root, const CampaignModel& model, const FitReport& report) {
  const FitPoint& best = report.fit.best;
  root.attribute("edges", static_cast<double>(model.edges_with_readings()));
  root.attribute("readings", static_cast<double>(model.observations().size()));
  root.attribute("sd_readings", best.spread.reading);
  if (model.is_additive()) root.attribute("sd_readings_um", best.spread.reading * model.typical_um());
  root.attribute("sd_edges", best.spread.edge);
  root.attribute("sd_operators", best.spread.person);
  root.attribute("sd_lots", best.spread.lot);
  root.attribute("sd_rates", best.spread.rate);
  root.attribute("sd_days", best.spread.day);
  root.attribute("sd_ways", best.spread.way);
  root.attribute("sd_wear_after_ways", best.spread.way_wear);
  root.attribute("sd_woods", best.spread.wood);
  root.attribute("log_posterior", best.log_posterior);
  root.attribute("starts_agreeing", static_cast<double>(report.fit.agreeing));
}

/// Along the axis "parameter" of `parameters`.
template <class Group>
void put_parameter_columns(const Group& parameters, const CampaignModel& model, const FitReport& report) {
  std::vector<std::string> said, unit_symbols;
  std::vector<double>      value, low, high, log_sd, centre, spread, shift, share, determined, bound;
  const Eigen::VectorXd    known = known_sd(model);
  for (std::size_t i = 0; i < model.parameters().size(); ++i) {
    const FreeParameter& p    = model.parameters()[i];
    const ParameterFate& fate = report.identifiability.parameters[i];
    said.push_back(p.says());
    unit_symbols.push_back(unit_for_files(p.unit));
    value.push_back(fate.value);
    low.push_back(fate.has_standard_error ? fate.low : not_given);
    high.push_back(fate.has_standard_error ? fate.high : not_given);
    log_sd.push_back(fate.has_standard_error ? fate.log_sd : not_given);
    centre.push_back(p.prior.centre);
    const double before = known[static_cast<Eigen::Index>(i)];
    spread.push_back(p.prior.shape == PriorShape::log_normal ? std::pow(p.prior.spread, before)
                                                             : p.prior.spread * before);
    shift.push_back(p.prior.shift);
    share.push_back(fate.prior_share);
    determined.push_back(fate.has_standard_error ? 1.0 : 0.0);
    bound.push_back(fate.at_bound ? 1.0 : 0.0);
  }
  parameters.data("says", said, "parameter", "what the parameter is, for people");
  parameters.data("unit", unit_symbols, "parameter", "unit of the value");
  parameters.data("value", value, "parameter", "1", "fitted value, in its unit");
  parameters.data(
      "low", low, "parameter", "1",
      "lower end of 90 %, by Wald; missing where the readings do not determine it or it is at a bound");
  parameters.data("high", high, "parameter", "1", "upper end of 90 %, by Wald");
  parameters.data("log_sd", log_sd, "parameter", "1",
                  "standard deviation of the log (of the logit, of the value) of the parameter");
  parameters.data("prior_centre", centre, "parameter", "1", "median or mean of the prior");
  parameters.data("prior_spread", spread, "parameter", "1",
                  "geometric standard deviation, or standard deviation, of the prior");
  parameters.data("prior_shift", shift, "parameter", "1", "of a log-normal prior: of value + shift; else 0");
  parameters.data("prior_share", share, "parameter", "1", "posterior variance over prior variance");
  parameters.data("determined", determined, "parameter", "1", "1 where the readings determine it");
  parameters.data("at_bound", bound, "parameter", "1", "1 where it lies at a bound of its range");
}

/// How the parameters go together: their covariance, and the directions that the readings determine.
template <class Group>
void put_covariance(const Group& parameters, const CampaignModel& model, const FitReport& report) {
  const Eigen::MatrixXd&    covariance = report.fit.information.covariance;
  const Eigen::VectorXd&    singular   = report.identifiability.singular_values;
  const std::vector<double> rows(covariance.data(), covariance.data() + covariance.size());
  const std::vector<double> values(singular.begin(), singular.end());
  parameters.axis("other", parameter_paths(model), "paths of the free parameters");
  parameters.data("covariance", rows, "parameter", "other", "1",
                  "posterior covariance of the scaled parameters, effects integrated out");
  parameters.axis("direction", values.size(), "directions, best determined first");
  parameters.data("singular_value", values, "direction", "1",
                  "of the whitened Jacobian, effects integrated out; below 0.5 undetermined");
}

template <class Group>
void put_parameters(const Group& root, const CampaignModel& model, const FitReport& report) {
  const Group parameters = root.group("parameters");
  parameters.axis("parameter", parameter_paths(model), "paths of the free parameters");
  put_parameter_columns(parameters, model, report);
  put_covariance(parameters, model, report);
}

/// What a later fit can begin from ([fit] from): the posterior under each wear law, normal about its mode.
template <class Group>
void put_posterior(const Group& root, const FitReport& report) {
  const Group                   posterior = root.group("posterior");
  const std::vector<EarlierLaw> laws      = posteriors_of(report);
  std::vector<std::string>      names;
  for (const EarlierLaw& law : laws) names.push_back(law.name);
  posterior.axis("law", names, "wear laws that could be fitted");
  for (const EarlierLaw& law : laws) {
    const Group              of = posterior.group(law.name);
    std::vector<std::string> shape;
    std::vector<double>      centre, spread, shift;
    for (const Prior& prior : law.priors) {
      shape.emplace_back(shape_name(prior.shape));
      centre.push_back(prior.centre);
      spread.push_back(prior.spread);
      shift.push_back(prior.shift);
    }
    of.attribute("wear_law", law.wear_law);
    of.attribute("typical_um", law.typical_um);
    of.axis("parameter", law.paths, "paths of the free parameters under this law");
    of.axis("other", law.paths, "the same");
    of.data("prior_shape", shape, "parameter", "log-normal (of value + shift), logit-normal or normal");
    of.data("prior_centre", centre, "parameter", "1",
            "median or mean of the prior, in the unit of the parameter");
    of.data("prior_spread", spread, "parameter", "1",
            "geometric standard deviation, or standard deviation, of the prior");
    of.data("prior_shift", shift, "parameter", "1", "of a log-normal prior");
    of.data("scaled", {law.u.begin(), law.u.end()}, "parameter", "1",
            "fitted value in standard deviations of the prior from its centre");
    of.data("at_bound", law.at_end, "parameter", "1", "1 where it rests at an end of its range");
    of.data("covariance", {law.covariance.data(), law.covariance.data() + law.covariance.size()}, "parameter",
            "other", "1", "posterior covariance of the scaled parameters, effects integrated out");
    of.axis("scatter", law.spreads, "standard deviations of logs");
    of.data("log_scatter", law.log_spread, "scatter", "1", "log of each at the optimum");
    of.data("log_scatter_sd", law.log_spread_sd, "scatter", "1", "standard deviation of that log");
  }
}

/// What was held fixed, and the wear law, as an attribute of the root.
template <class Group>
void put_given(const Group& root, const CampaignModel& model) {
  const Given given = given_to_fit(model.scenario().model, parameter_paths(model));
  const Group fixed = root.group("given");
  fixed.axis("path", given.paths, "paths of the numbers that were held fixed");
  fixed.data("value", given.values, "path", "1", "value, in the unit of its path");
  root.attribute("wear_law", given.wear_law);
}

template <class Group>
void put_readings(const Group& root, const CampaignModel& model, const FitReport& report) {
  std::vector<std::string> edge, moment, kind;
  std::vector<double>      measured, predicted, residual;
  for (std::size_t i = 0; i < model.observations().size(); ++i) {
    const Observation& o = model.observations()[i];
    edge.push_back(model.scenario().edges[static_cast<std::size_t>(o.edge)].name);
    moment.push_back(model.readings()[static_cast<std::size_t>(o.reading)].moment_name);
    kind.emplace_back(o.is_below                               ? "wear below"
                      : model.scenario().model.specimen.in_use ? "wear"
                                                               : kind_name(o.kind));
    measured.push_back(model.in_unit(o.log_value));
    predicted.push_back(model.in_unit(report.fit.information.predicted[static_cast<Eigen::Index>(i)]));
    residual.push_back(-report.fit.information.residuals[static_cast<Eigen::Index>(i)]);
  }
  const Group readings = root.group("readings");
  readings.axis("row", edge.size(), "measurements, from 0");
  readings.data("edge", edge, "row", "edge");
  readings.data("moment", moment, "row", "when it was taken");
  readings.data(
      "kind", kind, "row",
      "reading (N), apex radius (um), recession (um) or mass loss (mg); of specimens wear (um), or wear below (um) what can be seen");
  readings.data("measured", measured, "row", "1", "measured, N, um or mg by kind");
  readings.data("predicted", predicted, "row", "1",
                "predicted with the effects of its edge, operator and lot, N, um or mg by kind");
  readings.data("residual", residual, "row", "1", "log measured minus log predicted, in standard deviations");
}

/// What was looked for, and the sentences that answers repeat which rest on the fit.
template <class Group>
void put_lack_of_fit(const Group& root, const LackOfFit& found) {
  std::vector<std::string> says, apart;
  std::vector<double>      edges, ratio, p, p_of_all, apart_ratio;
  for (const MissTest& test : found.tests) {
    says.push_back(test.says);
    edges.push_back(test.edges);
    ratio.push_back(test.ratio);
    p.push_back(test.p);
    p_of_all.push_back(test.p_of_all);
  }
  for (const EdgeApart& edge : found.apart) {
    apart.push_back(edge.edge);
    apart_ratio.push_back(edge.ratio);
  }
  const Group group = root.group("lack_of_fit");
  group.axis("test", says, "misses that were looked for");
  group.data("edges", edges, "test", "1", "edges behind it");
  group.data("ratio", ratio, "test", "1",
             "measured over predicted, geometric mean; missing where a test has none");
  group.data("p", p, "test", "1", "probability of so large a miss by luck; missing where edges are too few");
  group.data("p_of_all", p_of_all, "test", "1", "the same, corrected for the number of tests (Holm)");
  if (const std::vector<std::string> named = misses(found); !named.empty())
    group.group("misses").axis("miss", named, "what the model misses, in sentences");
  if (!apart.empty()) {
    const Group edges_apart = group.group("apart");
    edges_apart.axis("edge", apart, "edges that stand apart at all moments");
    edges_apart.data("ratio", apart_ratio, "edge", "1", "measured over predicted for the mean edge");
  }
  group.attribute("found", found.found() ? 1.0 : 0.0);
  if (std::isnan(found.replicates.F)) return;
  group.attribute("replicates_F", found.replicates.F);
  group.attribute("replicates_p", found.replicates.p);
  group.attribute("replicates_df_misfit", found.replicates.misfit_df);
  group.attribute("replicates_df_error", found.replicates.error_df);
}

/// What is left over along the passes; nothing where it is not known.
template <class Group>
void put_discrepancy(const Group& root, const Discrepancy& known) {
  if (!known.is_known()) return;
  const Group group = root.group("discrepancy");
  group.axis("passes", known.passes, "1", "passes since an edge was sharpened");
  group.data("miss", known.miss, "passes", "1", "log measured less log predicted, mean over edges");
  group.data("variance", known.variance, "passes", "1", "variance of that mean, as edges differ");
}

template <class Group>
void put_effects(const Group& root, const CampaignModel& model, const FitReport& report) {
  std::vector<std::string> kind, name;
  for (const Effect& e : model.effects()) {
    kind.emplace_back(name_of(e.kind));
    name.push_back(e.name);
  }
  const Eigen::VectorXd& logs    = report.fit.best.effects;
  const Group            effects = root.group("effects");
  effects.axis("effect", kind.size(), "random effects, from 0");
  effects.data("kind", kind, "effect",
               "edge, operator, filament lot, rate of wear (of an edge), test day or way of sharpening");
  effects.data("name", name, "effect", "its name");
  effects.data(
      "log_factor", {logs.begin(), logs.end()}, "effect", "1",
      "log of the factor on the apex (edge, way of sharpening), on what it grew in wood (rate of wear) or on the force (others)");
}

template <class Group>
void put_starts(const Group& root, const FitReport& report) {
  std::vector<double> posterior, evaluations;
  for (const FitPoint& s : report.fit.starts) {
    posterior.push_back(s.usable ? s.log_posterior : not_given);
    evaluations.push_back(s.evaluations);
  }
  const Group starts = root.group("starts");
  starts.axis("start", posterior.size(), "starting points, from 0");
  starts.data("log_posterior", posterior, "start", "1", "where it ended; missing where it failed");
  starts.data("evaluations", evaluations, "start", "1", "evaluations of all histories");
}

template <class Group>
void put_profiles(const Group& root, const CampaignModel& model, const FitReport& report) {
  const Group profiles = root.group("profile");
  for (std::size_t i = 0; i < report.profiles.size(); ++i) {
    const ParameterProfile& profile = report.profiles[i];
    const FreeParameter&    p       = model.parameters()[i];
    if (!profile.wanted || !profile.usable) continue;
    const Group g = profiles.group(group_name(p.path));
    g.axis("point", profile.values.size(), "points of the profile, from 0");
    g.data("value", profile.values, "point", p.unit.empty() ? "1" : p.unit, "value at which it was held");
    g.data("rise", profile.rises, "point", "1", "rise of -2 log posterior above the optimum");
    if (!profile.low_open) g.attribute("low_90", profile.low);
    if (!profile.high_open) g.attribute("high_90", profile.high);
  }
}

/// Along the axis "quantity" of `derived`.
template <class Group>
void put_derived_columns(const Group& derived, const FitReport& report) {
  std::vector<std::string> unit_symbols;
  std::vector<double>      value, low, high, profile_low, profile_high, drawn_low, drawn_middle, drawn_high,
      determined, moved, prior_log_sd;
  for (const DerivedResult& q : report.derived) {
    const auto end = [&](double place, bool is_open) {
      return q.profile.wanted && q.profile.usable && !is_open ? place : not_given;
    };
    unit_symbols.push_back(unit_for_files(q.quantity.unit));
    value.push_back(q.value);
    low.push_back(q.has_standard_error ? q.low : not_given);
    high.push_back(q.has_standard_error ? q.high : not_given);
    profile_low.push_back(end(q.profile.low, q.profile.low_open));
    profile_high.push_back(end(q.profile.high, q.profile.high_open));
    drawn_low.push_back(q.drawn_low);
    drawn_middle.push_back(q.drawn_middle);
    drawn_high.push_back(q.drawn_high);
    prior_log_sd.push_back(q.prior_log_sd);
    determined.push_back(q.has_standard_error ? 1.0 : 0.0);
    moved.push_back(q.moved ? 1.0 : 0.0);
  }
  derived.data("unit", unit_symbols, "quantity", "unit of the value");
  derived.data("value", value, "quantity", "1", "value at the optimum, in its unit");
  derived.data("low", low, "quantity", "1",
               "lower end of 90 %, by Wald; missing where the readings do not determine it");
  derived.data("high", high, "quantity", "1", "upper end of 90 %, by Wald");
  derived.data("profile_low", profile_low, "quantity", "1",
               "lower end of 90 % of the profile; missing where open");
  derived.data("profile_high", profile_high, "quantity", "1", "upper end of 90 % of the profile");
  derived.data("drawn_low", drawn_low, "quantity", "1",
               "5 % quantile of posterior draws; missing without draws");
  derived.data("drawn_median", drawn_middle, "quantity", "1", "median of posterior draws");
  derived.data("drawn_high", drawn_high, "quantity", "1", "95 % quantile of posterior draws");
  if (!report.law_draws.empty()) {
    std::vector<double> laws_low, laws_middle, laws_high;
    for (const DerivedResult& q : report.derived) {
      laws_low.push_back(q.laws_low);
      laws_middle.push_back(q.laws_middle);
      laws_high.push_back(q.laws_high);
    }
    derived.data("all_laws_low", laws_low, "quantity", "1",
                 "5 % quantile over all wear laws by their weights");
    derived.data("all_laws_median", laws_middle, "quantity", "1", "median over all wear laws");
    derived.data("all_laws_high", laws_high, "quantity", "1", "95 % quantile over all wear laws");
  }
  derived.data(
      "prior_log_sd", prior_log_sd, "quantity", "1",
      "of a length where none was measured: standard deviation of its log with all priors open, on which low and high rest");
  derived.data("determined", determined, "quantity", "1", "1 where the readings determine it");
  derived.data("moved", moved, "quantity", "1", "1 where any fitted parameter changes it");
}

template <class Group>
void put_derived(const Group& root, const FitReport& report) {
  if (report.derived.empty()) return;
  std::vector<std::string> names;
  for (const DerivedResult& q : report.derived) names.push_back(q.quantity.name);
  const Group derived = root.group("derived");
  derived.axis("quantity", names, "quantities that follow from the parameters, of the mean edge");
  put_derived_columns(derived, report);
  const Group profiles = derived.group("profile");
  for (std::size_t i = 0; i < report.derived.size(); ++i) {
    const ParameterProfile& profile = report.derived[i].profile;
    if (!profile.wanted || !profile.usable) continue;
    const Group g = profiles.group(std::to_string(i));
    g.attribute("quantity", names[i]);
    g.axis("point", profile.values.size(), "points of the profile, from 0");
    g.data("value", profile.values, "point", "1", "value of the quantity, in its unit");
    g.data("rise", profile.rises, "point", "1", "rise of -2 log posterior above the optimum");
  }
}

template <class Group>
void put_draws(const Group& root, const FitReport& report) {
  if (!report.draws.converged) return;
  const auto          rows = report.draw_values.rows(), columns = report.draw_values.cols();
  std::vector<double> values;
  for (Eigen::Index i = 0; i < rows; ++i) {
    for (Eigen::Index c = 0; c < columns; ++c) values.push_back(report.draw_values(i, c));
  }
  const Group draws = root.group("draws");
  draws.axis("draw", static_cast<std::size_t>(rows), "posterior draws, from 0");
  draws.axis("column", report.draw_names,
             "parameters, standard deviations of the logs, then factors of ways of sharpening on the apex");
  draws.data("value", values, "draw", "column", "1", "drawn values, in the unit of each parameter");
  draws.data("log_density", {report.draws.log_density.begin(), report.draws.log_density.end()}, "draw", "1",
             "log posterior density, effects integrated out");
  if (report.importance.usable) {
    draws.attribute("pareto_shape", report.importance.shape);
    draws.attribute("effective", report.importance.effective);
    draws.attribute("proposals", static_cast<double>(report.importance.proposals));
    return;
  }
  draws.attribute("walkers", static_cast<double>(report.draws.walkers));
  draws.attribute("acceptance", report.draws.acceptance);
  draws.attribute("largest_r_hat", report.draws.r_hat.maxCoeff());
  draws.attribute("longest_autocorrelation", report.draws.autocorrelation.maxCoeff());
}

/// What readings say of each law.
template <class Group>
void put_law_columns(const Group& laws, const LawFits& fits) {
  std::vector<std::string> failure;
  for (const LawFit& law : fits.laws) failure.push_back(law.failure);
  const auto column = [&](const char* name, const char* says, auto&& value) {
    std::vector<double> values;
    for (const LawFit& law : fits.laws)
      values.push_back(law.usable ? static_cast<double>(value(law)) : not_given);
    laws.data(name, values, "law", "1", says);
  };
  std::vector<double> usable;
  for (const LawFit& law : fits.laws) usable.push_back(law.usable ? 1.0 : 0.0);
  laws.data("usable", usable, "law", "1", "1 where it could be fitted");
  laws.data("failure", failure, "law", "why it could not be fitted");
  column("weight", "its share of forecasts", [](const LawFit& l) { return l.weight; });
  column("ruled_out", "1 where the readings speak against it",
         [](const LawFit& l) { return l.ruled_out ? 1.0 : 0.0; });
  column("elpd", "log density of the readings of each edge, predicted from all others",
         [](const LawFit& l) { return l.elpd_by_edge.empty() ? not_given : l.elpd; });
  column("difference", "elpd less that of the best",
         [](const LawFit& l) { return l.elpd_by_edge.empty() ? not_given : l.difference; });
  column("difference_se", "its standard error",
         [](const LawFit& l) { return l.elpd_by_edge.empty() ? not_given : l.difference_se; });
  column("by_chance", "how often chance alone would speak so much against it",
         [](const LawFit& l) { return l.elpd_by_edge.empty() ? not_given : l.by_chance; });
  column("log_posterior", "log density of the readings and priors at the optimum",
         [](const LawFit& l) { return l.best.log_posterior; });
}

/// The wear laws that were fitted side by side, with draws under each.
template <class Group>
void put_laws(const Group& root, const FitReport& report) {
  if (report.law_draws.empty()) return;
  std::vector<std::string> names;
  for (const LawFit& law : report.laws.laws) names.push_back(law.name);
  const Group laws = root.group("laws");
  laws.axis("law", names, "wear laws, best first");
  put_law_columns(laws, report.laws);
  for (const FittedLaw& law : report.law_draws) {
    const Group of = laws.group(law.name);
    of.attribute("wear_law", law.wear_law);
    of.attribute("sd_readings", law.spread.reading);
    of.attribute("sd_edges", law.spread.edge);
    of.attribute("sd_operators", law.spread.person);
    of.attribute("sd_lots", law.spread.lot);
    of.attribute("sd_rates", law.spread.rate);
    of.attribute("sd_days", law.spread.day);
    of.attribute("sd_ways", law.spread.way);
    of.attribute("sd_wear_after_ways", law.spread.way_wear);
    of.attribute("sd_woods", law.spread.wood);
    of.axis("parameter", law.parameters, "paths of the free parameters under this law");
    of.data("value", law.best, "parameter", "1", "fitted value, in its unit");
    of.axis("path", law.wear_paths, "paths of all numbers of the law");
    of.data("wear", law.wear_values, "path", "1", "what they are at the optimum");
    of.axis("draw", law.values.size() / law.columns.size(), "draws under this law, from 0");
    of.axis("column", law.columns,
            "parameters, standard deviations of the logs, then factors of ways of sharpening on the apex");
    of.data("drawn", law.values, "draw", "column", "1", "drawn values, in the unit of each parameter");
    put_discrepancy(of, law.discrepancy);
  }
}

}  // namespace fit_groups

/// All there is to keep of a fit that has converged, below `root`.
/// What else follows from a fit, as attributes: the configuration with its values, and what the readings leave open, a line each with
/// a tab before what would settle it.
template <class Group>
void put_what_follows(const Group& root, const FitReport& report, const std::string& fitted) {
  std::string open;
  for (const UndeterminedDirection& d : report.identifiability.undetermined)
    open += (open.empty() ? "" : "\n") + d.sentence + "\t" + d.settled_by;
  root.attribute("fitted_toml", fitted);
  root.attribute("undetermined", open);
}

template <class Group>
void put_fit(const Group& root, const CampaignModel& model, const FitReport& report) {
  using namespace fit_groups;
  put_summary(root, model, report);
  put_parameters(root, model, report);
  put_given(root, model);
  put_posterior(root, report);
  put_readings(root, model, report);
  put_effects(root, model, report);
  put_lack_of_fit(root, report.lack_of_fit);
  put_discrepancy(root, report.discrepancy);
  put_starts(root, report);
  put_profiles(root, model, report);
  put_derived(root, report);
  put_draws(root, report);
  put_laws(root, report);
}

}  // namespace arris
