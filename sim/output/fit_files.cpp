// SPDX-License-Identifier: MIT
#include "sim/output/fit_files.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/input/csv.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/simulation_hdf5.hpp"

namespace arris {
namespace {

// a path without blanks and slashes, for the name of a group
std::string group_name(std::string path) {
  for (char& c : path) {
    if (c == '/' || c == ' ') c = '_';
  }
  return path;
}

const char* kind_name(Observation::Kind kind) {
  return kind == Observation::Kind::reading       ? "reading"
         : kind == Observation::Kind::apex_radius ? "apex radius"
         : kind == Observation::Kind::recession   ? "recession"
                                                  : "mass loss";
}

const char* kind_name(EffectKind kind) {
  return kind == EffectKind::edge ? "edge" : kind == EffectKind::person ? "operator" : "filament lot";
}

}  // namespace

void write_fit_hdf5(const std::filesystem::path& path, const CampaignModel& model, const FitReport& report,
                    const Provenance& provenance) {
  Hdf5Writer       writer(path);
  const Hdf5Group& root = writer.root();
  const FitPoint&  best = report.fit.best;
  write_root_attributes(root, "fit", model.scenario().title, provenance);
  root.attribute("edges", static_cast<double>(model.edges_with_readings()));
  root.attribute("readings", static_cast<double>(model.observations().size()));
  root.attribute("sd_readings", best.spread.reading);
  root.attribute("sd_edges", best.spread.edge);
  root.attribute("sd_operators", best.spread.person);
  root.attribute("sd_lots", best.spread.lot);
  root.attribute("log_posterior", best.log_posterior);
  root.attribute("starts_agreeing", static_cast<double>(report.fit.agreeing));

  const auto&              parameters = model.parameters();
  std::vector<std::string> paths, unit_symbols;
  std::vector<double>      value, low, high, log_sd, centre, spread, share, determined, bound;
  for (std::size_t i = 0; i < parameters.size(); ++i) {
    const ParameterFate& fate = report.identifiability.parameters[i];
    paths.push_back(parameters[i].path);
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
  const Hdf5Group p = root.group("parameters");
  p.axis("parameter", paths, "paths of the free parameters");
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

  const Given     given = given_to_fit(model.scenario().model, paths);
  const Hdf5Group fixed = root.group("given");
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
  const Hdf5Group r = root.group("readings");
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
  const Hdf5Group e = root.group("effects");
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
  const Hdf5Group s = root.group("starts");
  s.axis("start", posterior.size(), "starting points, from 0");
  s.data("log_posterior", posterior, "start", "1", "where it ended; missing where it failed");
  s.data("evaluations", evaluations, "start", "1", "evaluations of all histories");

  const Hdf5Group profiles = root.group("profile");
  for (std::size_t i = 0; i < report.profiles.size(); ++i) {
    const ParameterProfile& profile = report.profiles[i];
    if (!profile.wanted || !profile.usable) continue;
    const Hdf5Group g = profiles.group(group_name(parameters[i].path));
    g.axis("point", profile.values.size(), "points of the profile, from 0");
    g.data("value", profile.values, "point", parameters[i].unit.empty() ? "1" : parameters[i].unit,
           "value at which it was held");
    g.data("rise", profile.rises, "point", "1", "rise of -2 log posterior above the optimum");
    if (!profile.low_open) g.attribute("low_90", profile.low);
    if (!profile.high_open) g.attribute("high_90", profile.high);
  }
  if (!report.derived.empty()) {
    std::vector<std::string> names, quantity_units;
    std::vector<double>      at, wald_low, wald_high, profile_low, profile_high, drawn[3], told;
    for (const DerivedResult& q : report.derived) {
      const auto end = [&](double value, bool is_open) {
        return q.profile.wanted && q.profile.usable && !is_open ? value : not_given;
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
    }
    const Hdf5Group d = root.group("derived");
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
    const Hdf5Group of = d.group("profile");
    for (std::size_t i = 0; i < report.derived.size(); ++i) {
      const ParameterProfile& profile = report.derived[i].profile;
      if (!profile.wanted || !profile.usable) continue;
      const Hdf5Group g = of.group(std::to_string(i));
      g.attribute("quantity", names[i]);
      g.axis("point", profile.values.size(), "points of the profile, from 0");
      g.data("value", profile.values, "point", "1", "value of the quantity, in its unit");
      g.data("rise", profile.rises, "point", "1", "rise of -2 log posterior above the optimum");
    }
  }
  if (report.draws.converged) {
    const Hdf5Group     d    = root.group("draws");
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
  writer.finish();
}

namespace {

// both ends of an interval, null where it is open
nlohmann::ordered_json ends(const ParameterProfile& profile) {
  const auto end = [](double value, bool is_open) {
    return is_open ? nlohmann::ordered_json() : nlohmann::ordered_json(value);
  };
  return {end(profile.low, profile.low_open), end(profile.high, profile.high_open)};
}

}  // namespace

std::string fit_json(const CampaignModel& model, const FitReport& report, const Provenance& provenance) {
  nlohmann::ordered_json out;
  out["kind"]            = "fit";
  out["schema_version"]  = schema_version;
  out["converged"]       = report.fit.converged;
  out["starts"]          = report.fit.starts.size();
  out["starts_agreeing"] = report.fit.agreeing;
  out["log_posterior"]   = report.fit.best.log_posterior;
  out["measurements"]    = model.observations().size();
  out["spread"]          = {{"readings", report.fit.best.spread.reading},
                            {"edges", report.fit.best.spread.edge},
                            {"operators", report.fit.best.spread.person},
                            {"lots", report.fit.best.spread.lot}};
  for (std::size_t i = 0; i < model.parameters().size() && report.fit.converged; ++i) {
    const FreeParameter&   p    = model.parameters()[i];
    const ParameterFate&   fate = report.identifiability.parameters[i];
    nlohmann::ordered_json row{{"path", p.path},
                               {"value", fate.value},
                               {"unit", p.unit},
                               {"determined", fate.has_standard_error},
                               {"at_bound", fate.at_bound},
                               {"prior_share", fate.prior_share}};
    const PriorShape       shape = p.prior.shape;
    row["prior"]                 = {{"shape", shape == PriorShape::log_normal     ? "log-normal"
                                              : shape == PriorShape::logit_normal ? "logit-normal"
                                                                                  : "normal"},
                                    {"centre", p.prior.centre},
                                    {"spread", p.prior.spread}};
    if (fate.has_standard_error) {
      row["log_sd"]  = fate.log_sd;
      row["wald_90"] = {fate.low, fate.high};
    }
    const ParameterProfile& profile = report.profiles[i];
    if (profile.wanted && profile.usable) row["profile_90"] = ends(profile);
    out["parameters"].push_back(row);
  }
  for (const DerivedResult& q : report.derived) {
    nlohmann::ordered_json row{{"name", q.quantity.name},
                               {"value", q.value},
                               {"unit", q.quantity.unit},
                               {"determined", q.has_standard_error}};
    if (q.has_standard_error) row["wald_90"] = {q.low, q.high};
    if (q.profile.wanted && q.profile.usable) row["profile_90"] = ends(q.profile);
    if (report.draws.converged) row["drawn_5_50_95"] = {q.drawn_low, q.drawn_middle, q.drawn_high};
    out["derived"].push_back(row);
  }
  for (const auto& d : report.identifiability.undetermined)
    out["undetermined"].push_back({{"says", d.sentence}, {"settled_by", d.settled_by}});
  if (report.draws_wanted)
    out["draws"] = {{"converged", report.draws.converged},
                    {"count", report.draws.values.rows()},
                    {"steps", report.draws.steps}};
  for (const auto& [name, text] : listed(provenance)) out["provenance"][name] = text;
  return out.dump(1) + "\n";
}

std::string residuals_csv(const CampaignModel& model, const FitReport& report) {
  std::string out =
      csv_row({"edge", "moment", "kind", "measured", "predicted", "unit", "ratio", "in_sd", "line", "note"});
  for (std::size_t i = 0; i < model.observations().size(); ++i) {
    const Observation& o     = model.observations()[i];
    const Reading&     r     = model.readings()[static_cast<std::size_t>(o.reading)];
    const bool         force = o.kind == Observation::Kind::reading;
    const auto         told  = [&](double log) {
      return fmt::format("{:.4g}", force ? laws::in_gram_force(std::exp(log)) : std::exp(log));
    };
    const double predicted = report.fit.information.predicted[static_cast<Eigen::Index>(i)];
    out += csv_row({model.scenario().edges[static_cast<std::size_t>(o.edge)].name, r.moment_name,
                    kind_name(o.kind), told(o.log_value), told(predicted), force ? "gf" : "um",
                    fmt::format("{:.3f}", std::exp(o.log_value - predicted)),
                    fmt::format("{:+.2f}", -report.fit.information.residuals[static_cast<Eigen::Index>(i)]),
                    std::to_string(r.line), r.note});
  }
  return out;
}

std::string fitted_toml(const Campaign& campaign, const CampaignModel& model, const FitReport& report,
                        const std::filesystem::path& folder) {
  Loaded fitted            = campaign.loaded;
  fitted.scenario          = fitted_scenario(model, report.fit.best);
  const std::string source = fmt::format("fit to {} measurements of {} edges", model.observations().size(),
                                         model.edges_with_readings());
  const auto        mark   = [&](const std::string& path, const std::string& status) {
    Origin origin;
    origin.status        = status;
    origin.source        = source;
    fitted.origins[path] = origin;
  };
  for (std::size_t i = 0; i < model.parameters().size(); ++i)
    mark(model.parameters()[i].path,
         report.identifiability.parameters[i].has_standard_error ? "fitted" : "fitted, mostly its prior");
  if (model.has_reading_noise()) mark("scatter.reading_cv", "fitted");
  if (model.settings().edge_effect) mark("scatter.edge_cv", "fitted");
  if (model.settings().operator_effect) mark("scatter.operator_cv", "fitted");
  if (model.settings().lot_effect) mark("scatter.lot_cv", "fitted");
  // priors stay what they were: a second fit must not use these readings twice
  for (const FreeParameter& p : model.parameters()) {
    if (p.prior.shape != PriorShape::logit_normal) fitted.fit.priors[p.path] = p.prior;
  }
  if (fitted.fit.free.empty()) {
    for (const FreeParameter& p : model.parameters()) fitted.fit.free.push_back(p.path);
  }
  if (!campaign.readings_path.empty()) {
    fitted.readings_file = std::filesystem::relative(campaign.readings_path,
                                                     folder.empty() ? std::filesystem::path(".") : folder)
                               .generic_string();
  }
  return "# " + source + "\n" + resolved_toml(fitted, true);
}

}  // namespace arris
