// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/specimen_forecast.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/numbers.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

using SpecimenColumns = ItemColumns<EdgeForecast>;

double way_in_files(double way) { return std::isinf(way) ? not_given : way; }

// as one would say it, up to as far as was looked
std::string way_text(double way, const Forecast& forecast) {
  return std::isinf(way) ? "more than " + plain(forecast.settings.passes) : plain(way);
}

std::string load_text(const EdgeForecast& f) {
  const double load_N = std::get<CutStep>(f.plan.steps.back()).load_N;
  return std::isnan(load_N) ? std::string{} : plain(load_N) + " N ";
}

std::string limit_text(const Forecast& forecast, const WearUnits& units) {
  return fmt::format("{} {}", plain(forecast.settings.limit_N * units.per_um), units.symbol);
}

std::string first_specimen_sentence(const Forecast& forecast, const WearUnits& units) {
  const EdgeForecast& first = forecast.edges.front();
  const std::string   who   = fmt::format("Specimen {} ({}on {})", first.edge, load_text(first), first.wood);
  if (std::isinf(first.mean_passes.middle))
    return fmt::format("{} is still below a {} of {} after {} {}.", who, units.quantity,
                       limit_text(forecast, units), plain(forecast.settings.passes), units.way);
  const std::string lasts =
      fmt::format("{} reaches a {} of {} after {} {}", who, units.quantity, limit_text(forecast, units),
                  plain(first.mean_passes.middle), units.way);
  if (forecast.members == 1) return lasts + ".";
  return fmt::format("{}; {:.0f} in 10 such specimens do so after {} to {}.", lasts,
                     10.0 * forecast.settings.share, way_text(first.next_passes.low, forecast),
                     way_text(first.next_passes.high, forecast));
}

AnswerTable lives_of_specimens(const Forecast& forecast, const WearUnits& units) {
  const std::string way = units.way, unit = units.way_symbol;
  AnswerTable       table{.name = "lives",
                          .says = fmt::format("{} until a {} of {} ({})", way, units.quantity,
                                              limit_text(forecast, units), forecast.settings.limit_name),
                          .axis = "specimen"};
  table.says.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(table.says.front())));
  SpecimenColumns specimens(table, forecast.edges);
  specimens.text("specimen", "specimen", "name of the specimen", &EdgeForecast::edge);
  specimens.text("counterface", "counterface", "what it wears on", &EdgeForecast::wood);
  specimens.number("load_N", "N", "load N", "load on it",
                   [](const EdgeForecast& f) { return std::get<CutStep>(f.plan.steps.back()).load_N; });
  specimens.text("life", "mean specimen", way + " of the mean specimen",
                 [&](const EdgeForecast& f) { return way_text(f.mean_passes.middle, forecast); });
  specimens.text(
      "next_specimens", fmt::format("next specimens, {:.0f} in 10", 10.0 * forecast.settings.share),
      "span of the next specimens", [&](const EdgeForecast& f) {
        if (forecast.members == 1) return std::string{};
        return way_text(f.next_passes.low, forecast) + " … " + way_text(f.next_passes.high, forecast);
      });
  const auto number = [&](const char* name, const char* says, auto&& of) {
    specimens.number(name + way, unit, "", says, [of](const EdgeForecast& f) { return way_in_files(of(f)); });
  };
  number("", "way of the mean specimen; missing when it outlasts what was looked at",
         [](const EdgeForecast& f) { return f.mean_passes.middle; });
  number("low_", "lower end of its band", [](const EdgeForecast& f) { return f.mean_passes.low; });
  number("high_", "upper end of its band", [](const EdgeForecast& f) { return f.mean_passes.high; });
  number("next_", "way of the next specimen", [](const EdgeForecast& f) { return f.next_passes.middle; });
  number("next_low_", "lower end of the band of next specimens",
         [](const EdgeForecast& f) { return f.next_passes.low; });
  number("next_high_", "upper end of the band of next specimens",
         [](const EdgeForecast& f) { return f.next_passes.high; });
  return table;
}

AnswerTable curves_of_specimens(const Forecast& forecast, const WearUnits& units) {
  struct WearPoint {
    std::string specimen;
    double      way;
    Band        mean, next;
  };
  std::vector<WearPoint> all;
  for (const EdgeForecast& f : forecast.edges) {
    for (std::size_t k = 0; k < f.at.size(); ++k) all.push_back({f.edge, f.at[k], f.mean_N[k], f.next_N[k]});
  }
  AnswerTable            table{.name        = "curves",
                               .says        = fmt::format("{} against {}", units.quantity, units.way),
                               .axis        = "point",
                               .on_terminal = false};
  ItemColumns<WearPoint> points(table, all);
  points.text("specimen", "", "name of the specimen", &WearPoint::specimen);
  points.number(units.way, units.way_symbol, "", "way that it has worn", &WearPoint::way);
  const auto wear = [&](const std::string& name, const std::string& says, auto&& of) {
    points.number(name + units.suffix, units.symbol, "", says,
                  [of, per_um = units.per_um](const WearPoint& p) { return per_um * of(p); });
  };
  wear("wear_", "wear of the mean specimen", [](const WearPoint& p) { return p.mean.middle; });
  wear("wear_low_", "lower end of its band", [](const WearPoint& p) { return p.mean.low; });
  wear("wear_high_", "upper end of its band", [](const WearPoint& p) { return p.mean.high; });
  wear("next_wear_", "wear of the next specimen", [](const WearPoint& p) { return p.next.middle; });
  wear("next_wear_low_", "lower end of the band of next specimens",
       [](const WearPoint& p) { return p.next.low; });
  wear("next_wear_high_", "upper end of the band of next specimens",
       [](const WearPoint& p) { return p.next.high; });
  return table;
}

AnswerTable laws_of_specimens(const Forecast& forecast, const WearUnits& units) {
  struct OfLaw {
    std::string specimen;
    LawForecast of;
  };
  std::vector<OfLaw> all;
  for (const EdgeForecast& f : forecast.edges) {
    for (const LawForecast& law : f.laws) all.push_back({f.edge, law});
  }
  AnswerTable        table{.name = "laws",
                           .says = fmt::format("{} of the mean specimen under each wear law", units.way),
                           .axis = "law"};
  ItemColumns<OfLaw> rows(table, all);
  rows.text("specimen", "specimen", "name of the specimen", &OfLaw::specimen);
  rows.text("law", "wear law", "name of the law", [](const OfLaw& l) { return l.of.law; });
  rows.number("weight", "1", "weight", "weight of the law", [](const OfLaw& l) { return l.of.weight; });
  rows.text("life", units.way, "way under it, median of its members", [&](const OfLaw& l) {
    return std::isnan(l.of.passes) ? std::string{} : way_text(l.of.passes, forecast);
  });
  rows.number(units.way, units.way_symbol, "", "the same as a number",
              [](const OfLaw& l) { return way_in_files(l.of.passes); });
  return table;
}

}  // namespace

Answer specimen_forecast_answer(const Forecast& forecast, const Ensemble& ensemble, const WearUnits& units) {
  Answer answer;
  answer.kind     = "forecast";
  answer.headline = first_specimen_sentence(forecast, units);
  answer.tables   = {lives_of_specimens(forecast, units), curves_of_specimens(forecast, units)};
  answer.remarks  = {
       "The mean specimen goes on as in its first step, under that load. The next specimen differs from it as specimens made alike do, and as the model may be off."};
  if (ensemble.has_laws()) answer.tables.push_back(laws_of_specimens(forecast, units));
  int failed = 0;
  for (const EdgeForecast& f : forecast.edges) failed += f.failed;
  if (failed > 0)
    answer.remarks.push_back(
        fmt::format("Of {} members {} could not be run and are left out.", forecast.members, failed));
  if (!ensemble.is_fitted() && forecast.members > 1)
    answer.remark(
        About::next,
        "With nothing fitted the span is that of the priors. Readings narrow it: arris fit FILE --draws 2000 --out fit.h5, then --fit fit.h5 here.");
  answer.rests_on = ensemble.rests_on;
  answer.settings = {{"limit_um", forecast.settings.limit_N},
                     {units.way, forecast.settings.passes},
                     {"share", forecast.settings.share},
                     {"members", static_cast<double>(forecast.members)}};
  return answer;
}

}  // namespace arris
