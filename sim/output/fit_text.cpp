// SPDX-License-Identifier: MIT
#include "sim/output/fit_text.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

#include <fmt/format.h>

#include "sim/output/fit_groups.hpp"
#include "sim/output/terminal.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

double scatter_pct(double log_sd) { return 100.0 * std::sqrt(std::expm1(log_sd * log_sd)); }

std::string prior_text(const FreeParameter& p) {
  if (p.prior.shape == PriorShape::normal)
    return fmt::format("{} ± {}", digits(p.prior.centre), digits(p.prior.spread));
  if (p.prior.shape == PriorShape::logit_normal) return digits(p.prior.centre) + ", a share";
  return fmt::format("{} ×/÷ {}", digits(p.prior.centre), digits(p.prior.spread));
}

std::string interval(double low, double high, bool low_open, bool high_open) {
  return fmt::format("{} … {}", low_open ? "open" : digits(low), high_open ? "open" : digits(high));
}

std::string amount(double value, const std::string& unit) {
  if (std::isnan(value)) return "not had";
  if (std::isinf(value)) return "beyond 5000";
  return unit == "passes" ? decimals(value) : digits(value);
}

std::string parameters_text(const CampaignModel& model, const FitReport& report) {
  const bool profiles = std::any_of(report.profiles.begin(), report.profiles.end(),
                                    [](const ParameterProfile& p) { return p.wanted; });
  TextTable  table({"parameter", "value", "unit", "90 % (Wald)", profiles ? "90 % (profile)" : "", "prior",
                    "narrowed to", ""},
                   {false, true, false, false, false, false, true, false});
  for (std::size_t i = 0; i < model.parameters().size(); ++i) {
    const FreeParameter&    p       = model.parameters()[i];
    const ParameterFate&    fate    = report.identifiability.parameters[i];
    const ParameterProfile& profile = report.profiles[i];
    const std::string       remark  = fate.at_bound              ? "at a bound"
                                      : !fate.has_standard_error ? "its prior; see below"
                                                                 : "";
    table.add({p.path, digits(fate.value), p.unit,
               fate.has_standard_error ? interval(fate.low, fate.high, false, false) : "",
               !profile.wanted  ? ""
               : profile.usable ? interval(profile.low, profile.high, profile.low_open, profile.high_open)
                                : "not had",
               prior_text(p), fmt::format("{:.0f} %", 100.0 * std::sqrt(fate.prior_share)), remark});
  }
  return table.text(2);
}

std::string derived_text(const FitReport& report) {
  if (report.derived.empty()) return {};
  const bool profiles = report.derived.front().profile.wanted, drawn = report.draws.converged;
  TextTable  table({"what follows, for the mean edge", "value", "unit", "90 % (Wald)",
                   profiles ? "90 % (profile)" : "", drawn ? "90 % (drawn)" : "", ""},
                   {false, true, false, false, false, false, false});
  for (const DerivedResult& d : report.derived) {
    const std::string& unit = d.quantity.unit;
    const auto         span = [&](double low, double high, bool low_open, bool high_open) {
      return fmt::format("{} … {}", low_open ? "open" : amount(low, unit),
                         high_open ? "open" : amount(high, unit));
    };
    table.add({d.quantity.name, amount(d.value, unit), unit,
               d.has_standard_error ? span(d.low, d.high, false, false) : "",
               !d.profile.wanted ? ""
               : d.profile.usable
                   ? span(d.profile.low, d.profile.high, d.profile.low_open, d.profile.high_open)
               : d.moved ? "not had"
                         : "",
               drawn && d.moved ? span(d.drawn_low, d.drawn_high, false, false) : "",
               !d.moved                                          ? "no fitted parameter moves it"
               : d.has_standard_error || !std::isfinite(d.value) ? ""
                                                                 : "mostly the priors"});
  }
  return "\n" + table.text(2);
}

// parameters at a bound and combinations that the readings do not determine, with what would settle them
std::vector<std::string> open_sentences(const CampaignModel& model, const FitReport& report) {
  std::vector<std::string> out;
  for (std::size_t i = 0; i < model.parameters().size(); ++i) {
    const FreeParameter& p    = model.parameters()[i];
    const ParameterFate& fate = report.identifiability.parameters[i];
    if (!fate.at_bound) continue;
    const bool lower = fate.value < std::sqrt(std::max(p.low, 1e-12) * p.high);
    out.push_back(fmt::format(
        "{} rests at the {} end of its range, {}: the readings would like it {} still, so it has no standard error, and what else is known holds it there. "
        "Readings, priors and what is held fixed do not go together here.",
        p.path, lower ? "lower" : "upper", digits(lower ? p.low : p.high), lower ? "lower" : "higher"));
  }
  for (const auto& d : report.identifiability.undetermined)
    out.push_back(d.sentence + (d.settled_by.empty() ? "" : " " + d.settled_by));
  return out;
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
  std::string whose, keys;
  const auto  add_remark = [&](std::size_t count, bool heeded, const char* what, const char* key) {
    if (heeded || count < 2) return;
    whose += fmt::format("{}{} {}", whose.empty() ? "" : " and ", count, what);
    keys += fmt::format("{}{} = true", keys.empty() ? "" : " and ", key);
  };
  add_remark(operators.size(), model.settings().operator_effect, "operators", "operator_effect");
  add_remark(lots.size(), model.settings().lot_effect, "filament lots", "lot_effect");
  if (whose.empty()) return {};
  return fmt::format(
      "The readings come from {}, taken here as if there were no difference: if there is one, the intervals above are too narrow. Set {} in [fit] to let them differ.",
      whose, keys);
}

std::string scatter_sentence(const CampaignModel& model, const FitReport& report) {
  const Spread& s = report.fit.best.spread;
  std::string   scatter;
  const auto    add = [&](bool there, const char* what, double log_sd, bool may_be_none) {
    if (!there) return;
    scatter += fmt::format("{}{} {:.1f} %{}", scatter.empty() ? "" : ", ", what, scatter_pct(log_sd),
                           may_be_none && log_sd < 1e-3 ? " (cannot be distinguished from none)" : "");
  };
  const auto any = [&](EffectKind kind) {
    return std::any_of(model.effects().begin(), model.effects().end(),
                       [&](const Effect& e) { return e.kind == kind; });
  };
  add(model.has_reading_noise(), "readings", s.reading, false);
  add(any(EffectKind::edge), "edges", s.edge, true);
  add(any(EffectKind::person), "operators", s.person, true);
  add(any(EffectKind::lot), "filament lots", s.lot, true);
  return scatter.empty() ? "Every measurement came with an uncertainty of its own; none was estimated."
                         : "Scatter, as coefficients of variation: " + scatter + ".";
}

std::string outlier_sentence(const CampaignModel& model, const FitReport& report) {
  const auto& residuals = report.fit.information.residuals;
  const auto  far       = (residuals.array().abs() > 3.0).count();
  const auto  excluded  = std::count_if(model.readings().begin(), model.readings().end(),
                                        [](const Reading& r) { return !r.excluded.empty(); });
  return fmt::format(
      "{} beyond 3 standard deviations of the prediction{}. {}",
      far == 0   ? "No readings lie"
      : far == 1 ? "One reading lies"
                 : fmt::format("{} readings lie", far),
      far > 0 ? "; look at them before you believe the rest, or set noise = \"student-t\"" : "",
      excluded > 0 ? fmt::format("{} marked as excluded, with a reason, and left out.",
                                 excluded == 1 ? "One reading is" : fmt::format("{} readings are", excluded))
                   : "");
}

std::string effects_text(const CampaignModel& model, const FitReport& report) {
  if (model.effects().empty()) return {};
  TextTable table({"effect", "of", "factor"}, {false, false, true});
  for (std::size_t j = 0; j < model.effects().size(); ++j) {
    const Effect& e = model.effects()[j];
    table.add({kind_name(e.kind), e.name,
               fmt::format("{:.2f}", std::exp(report.fit.best.effects[static_cast<Eigen::Index>(j)]))});
  }
  return "\n  Edges, operators and lots: a factor on the apex of an edge, on the force of the others\n" +
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
  const auto&               residuals = report.fit.information.residuals;
  std::vector<Eigen::Index> order(static_cast<std::size_t>(residuals.size()));
  std::iota(order.begin(), order.end(), Eigen::Index{0});
  std::sort(order.begin(), order.end(),
            [&](Eigen::Index a, Eigen::Index b) { return std::abs(residuals[a]) > std::abs(residuals[b]); });
  order.resize(std::min<std::size_t>(10, order.size()));
  TextTable table({"edge", "when", "measured", "predicted", "in s.d."}, {false, false, true, true, true});
  for (const Eigen::Index i : order) {
    const Observation& o      = model.observations()[static_cast<std::size_t>(i)];
    const Reading&     r      = model.readings()[static_cast<std::size_t>(o.reading)];
    const bool         force  = o.kind == Observation::Kind::reading;
    const double       unit   = force ? laws::in_gram_force(1.0) : 1.0;
    const char*        symbol = force ? "gf" : o.kind == Observation::Kind::mass_loss ? "mg" : "µm";
    table.add({model.scenario().edges[static_cast<std::size_t>(o.edge)].name, r.moment_name,
               fmt::format("{} {}", digits(unit * std::exp(o.log_value)), symbol),
               fmt::format("{} {}", digits(unit * std::exp(report.fit.information.predicted[i])), symbol),
               fmt::format("{:+.1f}", -residuals[i])});
  }
  return "\n  The ten farthest from their prediction\n" + table.text(2);
}

std::string draws_sentence(const Draws& d) {
  if (d.converged)
    return fmt::format(
        "{} posterior draws from {} steps (burn-in {}, acceptance {:.0f} %, longest autocorrelation {:.0f} steps, largest R-hat {:.3f}).",
        d.values.rows(), d.steps, d.burn_in, 100.0 * d.acceptance, d.autocorrelation.maxCoeff(),
        d.r_hat.maxCoeff());
  if (d.autocorrelation.size() == 0)
    return "No posterior draws: no walker could be started near the optimum.";
  return fmt::format(
      "No posterior draws: {} steps were not enough (autocorrelation {:.0f} steps, R-hat {:.3f}; allowed 1.05). Free fewer parameters, or those that the readings determine.",
      d.steps, d.autocorrelation.maxCoeff(), d.r_hat.maxCoeff());
}

std::string draws_text(const FitReport& report) {
  std::string said = "\n" + wrapped(draws_sentence(report.draws), 100, 2);
  if (!report.draws.converged) return said;
  TextTable quantiles({"drawn", "5 %", "median", "95 %"}, {false, true, true, true});
  for (std::size_t c = 0; c < report.draw_names.size(); ++c) {
    Eigen::VectorXd column = report.draw_values.col(static_cast<Eigen::Index>(c));
    std::sort(column.begin(), column.end());
    const auto at = [&](double share) {
      return digits(column[static_cast<Eigen::Index>(share * static_cast<double>(column.size() - 1))]);
    };
    quantiles.add({report.draw_names[c], at(0.05), at(0.5), at(0.95)});
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
  std::string text = fmt::format(
      "{} fitted to {} of {}", counted(std::ssize(model.parameters()), "parameter"),
      counted(std::ssize(model.observations()), "measurement"), counted(model.edges_with_readings(), "edge"));
  std::string scatter;
  if (model.has_reading_noise())
    scatter = fmt::format("readings scatter by {:.0f} %", scatter_pct(fit.best.spread.reading));
  if (model.settings().edge_effect && model.effect_count() > 0)
    scatter += fmt::format("{} by {:.0f} %", scatter.empty() ? "edges scatter" : ", edges",
                           scatter_pct(fit.best.spread.edge));
  if (!scatter.empty()) text += ": " + scatter;
  text += fmt::format("; {} of {} starts agree", fit.agreeing, fit.starts.size());
  const auto open = std::ssize(report.identifiability.undetermined);
  text += open == 0 ? "; the readings determine all of them."
                    : fmt::format("; {} the readings do not determine.",
                                  open == 1 ? "one combination" : counted(open, "combination"));
  return text;
}

std::string fit_page(const CampaignModel& model, const FitReport& report, bool full) {
  if (!report.fit.converged) return {};
  std::string out = parameters_text(model, report) + "\n";
  out += wrapped(
      "\"Narrowed to\" is the standard deviation that is left, in per cent of the prior's. Profiles hold the scatter at its best value.",
      100, 2);
  for (const std::string& sentence : open_sentences(model, report)) out += "\n" + wrapped(sentence, 100, 2);
  out += derived_text(report);
  out += "\n" + wrapped(scatter_sentence(model, report), 100, 2);
  out += wrapped(outlier_sentence(model, report), 100, 2);
  out += wrapped(unheeded_sentence(model), 100, 2);
  if (full) out += effects_text(model, report) + starts_text(report.fit) + farthest_text(model, report);
  if (report.draws_wanted) out += draws_text(report);
  return out;
}

Answer fit_sentences(const CampaignModel& model, const FitReport& report, const std::string& readings) {
  Answer answer;
  answer.kind     = "fit";
  answer.headline = fit_line(model, report);
  answer.rests_on = fmt::format(
      "Rests on {} and the priors of the parameters. A fitted value is an estimate, not a promise.",
      printable(readings));
  if (!report.fit.converged) return answer;
  for (std::string& sentence : open_sentences(model, report))
    answer.remark(About::certainty, std::move(sentence));
  answer.remark(About::certainty, scatter_sentence(model, report));
  answer.remark(About::certainty, outlier_sentence(model, report));
  if (std::string sentence = unheeded_sentence(model); !sentence.empty())
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
