// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/in_hand.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/read_number.hpp"

namespace arris::ask {
namespace {

/// A number with what stands behind it: "0.6 µm" is 0.6 and "µm".
struct Amount {
  double      value = not_given;
  std::string unit;
};

Amount amount_of(const std::string& text) {
  Amount out;
  const auto [end, error] = read_number(text.data(), text.data() + text.size(), out.value);
  if (error != std::errc{}) return {};
  out.unit = std::string(end, text.data() + text.size());
  out.unit.erase(0, out.unit.find_first_not_of(' '));
  return out;
}

bool any_length_measured(const std::vector<Reading>& readings) {
  return std::any_of(readings.begin(), readings.end(), [](const Reading& r) {
    return r.excluded.empty() && !(std::isnan(r.apex_radius_um) && std::isnan(r.recession_um));
  });
}

bool is_of_land(const Amount& amount) {
  constexpr std::string_view land = " land";
  return amount.unit.size() > land.size() && amount.unit.substr(amount.unit.size() - land.size()) == land;
}

// how a limit ends the life of the edge in hand; a reading where it is not in micrometres
void set_end(const std::string& limit, HandSettings& settings) {
  const Amount amount = amount_of(limit);
  if (is_of_land(amount))
    throw Error(Exit::usage,
                {.code    = "unknown-limit",
                 .what    = fmt::format("{} ends the life of no edge", printable(limit)),
                 .allowed = "a reading, a radius (\"0.6 µm radius\") or a recession (\"5 µm recession\")",
                 .cause   = "Wood leaves the land as honing made it: only stones widen it."});
  for (const char* micrometre : {"µm", "um"}) {
    if (amount.unit.rfind(micrometre, 0) != 0) continue;
    const std::string of = amount.unit.substr(std::string(micrometre).size());
    settings.limit_um    = amount.value;
    settings.end         = of == " recession" ? EndBy::recession : EndBy::radius;
    if ((of.empty() || of == " recession" || of == " radius") && amount.value >= 0.01 && amount.value <= 1e4)
      return;
    throw Error(Exit::usage, {.code    = "unknown-limit",
                              .what    = fmt::format("the limit {} is not known", printable(limit)),
                              .allowed = "0.01 … 10000 µm, \"0.6 µm radius\" or \"5 µm recession\""});
  }
}

}  // namespace

bool is_length(const std::string& limit) {
  const Amount       amount = amount_of(limit);
  const std::string& unit   = amount.unit;
  return is_of_land(amount) || unit.rfind("µm", 0) == 0 || unit.rfind("um", 0) == 0;
}

Answer in_hand(const Arguments& arguments, const Campaign& campaign, const Ensemble& ensemble,
               const ForecastSettings& life) {
  const Scenario& scenario = campaign.loaded.scenario;
  const auto      chosen   = edges_of(arguments, scenario);
  if (chosen.size() != 1) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} is about one edge", arguments.shown("from-now")),
                              .next = fmt::format("Say which: {} {}", arguments.shown("edge"),
                                                  printable(scenario.edges.front().name))});
  }
  HandSettings settings;
  settings.life = life;
  settings.fit  = campaign.loaded.fit;
  if (const auto limit = arguments.text("limit")) set_end(*limit, settings);
  Answer answer = hand_answer(
      forecast_in_hand(at_best(scenario, ensemble), ensemble, chosen.front(), campaign.readings, settings),
      ensemble);
  if (settings.end != EndBy::reading && !any_length_measured(campaign.readings))
    answer.remark(
        About::certainty,
        "No microscope saw an apex of this campaign. So a radius or a recession rests on the scale of the tester and of the laws, which readings do not tell: it may be off by a factor of two. A limit in gram-force rests on what was read.");
  auto points =
      readings_in_wood(scenario, readings_in_hand(scenario, chosen.front(), campaign.readings), chosen);
  if (points.rows() > 0) answer.tables.push_back(std::move(points));
  if (ensemble.is_fitted()) name_confounding(answer, campaign);
  name_misses(answer, ensemble.misses);
  return answer;
}

}  // namespace arris::ask
