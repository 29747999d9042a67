// SPDX-License-Identifier: MIT
#include "sim/studies/plan/plan.hpp"

#include <filesystem>
#include <set>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/fit/confounding.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/law_fits.hpp"
#include "sim/output/plan_files.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/text.hpp"

namespace arris::ask {
namespace {

namespace fs = std::filesystem;

// names given, or else those in the readings, or else one
std::vector<std::string> people_or_lots(const Arguments& arguments, const std::string& option,
                                        const Campaign& campaign, std::string Reading::*member,
                                        const char* one) {
  if (const auto list = arguments.text(option)) {
    auto names = names_in(*list);
    if (names.empty() || std::set<std::string>(names.begin(), names.end()).size() < names.size()) {
      throw Error(Exit::usage,
                  {.code = "bad-option",
                   .what = fmt::format("{} \"{}\" must be different names with commas between them",
                                       arguments.shown(option), printable(*list))});
    }
    return names;
  }
  std::set<std::string> seen;
  for (const Reading& r : campaign.readings) {
    if (!(r.*member).empty()) seen.insert(r.*member);
  }
  if (seen.empty()) return {one};
  return {seen.begin(), seen.end()};
}

PlanSettings settings_of(const Arguments& arguments, const Campaign& campaign) {
  PlanSettings s;
  s.difference_pct = arguments.number("difference", s.difference_pct, 0.1, 1000.0);
  s.power          = arguments.number("power", s.power, 0.1, 0.999);
  s.false_alarm    = arguments.number("false-alarm", s.false_alarm, 0.0001, 0.5);
  s.spare_pct      = arguments.number("spare", s.spare_pct, 0.0, 1000.0);
  s.moments        = static_cast<int>(arguments.integer("moments", s.moments, 1, 20));
  s.readings       = static_cast<int>(arguments.integer("replicates", 0, 1, 100));
  s.seed           = static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 2'000'000'000));
  s.threads        = threads_of(arguments);
  if (arguments.has("edges")) {
    s.edges = static_cast<int>(arguments.integer("edges", 0, 1, PlanSettings::most_edges));
    if (s.edges == 1) {
      throw Error(Exit::usage,
                  {.code    = "too-few-edges",
                   .what    = "with one edge per group nothing is known of how edges of a group differ",
                   .allowed = fmt::format("2 … {}", PlanSettings::most_edges),
                   .cause   = "Readings of the same edge say how it reads, not how its like would.",
                   .next = fmt::format("Give at least {} 2, or leave it out and be told how many are needed.",
                                       arguments.shown("edges"))});
    }
  }
  if (const auto at = arguments.text("at")) {
    if (*at != "passes" && *at != "laps") {
      throw Error(Exit::usage,
                  {.code    = "bad-option",
                   .what    = fmt::format("{} {} says no moments", arguments.shown("at"), printable(*at)),
                   .allowed = "passes or laps"});
    }
    s.at = *at == "laps" ? ReadAt::laps : ReadAt::passes;
  }
  if (const auto list = arguments.text("groups")) s.groups = names_in(*list);
  s.operators = people_or_lots(arguments, "operators", campaign, &Reading::operator_name, "A");
  s.lots      = people_or_lots(arguments, "lots", campaign, &Reading::filament_lot, "lot 1");
  return s;
}

// the configuration that goes with a run sheet; nothing must stand where either goes
fs::path beside(const Arguments& arguments, const fs::path& sheet) {
  if (sheet.extension() != ".csv") {
    throw Error(Exit::usage,
                {.code    = "bad-option",
                 .what    = fmt::format("{} {} does not name a CSV file", arguments.shown("sheet"),
                                        printable(sheet.string())),
                 .allowed = "a name that ends in .csv",
                 .next    = "The configuration that belongs to it is written beside it, ending in .toml."});
  }
  fs::path configuration = sheet;
  configuration.replace_extension(".toml");
  for (const fs::path& path : {sheet, configuration}) {
    if (!fs::exists(path)) continue;
    throw Error(Exit::usage,
                {.code  = "would-overwrite",
                 .what  = fmt::format("{} would overwrite a file that is there", arguments.shown("sheet")),
                 .cause = "It may hold readings that nobody can take again.",
                 .next  = "Give the sheet another name, or put that file away.",
                 .file  = path.string()});
  }
  return configuration;
}

// the scenario, by the law that a fit of its readings begins with where it begins from an earlier one
Scenario planned_by(const Campaign& campaign) {
  const Loaded& loaded = campaign.loaded;
  if (loaded.fit.earlier == nullptr) {
    check_from(campaign, {});
    return loaded.scenario;
  }
  const auto laws = laws_of_both(loaded.scenario, *loaded.fit.earlier);
  const bool has  = law_of(*loaded.fit.earlier, loaded.scenario.model) != nullptr;
  Scenario   out  = has ? loaded.scenario : under_law(loaded.scenario, laws.front());
  check_from(campaign, {std::string(out.model.wear.name())});
  return out;
}

}  // namespace

Answered plan(const Arguments& arguments, const Campaign& campaign, const std::string& file,
              const ReadFit& fit, const SeePlan& see) {
  const Loaded& loaded = campaign.loaded;
  require_reduced(loaded.scenario, "a plan");
  require_blades(loaded.scenario, "a plan", "Its run sheets and moments are those of edges and a tester.");
  const PlanSettings settings = settings_of(arguments, campaign);
  const auto         sheet    = arguments.text("sheet");
  const fs::path     key      = sheet ? beside(arguments, *sheet) : fs::path{};

  constexpr int            members = 32, draws = 2000;
  PlanKnowledge            knowledge;
  Scenario                 scenario = loaded.scenario;
  std::vector<std::string> misses;
  if (fit) {
    const Ensemble fitted = fit(loaded.scenario, draws);
    misses                = fitted.misses;
    if (fitted.has_laws()) scenario.model.wear = fitted.laws.front().wear;
    knowledge = knowledge_from_draws(scenario, campaign.readings, loaded.fit, fitted, members);
  } else if (!campaign.readings.empty()) {
    scenario  = planned_by(campaign);
    knowledge = knowledge_from_readings(scenario, campaign.readings, loaded.fit, members, settings.seed,
                                        settings.threads);
    misses    = knowledge.ensemble.misses;
  } else {
    knowledge = knowledge_from_priors(loaded.scenario, loaded.fit, members, settings.seed);
  }
  for (const std::string& sentence : confounding_sentences(loaded.scenario, campaign.readings))
    knowledge.cautions.push_back("Of the readings so far: " + sentence);
  const Plan found  = plan_experiment(scenario, loaded.fit, loaded.workshop.pace, knowledge, settings);
  Answer     answer = plan_answer(found);
  name_misses(answer, misses);
  if (see) see(found);
  if (sheet) {
    const fs::path base = fs::relative(file, key.has_parent_path() ? key.parent_path() : fs::path("."));
    write_text(key.string(), plan_toml(found, base.generic_string(), fs::path(*sheet).filename().string()));
    write_text(*sheet, run_sheet(found, key.filename().string()));
    answer.remark(
        About::next,
        fmt::format("{} is the run sheet, blank; {} says what is done to each edge and which code it has. "
                    "When readings are in: arris fit {}",
                    printable(*sheet), printable(key.string()), printable(key.string())));
  } else {
    answer.remark(About::next,
                  fmt::format("{} FILE.csv writes the run sheet, in random order and under codes.",
                              arguments.shown("sheet")));
  }
  return {std::move(answer), std::to_string(settings.seed)};
}

std::vector<Reading> invented(const Arguments& arguments, const Loaded& loaded, int threads) {
  const auto seed =
      static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 9'000'000'000'000'000'000));
  const auto operators = names_in(arguments.text("operators").value_or("A,B"));
  const auto lots      = names_in(arguments.text("lots").value_or("lot 1,lot 2"));
  if (operators.empty() || lots.empty()) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} and {} need at least one name each",
                                                  arguments.shown("operators"), arguments.shown("lots"))});
  }
  return invent_readings(loaded.scenario, seed, operators, lots, threads);
}

}  // namespace arris::ask
