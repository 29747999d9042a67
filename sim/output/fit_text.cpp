// SPDX-License-Identifier: MIT
#include "sim/output/fit_text.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

#include <fmt/format.h>

#include "sim/certainty.hpp"
#include "sim/fit/confounding.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/output/fit_groups.hpp"
#include "sim/output/specimen_text.hpp"
#include "sim/output/terminal.hpp"
#include "sim/simulate/collapse_said.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

bool of_specimens(const CampaignModel& model) { return model.scenario().model.specimen.in_use; }

// "edge", or "specimen"
const char* unit_noun(const CampaignModel& model) { return of_specimens(model) ? "specimen" : "edge"; }

double scatter_pct(double log_sd) { return 100.0 * std::sqrt(std::expm1(log_sd * log_sd)); }

// `known_sd`: of the scaled parameter before any reading
std::string prior_text(const FreeParameter& p, double known_sd) {
  if (p.prior.shape == PriorShape::normal)
    return fmt::format("{} ± {}", digits(p.prior.centre), digits(p.prior.spread * known_sd));
  if (p.prior.shape == PriorShape::logit_normal) return digits(p.prior.centre) + ", a share";
  return fmt::format("{} ×/÷ {}", digits(p.prior.centre), digits(std::pow(p.prior.spread, known_sd)));
}

std::string interval(double low, double high, bool low_open, bool high_open) {
  return fmt::format("{} … {}", low_open ? "open" : digits(low), high_open ? "open" : digits(high));
}

std::string amount(double value, const std::string& unit) {
  if (std::isnan(value)) return "not had";
  if (std::isinf(value)) return "beyond 5000";
  return unit == "passes" ? decimals(value) : digits(value);
}

// whether a number rests at the end of its range where the law is a simpler one without it
bool is_none(const FreeParameter& p, const ParameterFate& fate) {
  return fate.at_bound && p.prior.shift > 0.0 && p.low >= 0.0 && fate.value < 1e-3 * p.prior.centre;
}

// what a parameter without a standard error is known by
std::string open_remark(const Identifiability& found, std::size_t parameter) {
  constexpr double     narrowed = 0.7;  // of the standard deviation of the prior
  const ParameterFate& fate     = found.parameters[parameter];
  const bool below = std::any_of(found.undetermined.begin(), found.undetermined.end(), [&](const auto& d) {
    return std::find(d.parameters.begin(), d.parameters.end(), static_cast<int>(parameter)) !=
           d.parameters.end();
  });
  const std::string by =
      std::sqrt(fate.prior_share) < narrowed ? "only together with others" : "mostly its prior";
  return below ? by + "; see below" : by;
}

std::string parameters_text(const CampaignModel& model, const FitReport& report) {
  const bool profiles = std::any_of(report.profiles.begin(), report.profiles.end(),
                                    [](const ParameterProfile& p) { return p.wanted; });
  TextTable  table({"parameter", "value", "unit", "90 % (Wald)", profiles ? "90 % (profile)" : "", "prior",
                    "narrowed to", ""},
                   {false, true, false, false, false, false, true, false});
  const Eigen::VectorXd known = known_sd(model);
  for (std::size_t i = 0; i < model.parameters().size(); ++i) {
    const FreeParameter&    p       = model.parameters()[i];
    const ParameterFate&    fate    = report.identifiability.parameters[i];
    const ParameterProfile& profile = report.profiles[i];
    const std::string       remark  = is_none(p, fate)           ? "none; see below"
                                      : fate.at_bound            ? "at a bound"
                                      : fate.is_far_from_prior() ? "not determined, far from its prior; see below"
                                      : !fate.has_standard_error ? open_remark(report.identifiability, i)
                                                                 : "";
    table.add({p.path, is_none(p, fate) ? "0" : digits(fate.value), p.unit,
               fate.has_standard_error ? interval(fate.low, fate.high, false, false) : "",
               !profile.wanted  ? ""
               : profile.usable ? interval(profile.low, profile.high, profile.low_open, profile.high_open)
                                : "not had",
               prior_text(p, known[static_cast<Eigen::Index>(i)]),
               fmt::format("{:.0f} %", 100.0 * std::sqrt(fate.prior_share)), remark});
  }
  return table.text(2);
}

std::string derived_text(const CampaignModel& model, const FitReport& report) {
  if (report.derived.empty()) return {};
  const bool profiles = report.derived.front().profile.wanted, drawn = report.draws.converged,
             laws = !report.law_draws.empty();
  TextTable table(
      {fmt::format("what follows, for the mean {}", unit_noun(model)), "value", "unit", "90 % (Wald)",
       profiles ? "90 % (profile)" : "", drawn ? "90 % (drawn)" : "", laws ? "90 % (all laws)" : "", ""},
      {false, true, false, false, false, false, false, false});
  for (const DerivedResult& d : report.derived) {
    const std::string& unit = d.quantity.unit;
    const auto         span = [&](double low, double high, bool low_open, bool high_open) {
      return fmt::format("{} … {}", low_open ? "open" : amount(low, unit),
                         high_open ? "open" : amount(high, unit));
    };
    table.add(
        {d.quantity.name, amount(d.value, unit), unit,
         d.has_standard_error ? span(d.low, d.high, false, false) : "",
         !d.profile.wanted || !std::isnan(d.prior_log_sd) ? ""
         : d.profile.usable ? span(d.profile.low, d.profile.high, d.profile.low_open, d.profile.high_open)
         : d.moved          ? "not had"
                            : "",
         drawn && d.moved && std::isnan(d.prior_log_sd) ? span(d.drawn_low, d.drawn_high, false, false) : "",
         laws && d.moved && std::isnan(d.prior_log_sd) ? span(d.laws_low, d.laws_high, false, false) : "",
         !std::isnan(d.prior_log_sd)                       ? "scale of the priors; see below"
         : !d.moved                                        ? "no fitted parameter moves it"
         : d.has_standard_error || !std::isfinite(d.value) ? ""
                                                           : "mostly the priors"});
  }
  return "\n" + table.text(2);
}

// whose numbers the parameters are, where there are several laws; empty where there is one
std::string own_law_sentence(const CampaignModel& model, const FitReport& report) {
  const auto heaviest = heaviest_of(report.laws);
  if (!heaviest || report.laws.laws.size() < 2) return {};
  const LawFit& most = report.laws.laws[*heaviest];
  if (most.best.log_posterior == report.fit.best.log_posterior)
    return fmt::format(
        " Of the wear laws below, {} is the one that these parameters are of: answers rest on it most.",
        most.name);
  return fmt::format(
      " These parameters are of {}, since [fit] frees numbers of it by name; answers rest most on {}, which [fit] without free would show.",
      model.scenario().model.wear.name(), most.name);
}

// what a fit under several laws says of them, as far as people read it first
std::string laws_sentence(const FitReport& report) {
  std::vector<std::string> left, ruled_out;
  std::vector<std::size_t> tenable;  // among those that are usable
  std::size_t              usable = 0;
  for (const LawFit& law : report.laws.laws) {
    if (!law.usable) continue;
    (law.ruled_out ? ruled_out : left).push_back(law.name);
    if (!law.ruled_out) tenable.push_back(usable);
    ++usable;
  }
  if (usable < 2) return {};
  const std::string speak =
      ruled_out.empty()
          ? fmt::format("the readings do not tell which of {} wear laws holds", usable)
          : fmt::format("the readings speak against {} and leave {}", or_list(ruled_out), and_list(left));
  const auto of_life = std::find_if(report.derived.begin(), report.derived.end(), [](const DerivedResult& d) {
    return d.moved && d.quantity.kind == DerivedKind::passes_to_limit;
  });
  if (of_life == report.derived.end())
    return fmt::format(" {}{}.", ruled_out.empty() ? "T" : "Of the wear laws t", speak.substr(1));
  double low = of_life->by_law[tenable.front()], high = low;
  for (const std::size_t k : tenable) {
    low  = std::min(low, of_life->by_law[k]);
    high = std::max(high, of_life->by_law[k]);
  }
  return fmt::format(" The {}: {} to {} by the wear law alone; {}.", of_life->quantity.name,
                     amount(low, "passes"), amount(high, "passes"), speak);
}

std::string laws_text(const CampaignModel& model, const FitReport& report) {
  if (report.law_draws.empty()) return {};
  TextTable table({"wear law", "weight", "elpd below the best", "± s.e.", "by chance", ""},
                  {false, true, true, true, true, false});
  for (const LawFit& law : report.laws.laws) {
    const bool foretold = law.usable && !law.elpd_by_edge.empty();
    table.add({law.name, law.usable ? fmt::format("{:.2f}", law.weight) : "",
               foretold ? fmt::format("{:.1f}", law.difference) : "",
               foretold ? fmt::format("{:.1f}", law.difference_se) : "",
               foretold ? fmt::format("{:.3f}", law.by_chance) : "",
               !law.usable     ? "could not be fitted: " + law.failure
               : law.ruled_out ? "the readings speak against it"
                               : ""});
  }
  return "\n" + table.text(2) +
         wrapped(
             of_specimens(model)
                 ? "Weights: with these the laws that the readings do not speak against together foretell best the readings of each specimen from those of all others; where too few were read, all that are possible weigh the same. Forecasts from this fit rest on the laws by their weights; [wear] law = \"…\" fixes one."
             : report.laws.stacked
                 ? "Weights: with these the laws that the readings do not speak against together foretell best the readings of each edge from those of all others, where each counts as if one edge had spoken for it alone. Forecasts from this fit rest on the laws by their weights; [wear] law = \"…\" fixes one."
                 : "Too few edges have readings to weigh the laws by what they foretell, so that all that are possible weigh the same. Forecasts from this fit rest on all of them; [wear] law = \"…\" fixes one.",
             100, 2);
}

// parameters at a bound and combinations that the readings do not determine, with what would settle them
std::vector<std::string> open_sentences(const CampaignModel& model, const FitReport& report) {
  std::vector<std::string> out;
  for (std::size_t i = 0; i < model.parameters().size(); ++i) {
    const FreeParameter& p    = model.parameters()[i];
    const ParameterFate& fate = report.identifiability.parameters[i];
    if (!fate.at_bound) continue;
    if (is_none(p, fate)) {
      out.push_back(fmt::format(
          "{} is 0: these readings are met best without it, by a simpler law. That it is exactly 0 is not known, so it has no standard error.",
          p.path));
      continue;
    }
    const bool lower = fate.value < std::sqrt(std::max(p.low, 1e-12) * p.high);
    out.push_back(fmt::format(
        "{} rests at the {} end of its range, {}: the readings would like it {} still, so it has no standard error, and what else is known holds it there. "
        "Readings, priors and what is held fixed do not go together here.",
        p.path, lower ? "lower" : "upper", digits(lower ? p.low : p.high), lower ? "lower" : "higher"));
  }
  for (std::string& sentence : scatter_out_of_range(model, report.fit.best))
    out.push_back(std::move(sentence));
  for (const auto& d : report.identifiability.undetermined)
    out.push_back(d.sentence + (d.settled_by.empty() ? "" : " " + d.settled_by));
  return out;
}

// by how much readings scatter: by so many per cent, or micrometres
std::string reading_scatter(const CampaignModel& model, const FitReport& report, const char* form) {
  const double sd = report.fit.best.spread.reading;
  if (model.is_additive())
    return wear_said(sd * model.typical_um(), wear_units(model.scenario().model.specimen));
  return fmt::format(fmt::runtime(form), scatter_pct(sd));
}

// operators and lots that the readings name and the fit passes over; empty where there are none
std::string unheeded_sentence(const CampaignModel& model) {
  std::set<std::string> operators, lots;
  for (const Observation& o : model.observations()) {
    if (o.kind != Observation::Kind::reading) continue;
    const Reading& r = model.readings()[static_cast<std::size_t>(o.reading)];
    if (!r.operator_name.empty()) operators.insert(r.operator_name);
    if (!r.filament_lot.empty()) lots.insert(r.filament_lot);
  }
  std::vector<std::string> whose, keys;
  const auto add_remark = [&](std::size_t count, bool heeded, const char* what, const char* key) {
    if (heeded || count < 2) return;
    whose.push_back(fmt::format("{} {}", count, what));
    keys.push_back(fmt::format("{} = true", key));
  };
  add_remark(operators.size(), model.settings().operator_effect, "operators", "operator_effect");
  add_remark(lots.size(), model.settings().lot_effect, "filament lots", "lot_effect");
  if (whose.empty()) return {};
  return fmt::format(
      "The readings come from {}, taken here as if there were no difference: if there is one, the intervals above are too narrow. Set {} in [fit] to let them differ.",
      and_list(whose), and_list(keys));
}

// "operators"
std::string plural(EffectKind kind, bool specimens = false) {
  if (kind == EffectKind::rate) return "rates of wear";
  if (kind == EffectKind::way) return "ways of sharpening";
  if (kind == EffectKind::way_wear) return "wear after ways of sharpening";
  if (specimens && kind == EffectKind::wood) return "wear on counterfaces";
  return kind == EffectKind::wood ? "wear in woods" : fmt::format("{}s", name_of(kind));
}

// below, what is told of a scatter is mostly its prior
constexpr double mostly = 0.5;

// of what is known of the scatter of readings, the share that readings tell
double told_of_readings(const FitReport& report) {
  return share_of_readings(*report.model, &Spread::reading, report.fit.information.spread_data(0, 0));
}

// lengths that rest on readings alone; empty where there are none
std::string unmeasured_sentence(const FitReport& report) {
  const auto d = std::find_if(report.derived.begin(), report.derived.end(),
                              [](const DerivedResult& q) { return !std::isnan(q.prior_log_sd); });
  if (d == report.derived.end()) return {};
  return "No radius was measured under a microscope: apex radii stand on the scale of the tester and of the laws of sharpening, and their intervals are what all priors leave open once these readings are in, parameters that were held fixed too. One radius that is measured (apex_radius_um) settles the scale of all.";
}

// what the scatter that is estimated is of: readings, or lengths where none of them comes with an uncertainty of its own
const char* scattering(const CampaignModel& model) {
  const bool of_readings = std::any_of(
      model.observations().begin(), model.observations().end(),
      [](const Observation& o) { return o.kind == Observation::Kind::reading && !(o.known_sd > 0.0); });
  if (of_specimens(model)) return "readings";
  return of_readings ? "readings" : "lengths under the microscope";
}

std::string scatter_sentence(const CampaignModel& model, const FitReport& report) {
  const Spread& s = report.fit.best.spread;
  std::string   scatter;
  const auto    add = [&](const std::string& what, double log_sd, double told, double p) {
    scatter += fmt::format("{}{} {:.1f} %{}", scatter.empty() ? "" : ", ", what, scatter_pct(log_sd),
                           told < mostly ? " (mostly assumed: too little was read)"
                              : p > 0.05    ? " (cannot be told from none)"
                                            : "");
  };
  const bool additive = model.has_reading_noise() && model.is_additive();
  if (model.has_reading_noise() && !additive)
    add(scattering(model), s.reading, told_of_readings(report), 0.0);
  for (const EffectTest& test : report.fit.effect_tests)
    add(plural(test.kind, of_specimens(model)), s.of(test.kind), test.from_readings, test.p);
  if (additive)
    return fmt::format("Scatter: readings {}{}{}.", reading_scatter(model, report, ""),
                       told_of_readings(report) < mostly ? " (mostly assumed: too little was read)" : "",
                       scatter.empty() ? "" : "; as coefficients of variation " + scatter);
  return scatter.empty() ? "Every measurement came with an uncertainty of its own; none was estimated."
                         : "Scatter, as coefficients of variation: " + scatter + ".";
}

// names of the effects of a kind, and the logs of their factors
struct FoundEffects {
  std::vector<std::string> names;
  std::vector<double>      logs;
};
FoundEffects found_effects(const CampaignModel& model, const FitReport& report, EffectKind kind) {
  FoundEffects out;
  for (std::size_t j = 0; j < model.effects().size(); ++j) {
    if (model.effects()[j].kind != kind) continue;
    out.names.push_back(model.effects()[j].name);
    out.logs.push_back(report.fit.best.effects[static_cast<Eigen::Index>(j)]);
  }
  return out;
}

// operators, lots and days in the model, and whether they differ
std::string circumstance_sentence(const CampaignModel& model, const FitReport& report,
                                  const EffectTest& test) {
  constexpr std::size_t    most  = 6;
  std::vector<std::string> names = found_effects(model, report, test.kind).names;
  const std::string        who   = names.size() > most ? std::to_string(names.size()) : and_list(names);
  const char*              key   = test.kind == EffectKind::person ? "operator_effect"
                                   : test.kind == EffectKind::lot  ? "lot_effect"
                                                                   : "day_effect";
  const std::string        differ =
      test.p < 0.05
                 ? fmt::format("They differ ({}).", by_chance(test.p))
                 : "These readings do not show that they differ; what they may differ by is in the intervals.";
  return fmt::format(
      "The readings name more than one of the {} ({}), so their differences are in the model. {} {} = false in [fit] takes them out.",
      plural(test.kind), who, differ, key);
}

// that edges, or specimens, wear at rates of their own
std::string rate_sentence(const CampaignModel& model, const FitReport& report, const EffectTest& test) {
  constexpr double much = 80.0;
  constexpr auto   of_curve =
      " Edges that were sharpened alike hardly differ so much: take it as a curve that the law does not have, or as readings under wrong passes or names.";
  const bool        specimens = of_specimens(model);
  const double      by        = scatter_pct(report.fit.best.spread.rate);
  const std::string alike     = specimens ? "Specimens" : "Edges of one history";
  if (test.members == 1 || test.from_readings < mostly)
    return fmt::format(
        "{} may wear at rates of their own; that they differ by {:.0f} % is mostly what the program assumes, as too few {} several times{}.",
        alike, by, specimens ? "were read" : "edges were read", specimens ? "" : " in wood");
  return test.p < 0.05
             ? fmt::format("{} wear at rates that differ by {:.0f} % ({}).{}", alike, by, by_chance(test.p),
                           by > much && !specimens ? of_curve : "")
             : fmt::format(
                   "These readings do not show that {} wear at rates of their own; {:.0f} % is in the intervals.",
                   specimens ? "specimens" : "edges", by);
}

// factors of ways from the draws: those of the fit, or of the law that is heaviest; none without draws
std::vector<EffectFactor> drawn_factors(const FitReport& report) {
  if (!report.draw_names.empty()) {
    std::vector<double> values;
    for (Eigen::Index i = 0; i < report.draw_values.rows(); ++i) {
      for (const double value : report.draw_values.row(i)) values.push_back(value);
    }
    return effect_factors(report.draw_names, values);
  }
  const auto heaviest =
      std::max_element(report.law_draws.begin(), report.law_draws.end(),
                       [](const FittedLaw& a, const FittedLaw& b) { return a.weight < b.weight; });
  return heaviest == report.law_draws.end() ? std::vector<EffectFactor>{}
                                            : effect_factors(heaviest->columns, heaviest->values);
}

// what ways of sharpening and woods do beside the model, and which do it for certain, the farthest first
std::string shared_sentence(const FitReport& report, const EffectTest& test) {
  constexpr std::size_t most = 4;
  const bool            wood = test.kind == EffectKind::wood;
  const std::string pct = fmt::format("by some {:.0f} %{}", scatter_pct(report.fit.best.spread.of(test.kind)),
                                      test.from_readings < mostly ? " (mostly assumed)" : "");
  const std::string many = counted(test.members, wood ? "wood" : "way");
  std::string       so =
      test.kind == EffectKind::way
                ? fmt::format(
                      "Edges were sharpened in {}, and each may leave an apex keener or blunter than the model says, {}: answers from this fit allow for that. way_effect = false in [fit] takes it out.",
                      many, pct)
            : wood
                ? fmt::format(
                      "Edges cut {}, and each may wear them faster or slower than the model says, {}: answers from this fit allow for that. wood_effect = false in [fit] takes it out.",
                      many, pct)
                : fmt::format(
                      "Edges sharpened in {} were read at work, and each way may make them wear faster or slower than the model says, {}: answers from this fit allow for that. way_wear_effect = false in [fit] takes it out.",
                      many, pct);
  std::vector<EffectFactor> off = drawn_factors(report);
  std::erase_if(
      off, [&](const EffectFactor& f) { return f.of.kind != test.kind || (f.low <= 1.0 && f.high >= 1.0); });
  if (off.empty()) return so;
  std::sort(off.begin(), off.end(), [](const EffectFactor& a, const EffectFactor& b) {
    return std::abs(std::log(a.middle)) > std::abs(std::log(b.middle));
  });
  std::vector<std::string> said;
  for (std::size_t i = 0; i < std::min(most, off.size()); ++i)
    said.push_back(fmt::format("that of \"{}\" is {} times as large ({} to {})", off[i].of.name,
                               plain(off[i].middle, 2), plain(off[i].low, 2), plain(off[i].high, 2)));
  if (off.size() > most)
    said.push_back(counted(std::ssize(off) - static_cast<std::ptrdiff_t>(most), wood ? "wood" : "way") +
                   " more");
  return fmt::format("{} Beside what the model says{}, {}.", so,
                     test.kind == EffectKind::way ? "" : " of the growth of the apex", and_list(said));
}

// which effects are in the model and why
std::vector<std::string> effect_sentences(const CampaignModel& model, const FitReport& report) {
  std::vector<std::string> out;
  for (const EffectTest& test : report.fit.effect_tests) {
    switch (test.kind) {
      case EffectKind::edge:
        if (test.members == 1)
          out.push_back(fmt::format(
              "One edge alone does not tell how edges differ: {:.0f} % is what the program assumes.",
              scatter_pct(report.fit.best.spread.edge)));
        break;
      case EffectKind::rate:
        out.push_back(rate_sentence(model, report, test));
        break;
      case EffectKind::person:
      case EffectKind::lot:
      case EffectKind::day:
        out.push_back(circumstance_sentence(model, report, test));
        break;
      case EffectKind::way:
      case EffectKind::way_wear:
      case EffectKind::wood:
        if (of_specimens(model))
          out.push_back(fmt::format(
              "Specimens wore on {}, and each may wear them faster or slower than the model says, by some {:.0f} %{}. wood_effect = false in [fit] takes it out.",
              counted(test.members, "counterface"), scatter_pct(report.fit.best.spread.of(test.kind)),
              test.from_readings < mostly ? " (mostly assumed)" : ""));
        else
          out.push_back(shared_sentence(report, test));
        break;
    }
  }
  return out;
}

// effects that should scatter about one and do not: the model misses what all of them share
std::vector<std::string> off_centre_sentences(const CampaignModel& model, const FitReport& report) {
  constexpr std::size_t    fewest     = 4;
  constexpr double         beyond     = 3.0;   // of the standard error of their mean
  constexpr double         noticeable = 0.05;  // of the mean of their logs
  std::vector<std::string> out;
  for (const EffectTest& test : report.fit.effect_tests) {
    const std::vector<double> logs = found_effects(model, report, test.kind).logs;
    if (logs.size() < fewest) continue;
    const double n           = static_cast<double>(logs.size()),
                 mean        = std::accumulate(logs.begin(), logs.end(), 0.0) / n;
    const auto [least, most] = std::minmax_element(logs.begin(), logs.end());
    const bool one_side      = *least > 0.0 || *most < 0.0;
    const bool far           = std::abs(mean) * std::sqrt(n) > beyond * report.fit.best.spread.of(test.kind);
    if (std::abs(mean) < noticeable || !(far || (one_side && logs.size() >= 6))) continue;
    out.push_back(fmt::format(
        "{} {} factors of {} lie between {} and {}, where they should lie about 1: the model misses something that they share, and the law or a number that is held fixed is wrong. Do not rely on what follows from it.",
        one_side ? "All" : "The", logs.size(), plural(test.kind, of_specimens(model)),
        plain(std::exp(*least), 2), plain(std::exp(*most), 2)));
  }
  return out;
}

// what to do about readings far off: a noise that shrugs off single ones is of use only where no whole group is missed
std::string outlier_advice(const CampaignModel& model, const FitReport& report) {
  if (report.lack_of_fit.found())
    return "; look at them before you believe the rest, and first at what the model misses";
  return model.settings().noise == "student-t"
             ? "; they count for little, as noise is \"student-t\""
             : "; look at them before you believe the rest, or set noise = \"student-t\"";
}

// how far measurements are from their predictions, in standard deviations; one that lies below what can be seen, as it is foretold to, by nothing
Eigen::VectorXd deviations(const CampaignModel& model, const FitReport& report) {
  Eigen::VectorXd out = report.fit.information.residuals;
  for (Eigen::Index i = 0; i < out.size(); ++i) {
    if (model.observations()[static_cast<std::size_t>(i)].is_below) out[i] = std::max(out[i], 0.0);
  }
  return out;
}

// which readings these are, the farthest first: " (C3 stropped, line 12)"
std::string which_readings(const CampaignModel& model, const Eigen::VectorXd& residuals, double beyond) {
  constexpr std::size_t     most = 3;
  std::vector<Eigen::Index> far;
  for (Eigen::Index i = 0; i < residuals.size(); ++i) {
    if (std::abs(residuals[i]) > beyond) far.push_back(i);
  }
  std::stable_sort(far.begin(), far.end(),
                   [&](auto a, auto b) { return std::abs(residuals[a]) > std::abs(residuals[b]); });
  std::vector<std::string> said;
  for (std::size_t k = 0; k < std::min(most, far.size()); ++k) {
    const Observation& o = model.observations()[static_cast<std::size_t>(far[k])];
    const Reading&     r = model.readings()[static_cast<std::size_t>(o.reading)];
    said.push_back(fmt::format("{} {}{}", model.scenario().edges[static_cast<std::size_t>(o.edge)].name,
                               r.moment_name, r.line > 0 ? fmt::format(", line {}", r.line) : ""));
  }
  if (far.size() > most) said.push_back(fmt::format("{} more", far.size() - most));
  return said.empty() ? std::string() : fmt::format(" ({})", fmt::join(said, "; "));
}

std::string outlier_sentence(const CampaignModel& model, const FitReport& report) {
  constexpr double      beyond    = 3.0;
  const Eigen::VectorXd residuals = deviations(model, report);
  const auto            far       = (residuals.array().abs() > beyond).count();
  const auto            excluded  = std::count_if(model.readings().begin(), model.readings().end(),
                                                  [](const Reading& r) { return !r.excluded.empty(); });
  return fmt::format(
      "{} beyond 3 standard deviations of the prediction{}{}. {}",
      far == 0   ? "No readings lie"
      : far == 1 ? "One reading lies"
                 : fmt::format("{} readings lie", far),
      which_readings(model, residuals, beyond), far == 0 ? "" : outlier_advice(model, report),
      excluded > 0 ? fmt::format("{} marked as excluded, with a reason, and left out.",
                                 excluded == 1 ? "One reading is" : fmt::format("{} readings are", excluded))
                   : "");
}

// of W, those that an earlier fit brought
Eigen::Index rows_of_earlier(const CampaignModel& model) {
  return model.begins_from() == nullptr
             ? 0
             : earlier_rules(*model.settings().earlier, model.scenario().model, model.parameters()).rows();
}

// where rules of thumb of the trade stand beside the priors of single parameters
std::string rules_sentence(const CampaignModel& model) {
  const auto rules = model.rules().rows() - rows_of_earlier(model);
  if (rules == 0) return {};
  return fmt::format(
      "Beside the priors above, {} rules of thumb of the trade (common practice, no source) bear on the free parameters but those of the tester; rules_of_thumb = false in [fit] leaves them out.",
      rules);
}

// what misses, what goes together, and which effects are in the model
std::vector<std::string> model_sentences(const CampaignModel& model, const FitReport& report) {
  std::vector<std::string> out = off_centre_sentences(model, report);
  if (!of_specimens(model))
    for (const std::string& sentence : confounding_sentences(model.scenario(), model.readings()))
      out.push_back(sentence + " The fit divides such a difference between them by their priors.");
  for (std::string& sentence : effect_sentences(model, report)) out.push_back(std::move(sentence));
  for (std::string& sentence : earlier_sentences(model)) out.push_back(std::move(sentence));
  if (std::string sentence = rules_sentence(model); !sentence.empty()) out.push_back(std::move(sentence));
  if (std::string sentence = collapse_said(fitted_scenario(model, report.fit.best), model.edges_read());
      !sentence.empty())
    out.push_back(std::move(sentence));
  return out;
}

std::string effects_text(const CampaignModel& model, const FitReport& report) {
  if (model.effects().empty()) return {};
  TextTable table({"effect", "of", "factor"}, {false, false, true});
  for (std::size_t j = 0; j < model.effects().size(); ++j) {
    const Effect& e       = model.effects()[j];
    const bool    on_face = of_specimens(model) && e.kind == EffectKind::wood;
    table.add({on_face ? "wear on a counterface" : name_of(e.kind), e.name,
               fmt::format("{:.2f}", std::exp(report.fit.best.effects[static_cast<Eigen::Index>(j)]))});
  }
  if (of_specimens(model)) return "\n  A factor on the wear of a specimen\n" + table.text(2);
  return "\n  A factor on the apex of an edge, on what it grew in wood (rate of wear), on the force of the others\n" +
         table.text(2);
}

std::string starts_text(const FitResult& fit) {
  TextTable table({"start", "log posterior", "evaluations", ""}, {true, true, true, false});
  for (std::size_t k = 0; k < fit.starts.size(); ++k) {
    const FitPoint& p = fit.starts[k];
    table.add({std::to_string(k + 1), p.usable ? fmt::format("{:.3f}", p.log_posterior) : "",
               std::to_string(p.evaluations), p.failure});
  }
  return "\n  Starts\n" + table.text(2);
}

std::string farthest_text(const CampaignModel& model, const FitReport& report) {
  const Eigen::VectorXd     residuals = deviations(model, report);
  std::vector<Eigen::Index> order(static_cast<std::size_t>(residuals.size()));
  std::iota(order.begin(), order.end(), Eigen::Index{0});
  std::sort(order.begin(), order.end(),
            [&](Eigen::Index a, Eigen::Index b) { return std::abs(residuals[a]) > std::abs(residuals[b]); });
  order.resize(std::min<std::size_t>(10, order.size()));
  TextTable  table({unit_noun(model), "when", "measured", "predicted", "in s.d."},
                   {false, false, true, true, true});
  const auto units = wear_units(model.scenario().model.specimen);
  for (const Eigen::Index i : order) {
    const Observation& o     = model.observations()[static_cast<std::size_t>(i)];
    const Reading&     r     = model.readings()[static_cast<std::size_t>(o.reading)];
    const bool         force = o.kind == Observation::Kind::reading;
    if (of_specimens(model)) {
      table.add({model.scenario().edges[static_cast<std::size_t>(o.edge)].name, r.moment_name,
                 (o.is_below ? "below " : "") + wear_said(model.in_unit(o.log_value), units),
                 wear_said(model.in_unit(report.fit.information.predicted[i]), units),
                 fmt::format("{:+.1f}", -residuals[i])});
      continue;
    }
    const double unit   = force ? laws::in_gram_force(1.0) : 1.0;
    const char*  symbol = force ? "gf" : o.kind == Observation::Kind::mass_loss ? "mg" : "µm";
    table.add({model.scenario().edges[static_cast<std::size_t>(o.edge)].name, r.moment_name,
               fmt::format("{} {}", digits(unit * std::exp(o.log_value)), symbol),
               fmt::format("{} {}", digits(unit * std::exp(report.fit.information.predicted[i])), symbol),
               fmt::format("{:+.1f}", -residuals[i])});
  }
  return "\n  The ten farthest from their prediction\n" + table.text(2);
}

std::string draws_sentence(const FitReport& report) {
  const Draws& d = report.draws;
  if (report.importance.usable)
    return fmt::format(
        "{} posterior draws out of {} proposals by importance, worth {:.0f} independent ones (Pareto shape of the weights {:.2f}; up to 0.7 they can be trusted).",
        d.values.rows(), report.importance.proposals, report.importance.effective, report.importance.shape);
  if (d.converged)
    return fmt::format(
        "{} posterior draws from {} steps (burn-in {}, acceptance {:.0f} %, longest autocorrelation {:.0f} steps, largest R-hat {:.3f}).",
        d.values.rows(), d.steps, d.burn_in, 100.0 * d.acceptance, d.autocorrelation.maxCoeff(),
        d.r_hat.maxCoeff());
  if (d.autocorrelation.size() == 0)
    return "No posterior draws: no walker could be started near the optimum.";
  return fmt::format(
      "No posterior draws: {} steps were not enough (autocorrelation {:.0f} steps, R-hat {:.3f}; allowed 1.05). Try another --seed first; then free fewer parameters, or those that the readings determine.",
      d.steps, d.autocorrelation.maxCoeff(), d.r_hat.maxCoeff());
}

// where so few starts came to the best place that a better one may have been missed
std::string missed_place_sentence(const FitResult& fit) {
  constexpr int rare   = 8;  // one in so many
  const auto    starts = static_cast<int>(fit.starts.size());
  if (starts < rare || rare * fit.agreeing > starts) return {};
  return fmt::format(
      "Only {} of {} starts came to this place, the others to worse ones: there may be a better one still. More starts look for it: --starts {}.",
      fit.agreeing, starts, 4 * starts);
}

std::string draws_text(const CampaignModel& model, const FitReport& report) {
  std::string said = "\n" + wrapped(draws_sentence(report), text_width(), 2);
  if (!report.draws.converged) return said;
  TextTable quantiles({"drawn", "5 %", "median", "95 %"}, {false, true, true, true});
  for (std::size_t c = 0; c < report.draw_names.size(); ++c) {
    Eigen::VectorXd column = report.draw_values.col(static_cast<Eigen::Index>(c));
    std::sort(column.begin(), column.end());
    // additive noise is drawn over the typical wear
    const bool   in_um = model.is_additive() && report.draw_names[c] == "sd of readings";
    const double unit  = in_um ? model.typical_um() : 1.0;
    const auto   at    = [&](double share) {
      return digits(unit * column[static_cast<Eigen::Index>(share * static_cast<double>(column.size() - 1))]);
    };
    quantiles.add({report.draw_names[c] + (in_um ? ", µm" : ""), at(0.05), at(0.5), at(0.95)});
  }
  return said + quantiles.text(2);
}

}  // namespace

std::string fit_line(const CampaignModel& model, const FitReport& report) {
  const FitResult& fit = report.fit;
  if (!fit.converged) {
    return fmt::format("The fit did not converge from any of {}: {}.",
                       counted(std::ssize(fit.starts), "start"),
                       fit.best.failure.empty() ? "no start could be run" : fit.best.failure);
  }
  std::string text =
      fmt::format("{} fitted to {} of {}", counted(std::ssize(model.parameters()), "parameter"),
                  counted(std::ssize(model.observations()), "measurement"),
                  counted(model.edges_with_readings(), unit_noun(model)));
  std::string scatter;
  const auto  assumed = [](double told) { return told < mostly ? " (mostly assumed)" : ""; };
  if (model.has_reading_noise())
    scatter = fmt::format("{} scatter by {}{}", scattering(model), reading_scatter(model, report, "{:.0f} %"),
                          assumed(told_of_readings(report)));
  for (const EffectTest& test : fit.effect_tests) {
    if (test.kind != EffectKind::edge) continue;
    scatter += fmt::format("{} by {:.0f} %{}",
                           scatter.empty() ? "apex radii of edges scatter" : ", apex radii of edges",
                           scatter_pct(fit.best.spread.edge), assumed(test.from_readings));
  }
  if (!scatter.empty()) text += ": " + scatter;
  text += fmt::format("; {} of {} starts agree", fit.agreeing, fit.starts.size());
  const auto open = std::ssize(report.identifiability.undetermined);
  text += open == 0 ? "; the readings determine all of them."
                    : fmt::format("; {} the readings do not determine.",
                                  open == 1 ? "one combination" : counted(open, "combination"));
  if (report.draws_wanted && !report.draws.converged)
    text += " No posterior draws could be made; the last sentence of this page says why.";
  for (const std::string& miss : misses(report.lack_of_fit)) text += " " + miss;
  return text + laws_sentence(report);
}

std::string fit_page(const CampaignModel& model, const FitReport& report, bool full) {
  if (!report.fit.converged) return {};
  std::string out = parameters_text(model, report) + "\n";
  out += wrapped(
      "\"Narrowed to\" is the standard deviation that is left, in per cent of the prior's. Profiles hold the scatter at its best value." +
          own_law_sentence(model, report),
      100, 2);
  for (const std::string& sentence : open_sentences(model, report))
    out += "\n" + wrapped(sentence, text_width(), 2);
  out += derived_text(model, report);
  out += laws_text(model, report);
  if (const std::string sentence = unmeasured_sentence(report); !sentence.empty())
    out += "\n" + wrapped(sentence, text_width(), 2);
  out += "\n" + wrapped(scatter_sentence(model, report), text_width(), 2);
  out += wrapped(outlier_sentence(model, report), text_width(), 2);
  if (const std::string sentence = missed_place_sentence(report.fit); !sentence.empty())
    out += wrapped(sentence, text_width(), 2);
  for (const std::string& remark : fit_remarks(report.lack_of_fit)) out += wrapped(remark, text_width(), 2);
  out += wrapped(unheeded_sentence(model), text_width(), 2);
  for (const std::string& sentence : model_sentences(model, report))
    out += wrapped(sentence, text_width(), 2);
  if (full) out += effects_text(model, report) + starts_text(report.fit) + farthest_text(model, report);
  if (report.draws_wanted) out += draws_text(model, report);
  return out;
}

Answer fit_sentences(const CampaignModel& model, const FitReport& report, const std::string& readings) {
  Answer answer;
  answer.kind     = "fit";
  answer.headline = fit_line(model, report);
  answer.rests_on = fmt::format(
      "Rests on {}{} and the priors of the parameters. A fitted value is an estimate, not a promise.",
      printable(readings),
      model.begins_from() == nullptr ? "" : ", " + printable(model.settings().earlier->source));
  if (!report.fit.converged) return answer;
  for (std::string& sentence : open_sentences(model, report))
    answer.remark(About::certainty, std::move(sentence));
  if (std::string sentence = unmeasured_sentence(report); !sentence.empty())
    answer.remark(About::certainty, std::move(sentence));
  answer.remark(About::certainty, scatter_sentence(model, report));
  answer.remark(About::certainty, outlier_sentence(model, report));
  if (std::string sentence = missed_place_sentence(report.fit); !sentence.empty())
    answer.remark(About::certainty, std::move(sentence));
  for (std::string& remark : fit_remarks(report.lack_of_fit))
    answer.remark(About::certainty, std::move(remark));
  if (std::string sentence = unheeded_sentence(model); !sentence.empty())
    answer.remark(About::certainty, std::move(sentence));
  for (std::string& sentence : model_sentences(model, report))
    answer.remark(About::certainty, std::move(sentence));
  return answer;
}

std::string gradient_text(const GradientCheck& check) {
  TextTable table({"parameter", "largest difference", ""}, {false, true, false});
  for (const auto& row : check.rows)
    table.add(
        {row.parameter, fmt::format("{:.1e}", row.worst), row.worst <= check.allowed ? "" : "too large"});
  return fmt::format(
      "Exact derivatives {} central differences to {:g} of the largest slope of each parameter.\n{}",
      check.passed() ? "agree with" : "do NOT agree with", check.allowed, table.text(2));
}

}  // namespace arris
