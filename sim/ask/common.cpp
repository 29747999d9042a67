// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/fit/confounding.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/misses_said.hpp"
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris::ask {

std::vector<std::size_t> edges_of(const Arguments& arguments, const Scenario& scenario) {
  std::vector<std::size_t> chosen;
  if (!arguments.has("edge")) {
    for (std::size_t i = 0; i < scenario.edges.size(); ++i) chosen.push_back(i);
    return chosen;
  }
  std::vector<std::string> known;
  for (const EdgePlan& plan : scenario.edges) known.push_back(plan.name);
  const std::string asked = *arguments.text("edge");
  // a name may have a comma of its own
  const bool is_one = std::find(known.begin(), known.end(), asked) != known.end();
  for (const std::string& name : is_one ? std::vector<std::string>{asked} : names_in(asked)) {
    const auto found = std::find(known.begin(), known.end(), name);
    if (found == known.end()) {
      throw Error(Exit::usage, {.code    = "unknown-edge",
                                .what    = fmt::format("there is no edge \"{}\"", printable(name)),
                                .allowed = or_list(known),
                                .next    = did_you_mean(name, known)});
    }
    chosen.push_back(static_cast<std::size_t>(found - known.begin()));
  }
  return chosen;
}

int threads_of(const Arguments& arguments) {
  return static_cast<int>(arguments.integer("threads", 0, 0, 4096));
}

Ensemble ensemble_of(const Arguments& arguments, const Loaded& loaded, const ReadFit& fit) {
  const auto members = static_cast<int>(arguments.integer("members", 1000, 1, 1'000'000));
  if (fit) return fit(loaded.scenario, members);
  if (members == 1) return single_member(loaded.scenario);
  const auto seed = static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 2'000'000'000));
  return prior_ensemble(loaded.scenario, loaded.fit.priors, members, seed);
}

void name_misses(Answer& answer, const std::vector<std::string>& misses) {
  answer.headline = with_misses(std::move(answer.headline), misses);
}

void name_confounding(Answer& answer, const Campaign& campaign) {
  const auto said = confounded_handling(campaign.loaded.scenario, campaign.readings);
  if (said.empty()) return;
  answer.headline +=
      " Some of what was done to the edges always went together with who or what read them, or with one wood, so that the readings cannot tell these apart; the notes say which.";
  for (const std::string& sentence : said) answer.remark(About::certainty, sentence);
}

namespace {

// wear that ends the life of a specimen, in gram-force, which is what limits are counted in
std::pair<std::string, double> limit_of_specimens(const Arguments& arguments, const Loaded& loaded) {
  const auto given = arguments.text("limit");
  const auto units = wear_units(loaded.scenario.model.specimen);
  if (!given && std::isnan(loaded.scenario.output.wear_limit_um)) {
    throw Error(
        Exit::usage,
        {.code = "no-limit",
         .what = fmt::format("it is not said at which {} the life of a specimen ends", units.quantity),
         .next =
             fmt::format("State wear_limit_um = … under [output], or {} 300um.", arguments.shown("limit"))});
  }
  if (!given)
    return {"wear_limit_um of the configuration", laws::in_gram_force(loaded.scenario.output.wear_limit_um)};
  double value            = 0.0;
  const auto [end, error] = read_number(given->data(), given->data() + given->size(), value);
  std::string unit(end, given->data() + given->size());
  unit.erase(std::remove(unit.begin(), unit.end(), ' '), unit.end());
  const bool mm = unit == "mm", um = unit == "um" || unit == "µm";
  if (error != std::errc{} || !(value > 0.0) || (!mm && !um)) {
    throw Error(Exit::usage,
                {.code    = "unknown-limit",
                 .what    = fmt::format("{} {} is no wear", arguments.shown("limit"), printable(*given)),
                 .allowed = "a length above 0 with um or mm behind it",
                 .next    = fmt::format("Write {} 300um or 0.3mm.", arguments.shown("limit"))});
  }
  return {"as asked", laws::in_gram_force(mm ? 1e3 * value : value)};
}

}  // namespace

std::pair<std::string, double> limit_of(const Arguments& arguments, const Loaded& loaded) {
  if (loaded.scenario.model.specimen.in_use) return limit_of_specimens(arguments, loaded);
  const auto given = arguments.text("limit");
  if (!given) {
    if (!std::isnan(loaded.scenario.output.reading_limit_gf))
      return {"reading_limit_gf of the configuration", loaded.scenario.output.reading_limit_gf};
    const Limit* bench = loaded.workshop.limit_named("bench work");
    return {bench->name, bench->reading_gf};
  }
  if (const Limit* limit = loaded.workshop.limit_named(*given)) return {limit->name, limit->reading_gf};
  double value            = 0.0;
  const auto [end, error] = read_number(given->data(), given->data() + given->size(), value);
  const std::string unit(end, given->data() + given->size());
  if (unit == " N" || unit == "N") value = laws::in_gram_force(value);
  const bool is_reading = unit.empty() || unit == " N" || unit == "N" || unit == " gf" || unit == "gf";
  if (error == std::errc{} && is_reading && value >= 1.0 && value <= 1e5) return {"as asked", value};
  std::vector<std::string> known;
  for (const Limit& limit : loaded.workshop.limits) known.push_back(limit.name);
  const std::string meant = did_you_mean(*given, known);
  throw Error(Exit::usage, {.code    = "unknown-limit",
                            .what    = fmt::format("{} {} is neither a task nor a reading",
                                                   arguments.shown("limit"), printable(*given)),
                            .allowed = or_list(known) + ", or 1 … 100000 gram-force, or newtons with an N",
                            .next = meant.empty() ? "[limit.\"my task\"] with reading_gf adds one." : meant});
}

void require_readings(const Campaign& campaign, const std::string& file) {
  if (!campaign.readings.empty()) return;
  throw Error(Exit::usage, {.code = "no-readings",
                            .what = "the configuration names no readings, so there is nothing to fit to",
                            .next = "Add [readings] with file = \"readings.csv\".",
                            .file = file});
}

void require_blades(const Scenario& scenario, const std::string& study, const std::string& because) {
  if (!scenario.model.specimen.in_use) return;
  throw Error(Exit::usage, {.code  = "not-of-specimens",
                            .what  = fmt::format("{} is of blades, and the tools here are specimens", study),
                            .cause = because,
                            .next  = "simulate, fit, weigh and forecast are of specimens too."});
}

void require_rates(const Loaded& loaded, bool has_fit) {
  const bool stated = std::any_of(loaded.origins.begin(), loaded.origins.end(), [](const auto& origin) {
    return is_wear_path(origin.first) && origin.first != "wear.law";
  });
  if (!loaded.scenario.model.specimen.in_use || has_fit || stated ||
      loaded.scenario.model.wear.formula() != nullptr)
    return;
  throw Error(
      Exit::usage,
      {.code  = "no-rate",
       .what  = fmt::format("the wear law {} has no numbers for these specimens",
                            loaded.scenario.model.wear.name()),
       .cause = "Those that it has by default are of blades in wood.",
       .next =
           "State them under [wear], or fit readings: arris fit FILE --fitted fitted.toml, or --out fit.h5 and --fit fit.h5 here.",
       .key = "wear"});
}

void require_reduced(const Scenario& scenario, const std::string& study) {
  if (!scenario.numerics.follows_outline()) return;
  throw Error(
      Exit::usage,
      {.code = "needs-reduced",
       .what = fmt::format("{} needs the reduced law, and [numerics] asks for the outline", study),
       .cause =
           "It takes slopes or thousands of histories; an outline has no slopes, and takes some 10 ms each.",
       .next = "Write fidelity = \"reduced\". `arris check FILE --outline` holds that against the outline.",
       .key  = "numerics.fidelity"});
}

}  // namespace arris::ask
