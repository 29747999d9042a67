// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cctype>
#include <filesystem>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/input/gauge_csv.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/simulate/collapse_said.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/forecast/specimen_forecast.hpp"
#include "sim/studies/gauge/gauge.hpp"
#include "sim/studies/measured_lives.hpp"
#include "sim/studies/periods/periods.hpp"
#include "sim/studies/readings/read_campaign.hpp"
#include "sim/studies/upkeep/upkeep.hpp"
#include "sim/studies/weigh/forward.hpp"
#include "sim/studies/weigh/weigh.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris::ask {
namespace {

ForecastSettings life_settings(const Arguments& arguments, const Loaded& loaded) {
  ForecastSettings settings;
  if (!arguments.has("from-now") || !is_length(arguments.text("limit").value_or(""))) {
    const auto [name, limit_gf] = limit_of(arguments, loaded);
    settings.limit_name         = name;
    settings.limit_N            = laws::in_newton(limit_gf);
  }
  // of specimens four times as far as one of them goes
  double far = 1250.0;
  if (loaded.scenario.model.specimen.in_use) {
    far = 1.0;
    for (const EdgePlan& plan : loaded.scenario.edges) {
      double way = 0.0;
      for (const Step& step : plan.steps)
        if (const auto* cut = std::get_if<CutStep>(&step)) way += cut->passes;
      far = std::max(far, std::ceil(way));
    }
  }
  settings.passes = static_cast<double>(
      arguments.integer("passes", static_cast<int>(std::min(4.0 * far, 1e7)), 1, 10'000'000));
  settings.seed    = static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 2'000'000'000));
  settings.threads = threads_of(arguments);
  return settings;
}

const EdgePlan& chosen_edge(const Arguments& arguments, const Scenario& scenario) {
  if (!arguments.has("edge")) {
    // the first that works in wood
    for (const EdgePlan& plan : scenario.edges) {
      if (std::any_of(plan.steps.begin(), plan.steps.end(),
                      [](const Step& s) { return std::holds_alternative<CutStep>(s); }))
        return plan;
    }
    return scenario.edges.front();
  }
  return scenario.edges[edges_of(arguments, scenario).front()];
}

void set_limit(const Arguments& arguments, const Loaded& loaded, UpkeepSettings& settings) {
  const auto [name, limit_gf] = limit_of(arguments, loaded);
  settings.limit_gf           = limit_gf;
  if (loaded.workshop.limit_named(name) != nullptr) settings.task = name;
}

void set_least(const Arguments& arguments, UpkeepSettings& settings) {
  static const std::vector<std::pair<std::string, Least>> kinds = {
      {"time", Least::minutes}, {"money", Least::money}, {"steel", Least::steel}, {"mix", Least::mix}};
  std::vector<std::string> known;
  for (const auto& [name, least] : kinds) known.push_back(name);
  const bool        mixes = arguments.has("minutes-per-mm");
  const std::string given = arguments.text("least").value_or(mixes ? "mix" : "time");
  const auto        found = std::find(known.begin(), known.end(), given);
  if (found == known.end()) {
    throw Error(Exit::usage,
                {.code    = "bad-option",
                 .what    = fmt::format("{} {} is not known", arguments.shown("least"), printable(given)),
                 .allowed = or_list(known),
                 .next    = did_you_mean(given, known, {}, "{}")});
  }
  settings.least = kinds[static_cast<std::size_t>(found - known.begin())].second;
  if (mixes != (settings.least == Least::mix)) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} mix and {} go together", arguments.shown("least"),
                                                  arguments.shown("minutes-per-mm")),
                              .next = fmt::format("Say what a millimetre of blade is worth: {} 30",
                                                  arguments.shown("minutes-per-mm"))});
  }
  settings.minutes_per_mm = arguments.number("minutes-per-mm", 0.0, 0.0, 1e6);
}

GaugeSettings gauge_settings(const Arguments& arguments) {
  GaugeSettings settings;
  const auto    scale = arguments.text("scale").value_or("log");
  if (scale != "log" && scale != "linear") {
    throw Error(Exit::usage,
                {.code    = "bad-option",
                 .what    = fmt::format("{} {} is not known", arguments.shown("scale"), printable(scale)),
                 .allowed = "log or linear"});
  }
  settings.scale              = scale == "log" ? GaugeScale::logarithm : GaugeScale::linear;
  settings.repeatability_only = arguments.has("repeatability");
  settings.pool_above         = arguments.number("pool", settings.pool_above, 0.0, 1.0);
  settings.difference_pct     = arguments.number("difference", settings.difference_pct, 0.1, 1000.0);
  settings.reference          = arguments.text("reference").value_or("");
  settings.reference_gf       = arguments.number("value", not_given, 0.001, 1e6);
  if (arguments.has("reference") != arguments.has("value")) {
    throw Error(Exit::usage,
                {.code = "bad-option",
                 .what = fmt::format("{} is given without {}",
                                     arguments.shown(arguments.has("value") ? "value" : "reference"),
                                     arguments.shown(arguments.has("value") ? "reference" : "value")),
                 .next = "Give both: which edge, and what it truly reads in gram-force."});
  }
  return settings;
}

}  // namespace

namespace {

// what fits rest on, for people
std::string read_by_fit(const Campaign& campaign) {
  const std::string& from = campaign.loaded.fit.from;
  return printable(campaign.readings_path) + (from.empty() ? std::string() : ", " + printable(from));
}

// the laws that forecasts of a campaign rest on: those that are named, or those that its fits take side by side; none where that is the one
// law of the configuration
std::vector<std::string> laws_forward(const Arguments& arguments, const Loaded& loaded,
                                      const std::vector<std::string>& named) {
  if (arguments.has("law") || !arguments.texts("law").empty()) return named;
  const auto& free  = loaded.fit.free;
  const bool  wears = free.empty() || std::any_of(free.begin(), free.end(),
                                                  [](const std::string& path) { return is_wear_path(path); });
  return wears && loaded.fit.laws.size() > 1 ? loaded.fit.laws : std::vector<std::string>{};
}

Answered weighed_forward(const Arguments& arguments, const Campaign& campaign, ForwardSettings settings,
                         const Progress& progress, bool* usable) {
  if (settings.laws.empty()) settings.fit.free = campaign.loaded.fit.free;  // of one law as fit frees it
  settings.moments  = static_cast<int>(arguments.integer("forward", 1, 1, 1000));
  settings.members  = static_cast<int>(arguments.integer("members", settings.members, 50, 100'000));
  const auto result = weigh_forward(campaign.loaded.scenario, campaign.readings, settings, progress);
  if (usable != nullptr)
    *usable = std::any_of(result.units.begin(), result.units.end(),
                          [](const ForwardUnit& unit) { return unit.failure.empty(); });
  return {forward_answer(result, read_by_fit(campaign)), std::to_string(settings.fit.seed)};
}

}  // namespace

Answered weigh(const Arguments& arguments, const Campaign& campaign, const Progress& progress, bool* usable) {
  if (arguments.has("members") && !arguments.has("forward")) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} is given without {}", arguments.shown("members"),
                                                  arguments.shown("forward")),
                              .next = fmt::format("Say after how many moments readings are held back: {} 1",
                                                  arguments.shown("forward"))});
  }
  const int     threads = threads_of(arguments);
  const Loaded& loaded  = campaign.loaded;
  require_reduced(loaded.scenario, "weighing laws");
  auto names = wear_law_names(loaded.scenario);
  if (const auto given = arguments.texts("law"); !given.empty())
    names = names_in(fmt::format("{}", fmt::join(given, ",")));
  else if (loaded.fit.earlier != nullptr)
    names = laws_of_both(loaded.scenario, *loaded.fit.earlier);
  if (names.empty()) {
    throw Error(Exit::usage, {.code    = "unknown-law",
                              .what    = fmt::format("{} names no law", arguments.shown("law")),
                              .allowed = or_list(wear_law_names(loaded.scenario))});
  }
  check_from(campaign, names);
  FitSettings settings = loaded.fit;
  settings.starts      = static_cast<int>(arguments.integer("starts", 4, 1, 10000));
  if (settings.free.empty()) settings.free = usual_parameters(loaded.scenario, campaign.readings);
  std::set<int> edges;
  for (const Reading& r : campaign.readings) {
    if (r.excluded.empty()) edges.insert(r.edge);
  }
  if (edges.size() == 1) {
    throw Error(
        Exit::data,
        {.code = "one-edge",
         .what = fmt::format("all readings are of one edge, {}",
                             loaded.scenario.edges[static_cast<std::size_t>(*edges.begin())].name),
         .cause =
             "Laws are weighed by how they predict each edge from the others, and here there is no other.",
         .next =
             "Read a second edge; `arris fit` fits all of them to this one, and leaves their weights equal.",
         .file = campaign.readings_path});
  }
  if (arguments.has("forward")) {
    require_blades(loaded.scenario, "weigh --forward", "What it holds back are readings of the tester.");
    return weighed_forward(
        arguments, campaign,
        {.fit = settings, .laws = laws_forward(arguments, loaded, names), .threads = threads}, progress,
        usable);
  }
  const auto laws = arris::weigh(scaled_to_readings(loaded.scenario, campaign.readings), campaign.readings,
                                 settings, names, threads, progress);
  if (usable != nullptr) *usable = laws.front().usable;
  Answer answer = weigh_answer(laws, read_by_fit(campaign));
  if (std::string sentence = collapse_said(loaded.scenario, {edges.begin(), edges.end()}); !sentence.empty())
    answer.remark(About::certainty, std::move(sentence));
  return {std::move(answer), std::to_string(settings.seed)};
}

Answered forecast(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit,
                  const Progress& progress, std::optional<Forecast>* made) {
  const Loaded& loaded = campaign.loaded;
  require_reduced(loaded.scenario, "a forecast");
  require_rates(loaded, static_cast<bool>(fit));
  if (arguments.has("from-now"))
    require_blades(loaded.scenario, "a forecast from now on",
                   "It is of an edge in hand, stropped or in wood.");
  const auto ensemble = ensemble_of(arguments, loaded, fit);
  const auto settings = life_settings(arguments, loaded);
  if (arguments.has("from-now"))
    return {in_hand(arguments, campaign, ensemble, settings), std::to_string(settings.seed)};
  auto result = arris::forecast(at_best(loaded.scenario, ensemble), loaded.workshop, ensemble,
                                edges_of(arguments, loaded.scenario), settings, progress);
  if (loaded.scenario.model.specimen.in_use) {
    Answer answer = specimen_forecast_answer(result, ensemble, wear_units(loaded.scenario.model.specimen));
    name_misses(answer, ensemble.misses);
    if (made != nullptr) *made = std::move(result);
    return {std::move(answer), std::to_string(settings.seed)};
  }
  const auto measured = measured_lives(loaded.scenario, campaign.readings,
                                       edges_of(arguments, loaded.scenario), settings.limit_N);
  Answer     answer   = forecast_answer(result, loaded.workshop, ensemble, measured);
  auto points = readings_in_wood(loaded.scenario, campaign.readings, edges_of(arguments, loaded.scenario));
  if (points.rows() > 0) answer.tables.push_back(std::move(points));
  if (ensemble.is_fitted()) name_confounding(answer, campaign);
  name_misses(answer, ensemble.misses);
  if (made != nullptr) *made = std::move(result);
  return {std::move(answer), std::to_string(settings.seed)};
}

namespace {

Answered compare_between(const Arguments& arguments, const Campaign& campaign, const std::string& between) {
  for (const char* other : {"edge", "tool", "sharpenings", "limit", "passes", "fit", "members", "seed"}) {
    if (arguments.has(other))
      throw Error(Exit::usage, {.code = "bad-option",
                                .what = fmt::format(
                                    "--between compares readings of the same, and --{} is about ways", other),
                                .next = "Leave one of them out.",
                                .key  = other});
  }
  const double margin = arguments.number("margin", 10.0, 0.1, 100.0) / 100.0;
  const auto   result = compare_periods(campaign.loaded.scenario, campaign.readings, period_length(between));
  return {periods_answer(result, margin)};
}

}  // namespace

Answered compare(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit,
                 const Progress& progress, const Forecast* known) {
  require_blades(
      campaign.loaded.scenario, "a comparison",
      "It sets ways of sharpening side by side, with their time and money; counterfaces and loads are parameters of a fit.");
  if (const auto between = arguments.text("between")) return compare_between(arguments, campaign, *between);
  const Loaded& loaded = campaign.loaded;
  require_reduced(loaded.scenario, "a comparison");
  const auto      ensemble = ensemble_of(arguments, loaded, fit);
  CompareSettings settings;
  settings.life        = life_settings(arguments, loaded);
  settings.tool        = arguments.text("tool").value_or("");
  settings.margin      = arguments.number("margin", 10.0, 0.1, 100.0) / 100.0;
  settings.sharpenings = arguments.number("sharpenings", loaded.workshop.pace.sharpenings_per_year, 1.0, 1e6);
  const auto result =
      compare_ways(as_read(loaded.scenario, ensemble), loaded.workshop, ensemble,
                   edges_of(arguments, loaded.scenario), campaign.readings, settings, progress, known);
  Answer answer = compare_answer(result, loaded.workshop, ensemble);
  name_misses(answer, ensemble.misses);
  return {std::move(answer), std::to_string(settings.life.seed)};
}

Answered readings(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit) {
  const Scenario& scenario = campaign.loaded.scenario;
  require_blades(scenario, "a look at readings",
                 "It looks for burrs, filaments and readings that fall in wood.");
  std::optional<Scenario> model;
  if (fit) model = at_fit(campaign, fit).loaded.scenario;
  const ReadCampaign read =
      read_campaign(scenario, campaign.readings, model ? &*model : nullptr, threads_of(arguments));
  if (read.readings == 0)
    throw Error(Exit::usage, {.code = "no-readings",
                              .what = "no reading of the tester counts among the readings",
                              .next = "Give a column reading_gf, or look why all of them are excluded.",
                              .file = campaign.readings_path});
  return {readings_answer(read, campaign.readings, scenario, printable(campaign.readings_path))};
}

Answered upkeep(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit) {
  require_blades(campaign.loaded.scenario, "a search for upkeep",
                 "A specimen is neither stropped nor honed.");
  UpkeepSettings settings;
  settings.threads         = threads_of(arguments);
  settings.most_stroppings = static_cast<int>(arguments.integer("stroppings", 10, 0, 200));
  settings.share           = 0.01 * arguments.number("share", 100.0, 1.0, 100.0);
  settings.sharpenings =
      arguments.number("sharpenings", campaign.loaded.workshop.pace.sharpenings_per_year, 1.0, 1e6);
  const int members = static_cast<int>(arguments.integer("members", 200, 0, 100000));
  set_least(arguments, settings);
  const Loaded& loaded = campaign.loaded;
  require_reduced(loaded.scenario, "a search for upkeep");
  set_limit(arguments, loaded, settings);
  const EdgePlan& plan = chosen_edge(arguments, loaded.scenario);
  const auto      seed = static_cast<unsigned long long>(
      arguments.integer("seed", loaded.fit.seed, 0, 9'000'000'000'000'000'000));
  if (members == 0 && fit) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} has nothing to do with {} 0", arguments.shown("fit"),
                                                  arguments.shown("members"))});
  }
  Ensemble ensemble = single_member(loaded.scenario);
  if (fit) {
    ensemble = fit(loaded.scenario, members);
  } else if (members > 0) {
    ensemble = prior_ensemble(loaded.scenario, loaded.fit.priors, members, seed);
  }

  const Scenario best = at_best(loaded.scenario, ensemble);
  UpkeepResult   result =
      arris::upkeep(best, plan, loaded.workshop, settings, mean_miss(upkeep_misses(ensemble, plan)));
  if (settings.least == Least::money && !result.costs_money) {
    throw Error(Exit::usage,
                {.code = "no-prices",
                 .what = "no wage and no price with a life is stated, so nothing costs money",
                 .next = "State wage_per_hour in [workshop], or [price.\"…\"] with life_strokes."});
  }
  if (members > 0) try_members(best, result, loaded.workshop, settings, ensemble);
  Answer answer = upkeep_answer(result, loaded.workshop, settings, ensemble);
  if (fit) name_confounding(answer, campaign);
  name_misses(answer, ensemble.misses);
  return {std::move(answer), members > 0 && !fit ? std::to_string(seed) : std::string{}};
}

bool is_csv(const std::string& file) {
  const std::vector<std::string> endings{".csv", ".tsv", ".txt", ".xlsx", ".ods"};
  std::string                    ending = std::filesystem::path(file).extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(),
                 [](unsigned char c) { return std::tolower(c); });
  return std::find(endings.begin(), endings.end(), ending) != endings.end();
}

std::vector<GaugeReading> readings_alone(Campaign& campaign, const std::vector<std::string>& files,
                                         const ReadingsForm& form, bool any_sign) {
  for (const std::string& file : files) {
    campaign.readings_path += (campaign.readings_path.empty() ? "" : ", ") + file;
    campaign.readings_files.push_back({file, read_text(file, Exit::data)});
  }
  ImportedReadings imported = import_readings(campaign.readings_files, form);
  campaign.readings_text =
      imported.is_plain ? campaign.readings_files.front().bytes : csv_text(imported.table);
  campaign.readings_said = std::move(imported.said);
  return parse_gauge_readings(campaign.readings_path, std::move(imported.table), any_sign);
}

Answered gauge(const Arguments& arguments, Campaign& campaign, const std::optional<std::string>& csv_file) {
  GaugeSettings             settings = gauge_settings(arguments);
  std::vector<GaugeReading> readings;
  if (csv_file) {  // readings alone, no model
    readings = readings_alone(campaign, {*csv_file}, {}, settings.scale == GaugeScale::linear);
  } else {
    require_blades(campaign.loaded.scenario, "a judgement of the tester", "Specimens are not read on one.");
    readings = gauge_readings(campaign.loaded.scenario, campaign.readings);
  }
  settings.source          = printable(campaign.readings_path);
  const GaugeResult result = arris::gauge(readings, settings);
  return {gauge_answer(readings, settings, result), std::to_string(GaugeSettings::seed)};
}

}  // namespace arris::ask
