// SPDX-License-Identifier: MIT
#include "sim/output/fit_tables.hpp"

#include <cmath>

#include <fmt/format.h>

#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/sensitivities.hpp"
#include "sim/fit/ways.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/input/csv.hpp"
#include "sim/input/files.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/fit_groups.hpp"
#include "sim/wording.hpp"

namespace arris {

namespace {

// Priors stay what they were, under every law: a second fit must not use these readings twice.
void keep_priors(const CampaignModel& model, const FitReport& report, FitSettings& settings) {
  if (!report.laws.laws.empty())
    std::erase_if(settings.priors, [](const auto& prior) { return is_wear_path(prior.first); });
  // what an earlier fit knows comes from its file again
  const auto keep = [&](const FreeParameter& p, const std::string& path) {
    if (!is_from_earlier(p) && p.prior.shape != PriorShape::logit_normal) settings.priors[path] = p.prior;
  };
  for (const FreeParameter& p : model.parameters()) keep(p, p.path);
  for (const LawFit& law : report.laws.laws) {
    if (!law.usable) continue;
    for (const FreeParameter& p : law.model->parameters()) {
      if (is_wear_path(p.path))
        keep(p, std::string(wear_prefix) + law.name + "." + p.path.substr(wear_prefix.size()));
    }
  }
}

}  // namespace

std::string fitted_toml(const Campaign& campaign, const CampaignModel& model, const FitReport& report,
                        const std::filesystem::path& folder) {
  Loaded fitted            = campaign.loaded;
  fitted.scenario          = fitted_scenario(model, report.fit.best);
  const std::string source = fmt::format(
      "fit to {} of {}", counted(std::ssize(model.observations()), "measurement"),
      counted(model.edges_with_readings(), model.scenario().model.specimen.in_use ? "specimen" : "edge"));
  const auto mark = [&](const std::string& path, const std::string& status) {
    Origin origin;
    origin.status        = status;
    origin.source        = source;
    fitted.origins[path] = origin;
  };
  for (std::size_t i = 0; i < model.parameters().size(); ++i)
    mark(model.parameters()[i].path,
         report.identifiability.parameters[i].has_standard_error ? "fitted" : "fitted, mostly its prior");
  if (model.has_reading_noise())
    mark(model.is_additive() ? "specimen.reading_sd_um" : "scatter.reading_cv", "fitted");
  if (model.settings().edge_effect) mark("scatter.edge_cv", "fitted");
  if (model.settings().operator_effect) mark("scatter.operator_cv", "fitted");
  if (model.settings().lot_effect) mark("scatter.lot_cv", "fitted");
  if (model.settings().rate_effect) mark("scatter.rate_cv", "fitted");
  if (model.settings().day_effect) mark("scatter.day_cv", "fitted");
  if (model.settings().way_effect) mark("scatter.way_cv", "fitted");
  if (model.settings().way_wear_effect) mark("scatter.way_wear_cv", "fitted");
  if (model.settings().wood_effect) mark("scatter.wood_cv", "fitted");
  keep_priors(model, report, fitted.fit);
  fitted.fit.free.clear();
  for (const FreeParameter& p : model.parameters()) fitted.fit.free.push_back(p.path);
  const std::filesystem::path configuration =
      campaign.loaded.texts.empty() ? "" : campaign.loaded.texts.front().first;
  for (std::string& file : fitted.readings_files) {
    file = std::filesystem::relative(configuration.parent_path() / file,
                                     folder.empty() ? std::filesystem::path(".") : folder)
               .generic_string();
  }
  if (!fitted.fit.from.empty())
    fitted.fit.from = std::filesystem::relative(configuration.parent_path() / fitted.fit.from,
                                                folder.empty() ? std::filesystem::path(".") : folder)
                          .generic_string();
  // what has no number in a configuration
  const char* beside =
      drawn_in(model).empty()
          ? ""
          : "# What ways of sharpening and woods do beside the model is not in here: answers with --fit have it.\n";
  return "# " + source + "\n" + beside + resolved_toml(fitted, true);
}

const char* kind_name(Observation::Kind kind) {
  return kind == Observation::Kind::reading       ? "reading"
         : kind == Observation::Kind::apex_radius ? "apex radius"
         : kind == Observation::Kind::recession   ? "recession"
                                                  : "mass loss";
}

// what a table of residuals tells it in
static const char* unit_of(Observation::Kind kind) {
  switch (kind) {
    case Observation::Kind::reading:
      return "gf";
    case Observation::Kind::mass_loss:
      return "mg";
    case Observation::Kind::apex_radius:
    case Observation::Kind::recession:
      break;
  }
  return "um";
}

std::string residuals_csv(const CampaignModel& model, const FitReport& report) {
  std::string out =
      csv_row({"edge", "moment", "kind", "measured", "predicted", "unit", "ratio", "in_sd", "line", "note"});
  const bool      wears = model.scenario().model.specimen.in_use;
  const WearUnits units = wear_units(model.scenario().model.specimen);
  for (std::size_t i = 0; i < model.observations().size(); ++i) {
    const Observation& o = model.observations()[i];
    const Reading&     r = model.readings()[static_cast<std::size_t>(o.reading)];
    if (wears) {
      const double measured = model.in_unit(o.log_value);
      const double foretold = model.in_unit(report.fit.information.predicted[static_cast<Eigen::Index>(i)]);
      const auto   in_units = [&](double um) { return fmt::format("{:.6g}", um * units.per_um); };
      out += csv_row({model.scenario().edges[static_cast<std::size_t>(o.edge)].name, r.moment_name,
                      o.is_below ? "below" : units.quantity, in_units(measured), in_units(foretold),
                      units.suffix, foretold > 0.0 ? fmt::format("{:.3f}", measured / foretold) : "",
                      fmt::format("{:+.2f}", -report.fit.information.residuals[static_cast<Eigen::Index>(i)]),
                      std::to_string(r.line), r.note});
      continue;
    }
    const bool force = o.kind == Observation::Kind::reading;
    const auto shown = [&](double log) {
      return fmt::format("{:.4g}", force ? laws::in_gram_force(std::exp(log)) : std::exp(log));
    };
    const double predicted = report.fit.information.predicted[static_cast<Eigen::Index>(i)];
    out += csv_row({model.scenario().edges[static_cast<std::size_t>(o.edge)].name, r.moment_name,
                    kind_name(o.kind), shown(o.log_value), shown(predicted), unit_of(o.kind),
                    fmt::format("{:.3f}", std::exp(o.log_value - predicted)),
                    fmt::format("{:+.2f}", -report.fit.information.residuals[static_cast<Eigen::Index>(i)]),
                    std::to_string(r.line), r.note});
  }
  return out;
}

std::string sensitivities_csv(const Sensitivities& found, const Scenario& scenario) {
  Model<double>            model  = scenario.model;
  const auto               values = places(model, found.parameters);
  std::vector<std::string> header{"parameter", "value"};
  header.insert(header.end(), found.measurements.begin(), found.measurements.end());
  std::string out = csv_row(header);
  for (std::size_t j = 0; j < found.parameters.size(); ++j) {
    const auto column = found.by_prior.col(static_cast<Eigen::Index>(j));
    if (!(column.cwiseAbs().maxCoeff() > 0.0)) continue;
    std::vector<std::string> cells{found.parameters[j].path, fmt::format("{:.6g}", *values[j])};
    for (const double x : column) cells.push_back(fmt::format("{:.4g}", x));
    out += csv_row(cells);
  }
  return out;
}

}  // namespace arris
