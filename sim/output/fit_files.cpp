// SPDX-License-Identifier: MIT
#include "sim/output/fit_files.hpp"

#include <cmath>

#include <nlohmann/json.hpp>

#include "sim/output/answer_hdf5.hpp"
#include "sim/output/fit_groups.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/wording.hpp"

namespace arris {

void write_fit_hdf5(const std::filesystem::path& path, const CampaignModel& model, const FitReport& report,
                    const std::string& readings, const std::string& fitted, const Provenance& provenance) {
  Hdf5Writer writer(path);
  {  // every group is closed before the file is
    const Hdf5Group& root   = writer.root();
    const Answer     answer = fit_sentences(model, report, readings);
    Provenance       origin = provenance;
    origin.rests_on         = answer.rests_on;
    put_root_attributes(root, "fit", model.scenario().title, origin);
    put_sentences(root, answer);
    put_what_follows(root, report, fitted);
    put_fit(root, model, report);
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

// what is no number is null
nlohmann::ordered_json lack_of_fit_json(const LackOfFit& found) {
  nlohmann::ordered_json out{{"found", found.found()}, {"says", misses(found)}};
  out["tests"] = nlohmann::ordered_json::array();
  for (const MissTest& test : found.tests)
    out["tests"].push_back({{"says", test.says},
                            {"edges", test.edges},
                            {"readings", test.readings},
                            {"ratio", test.ratio},
                            {"p", test.p},
                            {"p_of_all", test.p_of_all},
                            {"found", test.found}});
  const PureErrorTest& r = found.replicates;
  out["replicates"]      = {{"F", r.F}, {"p", r.p}, {"misfit_df", r.misfit_df}, {"error_df", r.error_df}};
  out["edges_apart"]     = nlohmann::ordered_json::array();
  for (const EdgeApart& edge : found.apart)
    out["edges_apart"].push_back({{"edge", edge.edge}, {"ratio", edge.ratio}, {"moments", edge.moments}});
  return out;
}

// `known_sd`: of the scaled parameter before any reading
nlohmann::ordered_json parameter_json(const FreeParameter& p, double known_sd, const ParameterFate& fate,
                                      const ParameterProfile& profile) {
  nlohmann::ordered_json row{{"path", p.path},
                             {"value", fate.value},
                             {"unit", unit_for_files(p.unit)},
                             {"determined", fate.has_standard_error},
                             {"at_bound", fate.at_bound},
                             {"prior_share", fate.prior_share}};
  const PriorShape       shape = p.prior.shape;
  const double           spread =
      shape == PriorShape::log_normal ? std::pow(p.prior.spread, known_sd) : p.prior.spread * known_sd;
  row["prior"] = {{"shape", shape_name(shape)}, {"centre", p.prior.centre}, {"spread", spread}};
  if (p.prior.shift > 0.0) row["prior"]["shift"] = p.prior.shift;
  if (fate.has_standard_error) {
    row["log_sd"]  = fate.log_sd;
    row["wald_90"] = {fate.low, fate.high};
  }
  if (profile.wanted && profile.usable) row["profile_90"] = ends(profile);
  return row;
}

nlohmann::ordered_json derived_json(const DerivedResult& q, const FitReport& report) {
  nlohmann::ordered_json row{{"name", q.quantity.name},
                             {"value", q.value},
                             {"unit", unit_for_files(q.quantity.unit)},
                             {"moved", q.moved},
                             {"determined", q.has_standard_error}};
  if (q.has_standard_error) row["wald_90"] = {q.low, q.high};
  if (q.profile.wanted && q.profile.usable) row["profile_90"] = ends(q.profile);
  if (!std::isnan(q.prior_log_sd)) row["prior_log_sd"] = q.prior_log_sd;
  if (report.draws.converged && std::isnan(q.prior_log_sd))
    row["drawn_5_50_95"] = {q.drawn_low, q.drawn_middle, q.drawn_high};
  if (!report.law_draws.empty() && std::isnan(q.prior_log_sd))
    row["all_laws_5_50_95"] = {q.laws_low, q.laws_middle, q.laws_high};
  return row;
}

nlohmann::ordered_json law_json(const LawFit& law) {
  nlohmann::ordered_json row{{"law", law.name}, {"usable", law.usable}};
  if (law.usable)
    row.update({{"weight", law.weight},
                {"ruled_out", law.ruled_out},
                {"elpd_by_edge", law.elpd_by_edge},
                {"by_chance", law.by_chance}});
  else
    row["failure"] = law.failure;
  return row;
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
  out["spread"]          = {
               {"readings", report.fit.best.spread.reading}, {"edges", report.fit.best.spread.edge},
               {"operators", report.fit.best.spread.person}, {"lots", report.fit.best.spread.lot},
               {"rates", report.fit.best.spread.rate},       {"days", report.fit.best.spread.day},
               {"ways", report.fit.best.spread.way},         {"wear_after_ways", report.fit.best.spread.way_wear},
               {"woods", report.fit.best.spread.wood}};
  const Eigen::VectorXd known = known_sd(model);
  for (std::size_t i = 0; i < model.parameters().size() && report.fit.converged; ++i) {
    out["parameters"].push_back(parameter_json(model.parameters()[i], known[static_cast<Eigen::Index>(i)],
                                               report.identifiability.parameters[i], report.profiles[i]));
  }
  for (const DerivedResult& q : report.derived) {
    out["derived"].push_back(derived_json(q, report));
  }
  for (const LawFit& law : report.laws.laws) {
    out["laws"].push_back(law_json(law));
  }
  if (report.fit.converged) out["lack_of_fit"] = lack_of_fit_json(report.lack_of_fit);
  if (report.discrepancy.is_known())
    out["discrepancy"] = {{"passes", report.discrepancy.passes},
                          {"miss", report.discrepancy.miss},
                          {"variance", report.discrepancy.variance}};
  for (const auto& d : report.identifiability.undetermined)
    out["undetermined"].push_back({{"says", d.sentence}, {"settled_by", d.settled_by}});
  if (report.draws_wanted)
    out["draws"] = {{"converged", report.draws.converged},
                    {"count", report.draws.values.rows()},
                    {"steps", report.draws.steps}};
  if (report.importance.usable)
    out["draws"].update({{"pareto_shape", report.importance.shape},
                         {"effective", report.importance.effective},
                         {"proposals", report.importance.proposals}});
  for (const auto& [name, text] : entries_of(provenance)) out["provenance"][name] = text;
  return out.dump(1) + "\n";
}

}  // namespace arris
