// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/figures/curves.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/lines.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/columns.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {
namespace {

Figure agreement(const StoredResult& r) {
  figures::AgreementFigure a;
  const auto &             kind = r.words("readings", "kind"), &edge = r.words("readings", "edge"),
             &moment    = r.words("readings", "moment");
  const auto &predicted = r.column("readings", "predicted"), &measured = r.column("readings", "measured");
  const bool  wears = std::find(kind.begin(), kind.end(), "wear") != kind.end();
  for (std::size_t i = 0; i < kind.size(); ++i) {
    if (kind[i] == "wear" && measured[i] > 0.0 && predicted[i] > 0.0) {  // on equal ratios
      a.predicted.push_back(predicted[i]);
      a.measured.push_back(measured[i]);
      a.says.push_back(fmt::format("{}, {}: {} µm measured, {} predicted", edge[i], moment[i],
                                   figures::figure_number(measured[i]),
                                   figures::figure_number(predicted[i])));
    }
    if (kind[i] != "reading") continue;
    a.predicted.push_back(laws::in_gram_force(predicted[i]));
    a.measured.push_back(laws::in_gram_force(measured[i]));
    a.says.push_back(fmt::format("{}, {}: {} gf measured, {} predicted", edge[i], moment[i],
                                 figures::figure_number(a.measured.back()),
                                 figures::figure_number(a.predicted.back())));
  }
  a.title = "Measured against predicted readings";
  a.unit  = wears ? "µm" : "gf";
  // no band where readings scatter by so many micrometres
  const bool in_logs = r.numbers.count("sd_readings") > 0 && r.numbers.count("sd_readings_um") == 0;
  a.scatter          = in_logs ? r.numbers.at("sd_readings") : 0.0;
  a.description      = fmt::format("{} readings around the line on which measured and predicted are equal.",
                                   a.measured.size());
  Figure f;
  f.name  = "agreement";
  f.title = "Do model and readings agree?";
  f.caption =
      "On the line they do. The band holds 95 of 100 readings if single readings scatter as the fit says. "
      "The prediction knows which edge it is, who read and with which filament lot.";
  f.draw = [a](double width, const std::string& id) { return figures::agreement_svg(a, width, id); };
  AnswerTable table = columns_of(r.needed("readings"), {{"edge", "edge"},
                                                        {"moment", "when"},
                                                        {"kind", "kind"},
                                                        {"measured", "measured (gf, µm, mg)"},
                                                        {"predicted", "predicted"},
                                                        {"residual", "residual in s.d."}});
  table.says        = "Every measurement";
  // files have newtons, people grams, here as everywhere
  for (AnswerColumn& c : table.columns) {
    if (c.name != "measured" && c.name != "predicted") continue;
    for (std::size_t i = 0; i < kind.size(); ++i) {
      if (kind[i] == "reading") c.numbers[i] = laws::in_gram_force(c.numbers[i]);
    }
  }
  f.tables.push_back(std::move(table));
  return f;
}

Figure residuals(const StoredResult& r) {
  figures::CurveFigure c;
  figures::CurvePanel  p;
  bool                 wears = false;
  const auto &         kind = r.words("readings", "kind"), &edge = r.words("readings", "edge"),
             &moment    = r.words("readings", "moment");
  const auto &predicted = r.column("readings", "predicted"), &residual = r.column("readings", "residual");
  for (std::size_t i = 0; i < kind.size(); ++i) {
    if (kind[i] != "reading" && kind[i] != "wear") continue;
    if (kind[i] == "wear") wears = true;
    p.points.push_back(
        {wears ? predicted[i] : laws::in_gram_force(predicted[i]), residual[i], residual[i], residual[i],
         fmt::format("{}, {}: {} s.d.", edge[i], moment[i], figures::figure_number(residual[i], 2))});
    p.x.push_back(p.points.back().x);
  }
  const auto ends = std::minmax_element(p.x.begin(), p.x.end());
  p.x             = {*ends.first, *ends.second};
  p.y             = {0.0, 0.0};
  p.bands         = {{{-2.0, -2.0}, {2.0, 2.0}, "ink"}};
  p.x_label       = wears ? "predicted, µm" : "predicted, gf";
  c.title         = "Residuals of the readings";
  c.description =
      "How far each reading lies from its prediction, in standard deviations, against the prediction.";
  c.y_label    = "residual, standard deviations";
  c.band_says  = {{"ink", "95 of 100 lie within"}};
  c.points_say = "readings";
  c.panels.push_back(std::move(p));
  Figure f;
  f.name  = "residuals";
  f.title = "What the model misses";
  f.caption =
      "A slope, a bow or a cluster off the middle line would be something that the model does not know; the table above names each reading.";
  f.draw = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  return f;
}

// the parameters that were fitted, a row each; columns of one length
struct FittedParameters {
  const std::vector<std::string>&path, &says, &unit;
  const std::vector<double>&     value, &low, &high, &prior_centre, &prior_spread;
};

FittedParameters fitted_parameters(const StoredResult& r) {
  const auto text    = [&](const char* name) -> const auto& { return r.words("parameters", name); };
  const auto numbers = [&](const char* name) -> const auto& { return r.column("parameters", name); };
  const FittedParameters p{.path         = text("parameter"),
                           .says         = text("says"),
                           .unit         = text("unit"),
                           .value        = numbers("value"),
                           .low          = numbers("low"),
                           .high         = numbers("high"),
                           .prior_centre = numbers("prior_centre"),
                           .prior_spread = numbers("prior_spread")};
  for (const std::size_t size : {p.says.size(), p.unit.size(), p.value.size(), p.low.size(), p.high.size(),
                                 p.prior_centre.size(), p.prior_spread.size()}) {
    if (size != p.path.size()) r.refuse("columns of /parameters are not of one length");
  }
  return p;
}

// units as people write them
std::vector<std::string> shown_units(std::vector<std::string> units) {
  std::transform(units.begin(), units.end(), units.begin(), &unit_for_people);
  return units;
}

AnswerTable parameter_table(const FittedParameters& p) {
  AnswerTable table;
  table.name = "parameters";
  table.says = "Parameters, with 90 % intervals (Wald)";
  table.text("says", "parameter", "what it is", p.says);
  table.text("parameter", "in the configuration", "path", p.path);
  table.number("value", "1", "value", "fitted value", p.value);
  table.number("low", "1", "from", "lower end", p.low);
  table.number("high", "1", "to", "upper end", p.high);
  table.text("unit", "unit", "unit", shown_units(p.unit));
  table.number("prior_centre", "1", "prior middle", "", p.prior_centre);
  table.number("prior_spread", "1", "prior spread", "", p.prior_spread);
  return table;
}

// how far each has moved from its prior, where that is a ratio
figures::IntervalFigure beside_priors(const FittedParameters& p) {
  figures::IntervalFigure moved;
  moved.title       = "Fitted parameters over what was believed before";
  moved.description = "Each parameter with its 90 % interval as a multiple of the middle of its prior.";
  figures::IntervalColumn fitted{
      .label = "fitted ÷ prior middle, with 90 %", .log = true, .level = 1.0, .level_says = "prior"};
  figures::IntervalColumn before{.label = "prior ÷ its middle, 90 %", .log = true};
  for (std::size_t i = 0; i < p.path.size(); ++i) {
    const double centre = p.prior_centre[i];
    if (!(centre > 0.0) || !(p.value[i] > 0.0) || !(p.prior_spread[i] > 1.0)) continue;
    moved.rows.push_back(p.says[i]);
    fitted.value.push_back(p.value[i] / centre);
    fitted.low.push_back(p.low[i] / centre);
    fitted.high.push_back(p.high[i] / centre);
    const double far = std::pow(p.prior_spread[i], 1.645);
    before.value.push_back(1.0);
    before.low.push_back(1.0 / far);
    before.high.push_back(far);
  }
  moved.columns = {fitted, before};
  return moved;
}

// the parameters beside their priors; only their table where none of the priors is a ratio
void add_parameters(const FittedParameters& parameters, Section& s) {
  const figures::IntervalFigure moved = beside_priors(parameters);
  if (moved.rows.empty()) {
    s.tables.push_back(parameter_table(parameters));
    return;
  }
  Figure f = drawn(
      "parameters", "What the readings taught",
      "Left: each fitted value as a multiple of what was believed before; right: how far that belief reached. The narrower on the left, the more the readings say. An interval that is missing is not determined.",
      moved);
  f.tables.push_back(parameter_table(parameters));
  s.figures.push_back(std::move(f));
}

// the profile of a parameter, where it was worked out
std::optional<figures::ProfilePanel> profile_of(const StoredResult& r, const FittedParameters& parameters,
                                                std::size_t i) {
  std::string group = parameters.path[i];
  std::replace_if(
      group.begin(), group.end(), [](char c) { return c == '/' || c == ' '; }, '_');
  if (!r.has_column("profile/" + group, "rise")) return std::nullopt;
  figures::ProfilePanel p;
  p.name  = parameters.says[i];
  p.unit  = unit_for_people(parameters.unit[i]);
  p.value = r.column("profile/" + group, "value");
  p.rise  = r.column("profile/" + group, "rise");
  p.best  = parameters.value[i];
  // the best value is a point of the curve too
  const auto where = std::lower_bound(p.value.begin(), p.value.end(), p.best) - p.value.begin();
  if (std::is_sorted(p.value.begin(), p.value.end()) &&
      std::find(p.value.begin(), p.value.end(), p.best) == p.value.end()) {
    p.value.insert(p.value.begin() + where, p.best);
    p.rise.insert(p.rise.begin() + where, 0.0);
  }
  return p;
}

AnswerTable profile_table(const std::vector<figures::ProfilePanel>& panels) {
  std::vector<std::string> of;
  std::vector<double>      at, rise;
  for (const figures::ProfilePanel& p : panels) {
    of.insert(of.end(), p.value.size(), p.name);
    at.insert(at.end(), p.value.begin(), p.value.end());
    rise.insert(rise.end(), p.rise.begin(), p.rise.end());
  }
  AnswerTable points{.name = "profiles", .says = "Points of the profiles", .axis = "point"};
  points.text("parameter", "parameter", "what it is", of);
  points.number("value", "1", "held at", "", at, 4);
  points.number("rise", "1", "rise", "", rise);
  return points;
}

void add_profiles(const StoredResult& r, const FittedParameters& parameters, Section& s) {
  figures::ProfileFigure profiles;
  profiles.title       = "Profiles of the parameters";
  profiles.description = "How much worse the fit becomes as each parameter is held away from its best value.";
  for (std::size_t i = 0; i < parameters.path.size(); ++i) {
    if (auto panel = profile_of(r, parameters, i)) profiles.panels.push_back(std::move(*panel));
  }
  if (profiles.panels.empty()) return;
  Figure f;
  f.name  = "profiles";
  f.title = "How surely is each parameter known?";
  f.caption =
      "Upwards: how much worse everything fits (rise of −2 log posterior) while the others are fitted anew. Below the line lie the 90 % that are believable; a curve that stays flat is not known.";
  f.draw = [profiles](double width, const std::string& id) {
    return figures::profiles_svg(profiles, width, id);
  };
  f.tables.push_back(profile_table(profiles.panels));
  s.figures.push_back(std::move(f));
}

AnswerTable derived_table(const StoredResult& r) {
  AnswerTable derived = columns_of(r.needed("derived"), {{"quantity", "what follows, for the mean edge"},
                                                         {"value", "value"},
                                                         {"unit", "unit"},
                                                         {"low", "from (Wald)"},
                                                         {"high", "to  "},
                                                         {"profile_low", "from (profile)"},
                                                         {"profile_high", "to"},
                                                         {"drawn_low", "from (drawn)"},
                                                         {"drawn_high", "to "}});
  for (AnswerColumn& c : derived.columns) {
    if (c.name == "unit") c.texts = shown_units(std::move(c.texts));
  }
  derived.says = "What follows from the parameters, with 90 %";
  return derived;
}

AnswerTable laws_table(const StoredResult& r) {
  AnswerTable laws = columns_of(r.needed("laws"), {{"law", "wear law"},
                                                   {"weight", "weight"},
                                                   {"difference", "elpd below the best"},
                                                   {"difference_se", "± s.e."},
                                                   {"by_chance", "by chance"}});
  laws.says        = "The wear laws side by side: how well each foretells edges that were left out";
  return laws;
}

AnswerTable misses_table(const StoredResult& r) {
  AnswerTable table = columns_of(r.needed("lack_of_fit"), {{"test", "looked for"},
                                                           {"edges", "edges"},
                                                           {"ratio", "measured ÷ predicted"},
                                                           {"p", "p by itself"},
                                                           {"p_of_all", "p, all together"}});
  table.says        = "Does the model fit? Misses that were looked for";
  return table;
}

void add_next_steps(const StoredResult& r, Section& s) {
  const bool        draws = r.table("draws") != nullptr;
  const std::string file = shell_word(configuration_file(r)), fit = shell_word(r.file);
  s.next.push_back(
      draws
          ? fmt::format("Let answers rest on these readings: arris forecast {} --fit {}", file, fit)
          : fmt::format(
                "Draw from what the readings leave open, so that forecasts can rest on it: arris fit {} --draws 2000 --out fit.h5",
                file));
  s.next.push_back(fmt::format("See which readings would teach most: arris plan {}{}", file,
                               draws ? " --fit " + fit : ""));
}

}  // namespace

void add_fit(const StoredResult& r, Section& s) {
  if (r.has_column("readings", "kind")) {
    const auto& kind = r.words("readings", "kind");
    if (std::find_if(kind.begin(), kind.end(),
                     [](const std::string& k) { return k == "reading" || k == "wear"; }) != kind.end()) {
      s.figures.push_back(agreement(r));
      s.figures.push_back(residuals(r));
    }
  }
  const FittedParameters parameters = fitted_parameters(r);
  add_parameters(parameters, s);
  add_profiles(r, parameters, s);
  if (r.table("lack_of_fit") != nullptr) s.tables.push_back(misses_table(r));
  if (r.table("derived") != nullptr) s.tables.push_back(derived_table(r));
  if (r.table("laws") != nullptr) s.tables.push_back(laws_table(r));
  if (r.numbers.count("starts_agreeing") > 0 && r.has_column("starts", "log_posterior"))
    s.certainty.push_back(fmt::format("{:.0f} of {} starting points ended at the same best fit.",
                                      r.numbers.at("starts_agreeing"),
                                      r.column("starts", "log_posterior").size()));
  add_next_steps(r, s);
}

}  // namespace arris::report
