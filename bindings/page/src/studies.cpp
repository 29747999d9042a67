// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include "page.hpp"
#include "sim/fit/normal_ensemble.hpp"
#include "sim/input/gauge_csv.hpp"
#include "sim/output/answer_text.hpp"
#include "sim/output/fit_groups.hpp"
#include "sim/output/fit_tables.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/output/plan_files.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/output/simulation_groups.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/report/page.hpp"
#include "sim/report/plan_sheets.hpp"
#include "sim/text.hpp"
#include "stored_sink.hpp"

namespace arris::page {
namespace {

// what the program would be asked for the same
std::string command_of(const std::string& study, const Json& request) {
  std::string out     = fmt::format("arris {} {}", study == "check" ? "log check" : study,
                                    shell_word(request.value("name", "bench.toml")));
  const Json  options = request.value("options", Json::object());
  for (const auto& [name, value] : options.items()) {
    out += " --" + name;
    if (value != "yes") out += " " + shell_word(value.is_string() ? value.get<std::string>() : value.dump());
  }
  return out;
}

Provenance origin_of(const std::string& study, const Json& request, const Campaign& campaign,
                     const std::string& seed) {
  return provenance(campaign, command_of(study, request), seed);
}

Json figures_json(const StoredResult& stored, double width) {
  Json out = Json::array();
  for (const report::Figure& f : report::section_of(stored).figures) {
    if (!f.on_page || !f.draw) continue;
    out.push_back({{"name", f.name},
                   {"title", f.title},
                   {"caption", f.caption},
                   {"folded", f.folded},
                   {"svg", f.draw(width, stored.kind + "-" + f.name)}});
  }
  return out;
}

// options by their names on the command line, as texts
Arguments arguments_of(const std::string& command, const Json& request) {
  Arguments arguments;
  arguments.command         = command;
  arguments.is_command_line = false;
  const Json options        = request.value("options", Json::object());
  for (const auto& [name, value] : options.items())
    arguments.values[name] = value.is_string() ? value.get<std::string>() : value.dump();
  return arguments;
}

Json answer_of(const Answer& answer) {
  Json out{{"kind", answer.kind},         {"headline", answer.headline}, {"remarks", answer.remarks},
           {"rests_on", answer.rests_on}, {"cautions", answer.cautions}, {"tables", Json::array()}};
  for (const AnswerTable& table : answer.tables) {
    Json columns = Json::array();
    for (const AnswerColumn& c : table.columns) {
      Json column{{"name", c.name},
                  {"units", c.units},
                  {"says", c.says},
                  {"head", c.head},
                  {"significant", c.significant},
                  {"places", c.places}};
      column["values"] = c.is_text() ? Json(c.texts) : numbers(c.numbers);
      columns.push_back(std::move(column));
    }
    out["tables"].push_back(
        {{"name", table.name}, {"says", table.says}, {"shown", table.on_terminal}, {"columns", columns}});
  }
  return out;
}

}  // namespace

Json simulate(const Json& request) {
  const Opened              opened = open_campaign(request);
  const Campaign&           c      = opened.campaign;
  const auto                result = arris::simulate(c.loaded.scenario, 1);
  std::optional<Comparison> comparison;
  if (!c.readings.empty()) comparison = compare_with_readings(c.loaded.scenario, c.readings, 1);
  Json out = Json::object();
  put_simulation(JsonGroup(out), result, comparison, c.readings);
  return out;
}

Result fit(const Json& request, const Progress& progress) {
  Opened          opened    = open_campaign(request);
  Campaign&       campaign  = opened.campaign;
  const Arguments arguments = arguments_of("fit", request);
  campaign.loaded.fit.laws.clear();  // a browser has one thread: the law of the configuration alone
  ask::require_readings(campaign, request.value("name", "page.toml"));
  const auto      asked  = ask::campaign_model(arguments, campaign);
  const FitReport report = fit_report(*asked, ask::fit_options(arguments, *asked), progress);
  const auto&     model  = report.model;
  Json            out{{"sentence", fit_line(*model, report)}, {"converged", report.fit.converged}};
  out["text"] = fit_page(*model, report, false);
  out["rests_on"] =
      fmt::format("Rests on {} and the priors of the parameters.", printable(campaign.readings_path));
  out["source"]       = campaign.readings_path;
  out["undetermined"] = Json::array();
  for (const UndeterminedDirection& d : report.identifiability.undetermined)
    out["undetermined"].push_back({{"says", d.sentence}, {"settled_by", d.settled_by}});
  if (!report.fit.converged) return {out, std::nullopt};
  Json groups = Json::object();
  put_fit(JsonGroup(groups), *model, report);
  out["groups"] = std::move(groups);
  out["fitted"] = fitted_toml(campaign, *model, report, {});
  const StoredSink root;
  const Answer     said   = fit_sentences(*model, report, campaign.readings_path);
  Provenance       origin = origin_of("fit", request, campaign, {});
  origin.rests_on         = said.rests_on;
  put_root_attributes(root, "fit", model->scenario().title, origin);
  put_sentences(root, said);
  put_what_follows(root, report, out["fitted"].get<std::string>());
  put_fit(root, *model, report);
  StoredResult stored = root.result("fit");
  out["figures"]      = figures_json(stored, request.value("figure_width", 350.0));
  // posterior draws take minutes; what the page predicts rests on the normal approximation
  const Ensemble drawn =
      normal_ensemble(*model, report.fit, 1000, static_cast<unsigned long long>(model->settings().seed));
  const Spread s      = typical_spread(*model, report.fit);
  Json         values = Json::array(), columns = drawn.paths;
  for (const Effect& effect : drawn.effects) columns.push_back(effect_column(effect));
  for (Eigen::Index i = 0; i < drawn.values.rows(); ++i) {
    for (const double value : drawn.values.row(i)) values.push_back(value);
    for (const double log_factor : drawn.effect_logs.row(i)) values.push_back(std::exp(log_factor));
  }
  out["drawn"] = {{"columns", std::move(columns)},
                  {"values", std::move(values)},
                  {"spread", {s.reading, s.edge, s.person, s.lot, s.rate, s.day, s.way, s.way_wear, s.wood}}};
  return {std::move(out), std::move(stored)};
}

FittedDraws draws_of(const Json& fit) {
  const auto  doubles = [](const Json& values) { return values.get<std::vector<double>>(); };
  const Json& groups  = fit.at("groups");
  const Json& given   = groups.at("groups").at("given");
  const Json& told    = groups.at("attributes");
  const Json& drawn   = fit.at("drawn");
  const auto  sd      = doubles(drawn.at("spread"));
  FittedDraws out;
  const Json& parameters = groups.at("groups").at("parameters");
  out.parameters         = parameters.at("axes").at("parameter").get<std::vector<std::string>>();
  out.best               = doubles(parameters.at("data").at("value").at("values"));
  out.columns            = drawn.at("columns").get<std::vector<std::string>>();
  out.values             = doubles(drawn.at("values"));
  const Json& effects    = groups.at("groups").at("effects").at("data");
  out.effects            = {effects.at("kind").at("values").get<std::vector<std::string>>(),
                            effects.at("name").at("values").get<std::vector<std::string>>(),
                            doubles(effects.at("log_factor").at("values"))};
  out.spread   = {sd.at(0), sd.at(1), sd.at(2), sd.at(3), sd.at(4), sd.at(5), sd.at(6), sd.at(7), sd.at(8)};
  out.edges    = static_cast<int>(told.at("edges").get<double>());
  out.readings = static_cast<int>(told.at("readings").get<double>());
  out.source   = fit.at("source").get<std::string>() + ", by the normal approximation of the fit";
  out.given    = {given.at("axes").at("path").get<std::vector<std::string>>(),
                  doubles(given.at("data").at("value").at("values")), told.at("wear_law").get<std::string>()};
  if (groups.at("groups").contains("discrepancy")) {
    const Json& left_over = groups.at("groups").at("discrepancy");
    const Json& data      = left_over.at("data");
    out.discrepancy = {doubles(left_over.at("axes").at("passes")), doubles(data.at("miss").at("values")),
                       doubles(data.at("variance").at("values"))};
  }
  const Json& lack = groups.at("groups").at("lack_of_fit");
  if (lack.contains("groups") && lack.at("groups").contains("misses"))
    out.misses = lack.at("groups").at("misses").at("axes").at("miss").get<std::vector<std::string>>();
  return out;
}

Result study(const std::string& name, const Json& request, const FittedDraws* draws,
             const Progress& progress) {
  Opened          opened    = open_campaign(request);
  Campaign&       campaign  = opened.campaign;
  const Arguments arguments = arguments_of(name, request);
  ask::ReadFit    read;
  if (draws != nullptr)
    read = [draws](const Scenario& scenario, int members) { return ensemble_of(*draws, scenario, members); };
  const ask::Progress told = [&](std::size_t done, std::size_t all) { progress(name, done, all); };
  const std::string   file = request.value("name", "page.toml");
  if (name == "readings") ask::require_readings(campaign, file);
  Json       papers = nullptr;
  const auto see    = [&](const Plan& plan) {
    papers = {{"sheet", run_sheet(plan, "plan.toml")},
              {"key", plan_toml(plan, file, "sheet.csv")},
              {"print", report::printable_html(report::sheets_of(plan), "Planned readings")}};
  };
  const ask::Answered answered = [&] {
    if (name == "compare") return ask::compare(arguments, campaign, read, told);
    if (name == "forecast") return ask::forecast(arguments, campaign, read, told);
    if (name == "readings") return ask::readings(arguments, campaign, read);
    if (name == "check") {
      // of the whole log: no edge of the configuration has to have the name of the check edge
      const Json&       log = request.at("log");
      const std::string of  = log.at("name").get<std::string>();
      return ask::check_tester(arguments, parse_gauge_readings(of, log.at("text").get<std::string>()), of);
    }
    if (name == "upkeep") return ask::upkeep(arguments, campaign, read);
    if (name == "plan") return ask::plan(arguments, campaign, file, read, see);
    throw Error(Exit::usage, {.code = "unknown-study", .what = "the page knows no study \"" + name + "\""});
  }();
  const Answer&    answer = answered.answer;
  const StoredSink root;
  Provenance       origin = origin_of(name, request, campaign, answered.seed);
  if (!answer.rests_on.empty()) origin.rests_on = answer.rests_on;
  put_root_attributes(root, answer.kind, campaign.loaded.scenario.title, origin);
  put_sentences(root, answer);
  for (const auto& [setting, value] : answer.settings) root.attribute(setting, value);
  for (const AnswerTable& table : answer.tables) put_table(root, table);
  StoredResult stored = root.result(name);
  Json         out    = answer_of(answer);
  out["figures"]      = figures_json(stored, request.value("figure_width", 350.0));
  out["papers"]       = papers;
  return {std::move(out), std::move(stored)};
}

Json report_of(const std::vector<const StoredResult*>& results) {
  report::Page        page;
  const StoredResult *compared = nullptr, *upkeep = nullptr;
  for (const StoredResult* result : results) {
    if (page.title.empty()) page.title = result->title;
    page.sections.push_back(report::section_of(*result));
    if (result->kind == "compare") compared = result;
    if (result->kind == "upkeep") upkeep = result;
  }
  if (page.title.empty()) page.title = "The bench";
  if (compared != nullptr && page.sections.size() > 1) page.verdict = report::verdict_of(*compared, upkeep);
  report::say_misses_once(page);
  return {{"html", report::html_of(page)}, {"title", page.title}};
}

}  // namespace arris::page
