// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"

/// What there is to keep of a fit, once: groups with axes, data along them, units and meanings (fit_files.hpp lists them). HDF5
/// files and Python are both made from it.
namespace arris {

/// "reading", "apex radius", "recession" or "mass loss".
[[nodiscard]] const char* kind_name(Observation::Kind kind);
/// "edge", "operator" or "filament lot".
[[nodiscard]] const char* kind_name(EffectKind kind);

/// `Group` has `group(name)`, `attribute(name, value)`, `axis` and `data` as Hdf5Group has.
template <class Group>
void put_fit(const Group& root, const CampaignModel& model, const FitReport& report) {
  // a path without blanks and slashes, for the name of a group
  const auto group_name = [](std::string path) {
    for (char& c : path) {
      if (c == '/' || c == ' ') c = '_';
    }
    return path;
  };
  const FitPoint& best = report.fit.best;
  root.attribute("edges", static_cast<double>(model.edges_with_readings()));
  root.attribute("readings", static_cast<double>(model.observations().size()));
  root.attribute("sd_readings", best.spread.reading);
  root.attribute("sd_edges", best.spread.edge);
  root.attribute("sd_operators", best.spread.person);
  root.attribute("sd_lots", best.spread.lot);
  root.attribute("log_posterior", best.log_posterior);
  root.attribute("starts_agreeing", static_cast<double>(report.fit.agreeing));

  const auto&              parameters = model.parameters();
  std::vector<std::string> paths, said, unit_symbols;
  std::vector<double>      value, low, high, log_sd, centre, spread, share, determined, bound;
  for (std::size_t i = 0; i < parameters.size(); ++i) {
    const ParameterFate& fate = report.identifiability.parameters[i];
    paths.push_back(parameters[i].path);
    said.push_back(parameters[i].says());
    unit_symbols.push_back(parameters[i].unit);
    value.push_back(fate.value);
    low.push_back(fate.has_standard_error ? fate.low : not_given);
    high.push_back(fate.has_standard_error ? fate.high : not_given);
    log_sd.push_back(fate.has_standard_error ? fate.log_sd : not_given);
    centre.push_back(parameters[i].prior.centre);
    spread.push_back(parameters[i].prior.spread);
    share.push_back(fate.prior_share);
    determined.push_back(fate.has_standard_error ? 1.0 : 0.0);
    bound.push_back(fate.at_bound ? 1.0 : 0.0);
  }
  const Group p = root.group("parameters");
  p.axis("parameter", paths, "paths of the free parameters");
  p.data("says", said, "parameter", "what the parameter is, for people");
  p.data("unit", unit_symbols, "parameter", "unit of the value");
  p.data("value", value, "parameter", "1", "fitted value, in its unit");
  p.data("low", low, "parameter", "1",
         "lower end of 90 %, by Wald; missing where the readings do not determine it or it is at a bound");
  p.data("high", high, "parameter", "1", "upper end of 90 %, by Wald");
  p.data("log_sd", log_sd, "parameter", "1",
         "standard deviation of the log (of the logit, of the value) of the parameter");
  p.data("prior_centre", centre, "parameter", "1", "median or mean of the prior");
  p.data("prior_spread", spread, "parameter", "1",
         "geometric standard deviation, or standard deviation, of the prior");
  p.data("prior_share", share, "parameter", "1", "posterior variance over prior variance");
  p.data("determined", determined, "parameter", "1", "1 where the readings determine it");
  p.data("at_bound", bound, "parameter", "1", "1 where it lies at a bound of its range");
  std::vector<double> covariance(
      report.fit.information.covariance.data(),
      report.fit.information.covariance.data() + report.fit.information.covariance.size());
  p.axis("other", paths, "paths of the free parameters");
  p.data("covariance", covariance, "parameter", "other", "1",
         "posterior covariance of the scaled parameters, effects integrated out");
  std::vector<double> singular(report.identifiability.singular_values.begin(),
                               report.identifiability.singular_values.end());
  p.axis("direction", singular.size(), "directions, best determined first");
  p.data("singular_value", singular, "direction", "1",
         "of the whitened Jacobian, effects integrated out; below 0.5 undetermined");

  const Given given = given_to_fit(model.scenario().model, paths);
  const Group fixed = root.group("given");
  fixed.axis("path", given.paths, "paths of the numbers that were held fixed");
  fixed.data("value", given.values, "path", "1", "value, in the unit of its path");
  root.attribute("wear_law", given.wear_law);

  std::vector<std::string> edge, moment, kind;
  std::vector<double>      measured, predicted, residual;
  for (std::size_t i = 0; i < model.observations().size(); ++i) {
    const Observation& o = model.observations()[i];
    edge.push_back(model.scenario().edges[static_cast<std::size_t>(o.edge)].name);
    moment.push_back(model.readings()[static_cast<std::size_t>(o.reading)].moment_name);
    kind.emplace_back(kind_name(o.kind));
    measured.push_back(std::exp(o.log_value));
    predicted.push_back(std::exp(report.fit.information.predicted[static_cast<Eigen::Index>(i)]));
    residual.push_back(-report.fit.information.residuals[static_cast<Eigen::Index>(i)]);
  }
  const Group r = root.group("readings");
  r.axis("row", edge.size(), "measurements, from 0");
  r.data("edge", edge, "row", "edge");
  r.data("moment", moment, "row", "when it was taken");
  r.data("kind", kind, "row", "reading (N), apex radius (um), recession (um) or mass loss (mg)");
  r.data("measured", measured, "row", "1", "measured, N, um or mg by kind");
  r.data("predicted", predicted, "row", "1",
         "predicted with the effects of its edge, operator and lot, N, um or mg by kind");
  r.data("residual", residual, "row", "1", "log measured minus log predicted, in standard deviations");

  std::vector<std::string> effect_kind, effect_name;
  for (const Effect& e : model.effects()) {
    effect_kind.emplace_back(kind_name(e.kind));
    effect_name.push_back(e.name);
  }
  const Group e = root.group("effects");
  e.axis("effect", effect_kind.size(), "random effects, from 0");
  e.data("kind", effect_kind, "effect", "edge, operator or filament lot");
  e.data("name", effect_name, "effect", "its name");
  e.data("log_factor", {best.effects.begin(), best.effects.end()}, "effect", "1",
         "log of the factor on the apex (edge) or on the force (others)");

  std::vector<double> posterior, evaluations;
  for (const FitPoint& s : report.fit.starts) {
    posterior.push_back(s.usable ? s.log_posterior : not_given);
    evaluations.push_back(s.evaluations);
  }
  const Group s = root.group("starts");
  s.axis("start", posterior.size(), "starting points, from 0");
  s.data("log_posterior", posterior, "start", "1", "where it ended; missing where it failed");
  s.data("evaluations", evaluations, "start", "1", "evaluations of all histories");

  const Group profiles = root.group("profile");
  for (std::size_t i = 0; i < report.profiles.size(); ++i) {
    const ParameterProfile& profile = report.profiles[i];
    if (!profile.wanted || !profile.usable) continue;
    const Group g = profiles.group(group_name(parameters[i].path));
    g.axis("point", profile.values.size(), "points of the profile, from 0");
    g.data("value", profile.values, "point", parameters[i].unit.empty() ? "1" : parameters[i].unit,
           "value at which it was held");
    g.data("rise", profile.rises, "point", "1", "rise of -2 log posterior above the optimum");
    if (!profile.low_open) g.attribute("low_90", profile.low);
    if (!profile.high_open) g.attribute("high_90", profile.high);
  }
  if (!report.derived.empty()) {
    std::vector<std::string> names, quantity_units;
    std::vector<double>      at, wald_low, wald_high, profile_low, profile_high, drawn[3], told, moved;
    for (const DerivedResult& q : report.derived) {
      const auto end = [&](double place, bool is_open) {
        return q.profile.wanted && q.profile.usable && !is_open ? place : not_given;
      };
      names.push_back(q.quantity.name);
      quantity_units.push_back(q.quantity.unit);
      at.push_back(q.value);
      wald_low.push_back(q.has_standard_error ? q.low : not_given);
      wald_high.push_back(q.has_standard_error ? q.high : not_given);
      profile_low.push_back(end(q.profile.low, q.profile.low_open));
      profile_high.push_back(end(q.profile.high, q.profile.high_open));
      drawn[0].push_back(q.drawn_low);
      drawn[1].push_back(q.drawn_middle);
      drawn[2].push_back(q.drawn_high);
      told.push_back(q.has_standard_error ? 1.0 : 0.0);
      moved.push_back(q.moved ? 1.0 : 0.0);
    }
    const Group d = root.group("derived");
    d.axis("quantity", names, "quantities that follow from the parameters, of the mean edge");
    d.data("unit", quantity_units, "quantity", "unit of the value");
    d.data("value", at, "quantity", "1", "value at the optimum, in its unit");
    d.data("low", wald_low, "quantity", "1",
           "lower end of 90 %, by Wald; missing where the readings do not determine it");
    d.data("high", wald_high, "quantity", "1", "upper end of 90 %, by Wald");
    d.data("profile_low", profile_low, "quantity", "1",
           "lower end of 90 % of the profile; missing where open");
    d.data("profile_high", profile_high, "quantity", "1", "upper end of 90 % of the profile");
    d.data("drawn_low", drawn[0], "quantity", "1", "5 % quantile of posterior draws; missing without draws");
    d.data("drawn_median", drawn[1], "quantity", "1", "median of posterior draws");
    d.data("drawn_high", drawn[2], "quantity", "1", "95 % quantile of posterior draws");
    d.data("determined", told, "quantity", "1", "1 where the readings determine it");
    d.data("moved", moved, "quantity", "1", "1 where any fitted parameter changes it");
    const Group of = d.group("profile");
    for (std::size_t i = 0; i < report.derived.size(); ++i) {
      const ParameterProfile& profile = report.derived[i].profile;
      if (!profile.wanted || !profile.usable) continue;
      const Group g = of.group(std::to_string(i));
      g.attribute("quantity", names[i]);
      g.axis("point", profile.values.size(), "points of the profile, from 0");
      g.data("value", profile.values, "point", "1", "value of the quantity, in its unit");
      g.data("rise", profile.rises, "point", "1", "rise of -2 log posterior above the optimum");
    }
  }
  if (report.draws.converged) {
    const Group         d    = root.group("draws");
    const auto          rows = report.draw_values.rows(), columns = report.draw_values.cols();
    std::vector<double> values;
    for (Eigen::Index i = 0; i < rows; ++i) {
      for (Eigen::Index c = 0; c < columns; ++c) values.push_back(report.draw_values(i, c));
    }
    d.axis("draw", static_cast<std::size_t>(rows), "posterior draws, from 0");
    d.axis("column", report.draw_names, "parameters, then standard deviations of the logs");
    d.data("value", values, "draw", "column", "1", "drawn values, in the unit of each parameter");
    d.data("log_density", {report.draws.log_density.begin(), report.draws.log_density.end()}, "draw", "1",
           "log posterior density, effects integrated out");
    d.attribute("acceptance", report.draws.acceptance);
    d.attribute("largest_r_hat", report.draws.r_hat.maxCoeff());
    d.attribute("longest_autocorrelation", report.draws.autocorrelation.maxCoeff());
  }
}

}  // namespace arris
