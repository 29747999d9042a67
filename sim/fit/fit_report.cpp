// SPDX-License-Identifier: MIT
#include "sim/fit/fit_report.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <mutex>

#include "sim/fit/derived_draws.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/fit/marginal.hpp"
#include "sim/fit/noise.hpp"
#include "sim/fit/reduced_residuals.hpp"
#include "sim/fit/unmeasured_scale.hpp"
#include "sim/fit/ways.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/parallel.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

struct SpreadColumn {
  const char* name;
  double Spread::*member;
};

constexpr SpreadColumn all_spreads[] = {
    {"sd of readings", &Spread::reading}, {"sd of edges", &Spread::edge},
    {"sd of operators", &Spread::person}, {"sd of lots", &Spread::lot},
    {"sd of rates", &Spread::rate},       {"sd of days", &Spread::day},
    {"sd of ways", &Spread::way},         {"sd of wear after ways", &Spread::way_wear},
    {"sd of woods", &Spread::wood}};

std::vector<SpreadColumn> spread_columns(const CampaignModel& model) {
  std::vector<SpreadColumn> out;
  for (double Spread::*member : spreads_in(model)) {
    out.push_back(*std::find_if(std::begin(all_spreads), std::end(all_spreads),
                                [&](const SpreadColumn& c) { return c.member == member; }));
  }
  return out;
}

// parameters in their units, standard deviations and factors of ways, for draws of u and the logs of standard deviations
void add_drawn_values(const CampaignModel& model, const FitReportOptions& options, FitReport& report) {
  const auto             P = model.parameter_count(), d = report.draws.values.cols();
  const auto             columns = spread_columns(model);
  const Eigen::MatrixXd& drawn   = report.draws.values;
  std::vector<Spread>    spreads(static_cast<std::size_t>(drawn.rows()), report.fit.best.spread);
  for (std::size_t i = 0; i < spreads.size(); ++i) {
    for (std::size_t k = 0; k < columns.size(); ++k)
      spreads[i].*columns[k].member =
          std::exp(drawn(static_cast<Eigen::Index>(i), P + static_cast<Eigen::Index>(k)));
  }
  for (const FreeParameter& p : model.parameters()) report.draw_names.push_back(p.path);
  for (const auto& column : columns) report.draw_names.emplace_back(column.name);
  for (const Effect& effect : drawn_in(model)) report.draw_names.push_back(effect_column(effect));
  const Eigen::MatrixXd of_effects =
      drawn_effects(model, drawn.leftCols(P).transpose(), spreads, report.fit.best.effects,
                    static_cast<unsigned long long>(model.settings().seed) + 1, options.threads);
  report.draw_values.resize(drawn.rows(), d + of_effects.cols());
  report.draw_values.middleCols(P, d - P)         = drawn.rightCols(d - P).array().exp();
  report.draw_values.rightCols(of_effects.cols()) = of_effects.array().exp();
  for (Eigen::Index k = 0; k < P; ++k) {
    const FreeParameter& p    = model.parameters()[static_cast<std::size_t>(k)];
    report.draw_values.col(k) = drawn.col(k).unaryExpr([&p](double u) { return p.value(u); });
  }
}

void add_draws(const CampaignModel& model, const FitReportOptions& options, FitReport& report,
               const std::function<void(std::size_t, std::size_t)>& progress) {
  const auto      P       = model.parameter_count();
  const auto      columns = spread_columns(model);
  const auto      d       = P + static_cast<Eigen::Index>(columns.size());
  const FitPoint& best    = report.fit.best;
  Eigen::VectorXd centre(d), scale(d);
  centre.head(P) = best.u;
  scale.head(P)  = report.fit.information.covariance.diagonal().cwiseSqrt();
  for (Eigen::Index k = P; k < d; ++k) {
    // a spread that cannot be told from nothing still has a posterior: start where it would be noticed
    centre[k] = std::log(std::max(best.spread.*columns[static_cast<std::size_t>(k - P)].member, 0.01));
    scale[k]  = 0.2;
  }
  const auto densities = [&](const Eigen::MatrixXd& x) {
    std::vector<Spread>       spreads;
    std::vector<Eigen::Index> possible;
    for (Eigen::Index c = 0; c < x.cols(); ++c) {
      if (!(x.col(c).tail(d - P).cwiseAbs().maxCoeff() < 12.0)) continue;
      possible.push_back(c);
      spreads.push_back(best.spread);
      for (Eigen::Index k = P; k < d; ++k)
        spreads.back().*columns[static_cast<std::size_t>(k - P)].member = std::exp(x(k, c));
    }
    Eigen::VectorXd out = Eigen::VectorXd::Constant(x.cols(), -std::numeric_limits<double>::infinity());
    out(possible) = log_marginals(model, x.topRows(P)(Eigen::all, possible), spreads, best.effects, true,
                                  options.threads);
    return out;
  };
  Eigen::MatrixXd covariance                 = Eigen::MatrixXd::Zero(d, d);
  covariance.topLeftCorner(P, P)             = report.fit.information.covariance;
  covariance.bottomRightCorner(d - P, d - P) = report.fit.information.spread_covariance;
  ImportanceOptions importance;
  importance.wanted_draws = options.draws;
  importance.seed         = static_cast<unsigned long long>(model.settings().seed);
  report.importance       = importance_sample(densities, centre, covariance, importance);
  SamplerOptions sampler;
  sampler.walkers      = static_cast<int>(std::max<Eigen::Index>(32, 4 * d));
  sampler.wanted_draws = options.draws;
  sampler.seed         = static_cast<unsigned long long>(model.settings().seed);
  sampler.threads      = options.threads;
  if (report.importance.usable) {
    report.draws.values      = std::move(report.importance.values);
    report.draws.log_density = std::move(report.importance.log_density);
    report.draws.converged   = true;
  } else {
    report.importance.values = {};
    report.draws             = sample_together(densities, centre, scale, sampler, progress);
  }
  if (report.draws.converged) add_drawn_values(model, options, report);
}

ProfileOptions profile_options(const CampaignModel& model, const ReducedResiduals& residuals) {
  ProfileOptions options;
  options.widest    = 20.0;
  options.tolerance = 1e-3;  // of the place of an end in standard deviations: beyond what anyone reads
  options.fit.step_tolerance     = 1e-5;
  options.fit.gradient_tolerance = 1e-6;
  options.fit.max_iterations     = 60;
  options.fit.noise              = model.tolerances().relative;
  set_bounds(model, residuals.size(), options.fit);
  return options;
}

template <class Value>
ParameterProfile profile_for(const ProfileInterval& interval, Value&& value) {
  ParameterProfile out;
  out.wanted = true;
  // a place that is lower by less than what rounding of the integration explains is the same place
  double least = 0.0;
  for (const auto& point : interval.points) least = std::min(least, point.rise);
  out.usable    = !interval.better || least > -1e-3;
  out.low       = value(interval.lower.value);
  out.high      = value(interval.upper.value);
  out.low_open  = !interval.lower.found();
  out.high_open = !interval.upper.found();
  for (const auto& point : interval.points) {
    out.values.push_back(value(point.value));
    out.rises.push_back(point.rise);
  }
  return out;
}

double rise_90(double dof) { return std::pow(reach_90(dof), 2); }

ParameterProfile profile_of(const CampaignModel& model, const FitResult& fit, Eigen::Index index) {
  ReducedResiduals      residuals(model, fit.best.spread);
  const Eigen::VectorXd optimum = residuals.begin(fit.best.u, fit.best.effects);
  ProfileOptions        options = profile_options(model, residuals);
  options.lowest                = options.fit.lower[index];
  options.highest               = options.fit.upper[index];
  const FreeParameter& p        = model.parameters()[static_cast<std::size_t>(index)];
  return profile_for(
      profile_interval(std::ref(residuals), optimum, index, rise_90(fit.information.dof[index]), options),
      [&p](double u) { return p.value(u); });
}

/// An effect on a derived quantity.
struct EffectOnQuantity {
  Effect       of;
  Eigen::Index column = -1;   ///< of the model; −1: nothing of it was read
  double       slope  = 0.0;  ///< of the log of the quantity
};

// those in its history that the model has
std::vector<EffectOnQuantity> effects_in_model(const CampaignModel& model, const DerivedQuantity& quantity) {
  std::vector<EffectOnQuantity> out;
  for (const Effect& effect : effects_in_history(quantity)) {
    if (!model.has_effect(effect.kind)) continue;
    EffectOnQuantity on{effect};
    for (std::size_t j = 0; j < model.effects().size(); ++j) {
      const Effect& e = model.effects()[j];
      if (e.kind == effect.kind && e.name == effect.name) on.column = static_cast<Eigen::Index>(j);
    }
    out.push_back(on);
  }
  return out;
}

// `effects`: of the model
ApexLuck luck_of(const std::vector<EffectOnQuantity>& on, const Eigen::VectorXd& effects) {
  ApexLuck luck;
  for (const EffectOnQuantity& e : on) {
    if (e.column >= 0) (e.of.kind == EffectKind::way ? luck.apex : luck.growth) += effects[e.column];
  }
  return luck;
}

// slope of the log of a quantity by one of the two, by central differences; NaN where it has no finite number beside
double slope_by_luck(DerivedModel& derived, const Eigen::VectorXd& u, const ApexLuck& luck,
                     double ApexLuck::*which) {
  constexpr double h  = 1e-3;
  double           up = not_given, down = not_given;
  ApexLuck         beside = luck;
  beside.*which += h;
  derived.set_luck(beside);
  const bool is_up = derived.log_value(u, up, nullptr);
  beside.*which -= 2.0 * h;
  derived.set_luck(beside);
  const bool is_down = derived.log_value(u, down, nullptr);
  derived.set_luck(luck);
  return is_up && is_down ? (up - down) / (2.0 * h) : not_given;
}

// false where one of them is not finite
bool slopes_by_effects(DerivedModel& derived, const Eigen::VectorXd& u, const ApexLuck& luck,
                       std::vector<EffectOnQuantity>& on) {
  if (on.empty()) return true;
  const bool   grows     = on.size() > 1 || on.front().of.kind != EffectKind::way;
  const double by_apex   = slope_by_luck(derived, u, luck, &ApexLuck::apex);
  const double by_growth = grows ? slope_by_luck(derived, u, luck, &ApexLuck::growth) : 0.0;
  for (EffectOnQuantity& e : on) e.slope = e.of.kind == EffectKind::way ? by_apex : by_growth;
  return std::isfinite(by_apex) && std::isfinite(by_growth);
}

// of the log of a quantity with these slopes; an effect of which nothing was read has all of its variance
double log_variance(const CampaignModel& model, const FitResult& fit, const Eigen::VectorXd& along,
                    const std::vector<EffectOnQuantity>& on) {
  const auto         P = model.parameter_count();
  const EffectLayout layout(model);
  Eigen::VectorXd    all = Eigen::VectorXd::Zero(P + std::ssize(layout.shared));
  all.head(P)            = along;
  double anew            = 0.0;
  bool   is_by_any       = false;
  for (const EffectOnQuantity& e : on) {
    const double scaled = e.slope * fit.best.spread.of(e.of.kind);
    if (e.column < 0) {
      anew += scaled * scaled;
    } else {
      all[P + layout.shared_of[static_cast<std::size_t>(e.column)]] = scaled;
      is_by_any                                                     = true;
    }
  }
  return anew + (is_by_any ? all.dot(shared_covariance(model, fit.best, fit.information) * all)
                           : along.dot(fit.information.covariance * along));
}

void add_wald(const CampaignModel& model, const FitResult& fit, const Identifiability& found,
              const Eigen::VectorXd& slopes, const std::vector<EffectOnQuantity>& on, DerivedResult& out) {
  Eigen::VectorXd along = slopes;
  for (const Eigen::Index i : fit.best.held) along[i] = 0.0;
  double variance = log_variance(model, fit, along, on);
  if (out.quantity.kind == DerivedKind::reading) variance += std::pow(level_sd_of(model, fit.best.spread), 2);
  double open = 0.0;  // what undetermined directions add to it
  for (const auto& d : found.undetermined)
    open += std::pow(along.dot(d.direction), 2) / (1.0 + d.information);
  out.has_standard_error = variance > 0.0 && open < 0.5 * variance;
  const double reach     = reach_90(degrees_of_freedom(model, fit.best, fit.information, along)[0]);
  out.low                = out.value * std::exp(-reach * std::sqrt(variance));
  out.high               = out.value * std::exp(reach * std::sqrt(variance));
}

ParameterProfile profile_of_derived(const CampaignModel& model, const FitResult& fit, DerivedModel& derived,
                                    const Eigen::VectorXd&               slopes_at_best,
                                    const std::vector<EffectOnQuantity>& on_at_best) {
  const FitPoint&       best = fit.best;
  const auto            P    = model.parameter_count();
  ReducedResiduals      residuals(model, best.spread);
  const EffectLayout&   layout  = residuals.layout();
  const Eigen::VectorXd optimum = residuals.begin(best.u, best.effects), sd = effect_sd(model, best.spread);
  const auto            function = [&](const Eigen::VectorXd& at, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    Eigen::VectorXd               values, slopes;
    Eigen::MatrixXd               jacobian;
    double                        quantity_there = 0.0;
    std::vector<EffectOnQuantity> on             = on_at_best;
    if (!residuals(at, values, j != nullptr ? &jacobian : nullptr)) return false;
    // ways and woods are shared: the luck of edges has no part in the quantity
    Eigen::VectorXd effects = Eigen::VectorXd::Zero(model.effect_count());
    effects(layout.shared)  = at.tail(std::ssize(layout.shared)).cwiseProduct(sd(layout.shared));
    const ApexLuck luck     = luck_of(on, effects);
    derived.set_luck(luck);
    if (!derived.log_value(at.head(P), quantity_there, j != nullptr ? &slopes : nullptr)) return false;
    if (j != nullptr && !slopes_by_effects(derived, at.head(P), luck, on)) return false;
    const auto n = values.size();
    r.resize(n + 1);
    r << values, quantity_there;
    if (j == nullptr) return true;
    j->setZero(n + 1, at.size());
    j->topRows(n)     = jacobian;
    j->row(n).head(P) = slopes.transpose();
    for (const EffectOnQuantity& e : on) {
      if (e.column >= 0)
        (*j)(n, P + layout.shared_of[static_cast<std::size_t>(e.column)]) =
            e.slope * best.spread.of(e.of.kind);
    }
    return true;
  };
  const double dof = degrees_of_freedom(model, best, fit.information, slopes_at_best)[0];
  return profile_for(profile_of_quantity(function, optimum, rise_90(dof), profile_options(model, residuals)),
                     [](double log_of) { return std::exp(log_of); });
}

DerivedResult derived_result(const CampaignModel& model, const FitReport& report,
                             const DerivedQuantity& quantity, bool profiles) {
  const FitResult& fit  = report.fit;
  const FitPoint&  best = fit.best;
  DerivedResult    out;
  out.quantity = quantity;
  DerivedModel                  derived(model.scenario(), model.parameters(), quantity);
  std::vector<EffectOnQuantity> on   = effects_in_model(model, quantity);
  const ApexLuck                luck = luck_of(on, best.effects);
  Eigen::VectorXd               slopes;
  double                        log_value = 0.0;
  derived.set_luck(luck);
  bool there = derived.log_value(best.u, log_value, &slopes);
  there      = there && slopes_by_effects(derived, best.u, luck, on);
  out.value  = there ? std::exp(log_value) : derived.value(best.u);
  out.moved  = !there || !slopes.isZero(0.0);
  if (there) add_wald(model, fit, report.identifiability, slopes, on, out);
  if (!profiles) return out;
  out.profile.wanted = true;
  if (!there || !out.moved) return out;
  out.profile = profile_of_derived(model, fit, derived, slopes, on);
  return out;
}

// quantities at posterior draws: at most a thousand, evenly taken
void add_drawn(const CampaignModel& model, const FitReportOptions& options, FitReport& report) {
  constexpr std::size_t most  = 1000;
  const auto            P     = model.parameter_count();
  const auto            rows  = static_cast<std::size_t>(report.draws.values.rows());
  const std::size_t     count = std::min(rows, most);
  for_each_index(report.derived.size(), options.threads, [&](std::size_t i) {
    DerivedResult& d = report.derived[i];
    DerivedModel   derived(model.scenario(), model.parameters(), d.quantity);
    DrawsOfFit     draws{report.draw_names,
                     {static_cast<Eigen::Index>(count), report.draw_values.cols()},
                     {P, static_cast<Eigen::Index>(count)},
                     report.fit.best.spread,
                     static_cast<unsigned long long>(model.settings().seed)};
    for (std::size_t k = 0; k < count; ++k) {
      const auto row                               = static_cast<Eigen::Index>(k * rows / count);
      draws.u.col(static_cast<Eigen::Index>(k))    = report.draws.values.row(row).head(P).transpose();
      draws.rows.row(static_cast<Eigen::Index>(k)) = report.draw_values.row(row);
    }
    std::vector<double> values = at_draws(derived, d.quantity, draws);
    std::erase_if(values, [](double value) { return std::isnan(value); });
    d.drawn_low    = quantile(values, 0.05);
    d.drawn_middle = quantile(values, 0.5);
    d.drawn_high   = quantile(values, 0.95);
  });
}

// the laws side by side; none where the law is fixed, or nothing of it is free
LawFits laws_side_by_side(const CampaignModel& asked, const FitReportOptions& options,
                          const std::function<void(std::size_t, std::size_t)>& progress) {
  constexpr int most_starts = 2;
  FitSettings   settings    = asked.settings();
  settings.starts           = std::min(settings.starts, most_starts);
  settings.free.clear();
  for (const FreeParameter& p : asked.parameters()) settings.free.push_back(p.path);
  const bool wears = std::any_of(settings.free.begin(), settings.free.end(),
                                 [](const std::string& path) { return is_wear_path(path); });
  if (settings.laws.size() < 2 || !wears) return {};
  return fit_laws(asked.scenario(), asked.readings(), settings, settings.laws, options.threads, progress);
}

// whether free parameters were named, numbers of the law that the configuration has among them: those are asked for, whatever law
// answers rest on
bool names_numbers_of_its_law(const CampaignModel& asked) {
  const std::vector<std::string>& free = asked.settings().free;
  return std::any_of(free.begin(), free.end(), [](const std::string& path) { return is_wear_path(path); });
}

// Fits what was asked for, or the law that answers rest on most, from all starts: a better optimum than that of the few starts which weigh
// the laws is its own.
void fit_from_all_starts(const CampaignModel& asked, const FitReportOptions& options, FitReport& report,
                         const std::function<void(std::size_t, std::size_t)>& progress) {
  const auto           heaviest = heaviest_of(report.laws);
  const bool           own      = !heaviest || names_numbers_of_its_law(asked);
  const CampaignModel& of       = own ? asked : *report.laws.laws[*heaviest].model;
  report.model = std::make_shared<const CampaignModel>(of.scenario(), asked.readings(), of.parameters(),
                                                       asked.settings());
  report.fit   = fit(*report.model, options.threads, progress);
  if (!own && report.fit.converged) set_optimum(report.laws.laws[*heaviest], report.fit);
}

void add_draws_of_laws(const FitReportOptions& options, FitReport& report) {
  constexpr int quick_draws = 1000;
  report.law_draws = draws_of_laws(report.laws, {.draws   = options.draws > 0 ? options.draws : quick_draws,
                                                 .quick   = options.draws == 0,
                                                 .threads = options.threads});
}

// a quantity under each law, and at draws of all of them in proportion to their weights
void add_under_laws(const CampaignModel& model, const FitReportOptions& options, FitReport& report) {
  constexpr double most = 300.0;
  for_each_index(report.derived.size(), options.threads, [&](std::size_t i) {
    DerivedResult&      d = report.derived[i];
    std::vector<double> values;
    std::size_t         k = 0;
    for (const LawFit& law : report.laws.laws) {
      if (!law.usable) continue;
      const FittedLaw& drawn = report.law_draws[k++];
      DerivedModel     derived(law.model->scenario(), law.model->parameters(), d.quantity);
      derived.set_luck(luck_of(effects_in_model(*law.model, d.quantity), law.best.effects));
      d.by_law.push_back(derived.value(law.best.u));
      const auto rows  = drawn.values.size() / drawn.columns.size();
      const auto count = std::min(rows, static_cast<std::size_t>(std::lround(most * law.weight)));
      const auto P     = law.model->parameter_count();
      if (count == 0) continue;
      DrawsOfFit draws{drawn.columns,
                       {static_cast<Eigen::Index>(count), std::ssize(drawn.columns)},
                       {P, static_cast<Eigen::Index>(count)},
                       drawn.spread,
                       static_cast<unsigned long long>(model.settings().seed) + k};
      for (std::size_t c = 0; c < count; ++c) {
        const auto    at   = static_cast<Eigen::Index>(c);
        const double* row  = drawn.values.data() + c * rows / count * drawn.columns.size();
        draws.rows.row(at) = Eigen::Map<const Eigen::RowVectorXd>(row, std::ssize(drawn.columns));
        for (Eigen::Index j = 0; j < P; ++j)
          draws.u(j, at) = law.model->parameters()[static_cast<std::size_t>(j)].scaled(row[j]);
      }
      const std::vector<double> there = at_draws(derived, d.quantity, draws);
      std::copy_if(there.begin(), there.end(), std::back_inserter(values),
                   [](double value) { return !std::isnan(value); });
    }
    d.laws_low    = quantile(values, 0.05);
    d.laws_middle = quantile(values, 0.5);
    d.laws_high   = quantile(values, 0.95);
  });
}

// what is missed by the law that answers rest on most: the heaviest of several, or the only one
void add_misses(FitReport& report) {
  const auto heaviest = heaviest_of(report.laws);
  if (!heaviest) {
    report.lack_of_fit = lack_of_fit(*report.model, report.fit);
    report.discrepancy = discrepancy_of(*report.model, report.fit.best, report.fit.information);
    return;
  }
  const LawFit& law = report.laws.laws[*heaviest];
  FitResult     fit;
  fit.best           = law.best;
  fit.information    = law.information;
  fit.converged      = true;
  report.lack_of_fit = lack_of_fit(*law.model, fit);
  report.discrepancy = discrepancy_of(*law.model, law.best, law.information);
}

// least and most of a quantity under the laws that have a part in answers, its own value among them
std::pair<double, double> values_by_law(const FitReport& report, const DerivedResult& d) {
  constexpr double    a_part = 0.05;
  std::vector<double> values{d.value};
  std::size_t         k = 0;
  for (const LawFit& law : report.laws.laws) {
    if (!law.usable || k >= d.by_law.size()) continue;
    const double value = d.by_law[k++];
    if (law.weight >= a_part && value > 0.0) values.push_back(value);
  }
  const auto ends = std::minmax_element(values.begin(), values.end());
  return {*ends.first, *ends.second};
}

// a length that nobody has seen under a microscope is known no better than the priors of the scale on which it is told
void widen_unmeasured_lengths(const CampaignModel& model, FitReport& report) {
  const bool any = std::any_of(report.derived.begin(), report.derived.end(), [](const DerivedResult& d) {
    return d.quantity.kind == DerivedKind::apex_radius;
  });
  if (!any || has_measured_lengths(model)) return;
  const UnmeasuredScale scale(model, report.fit.best);
  for (DerivedResult& d : report.derived) {
    if (d.quantity.kind != DerivedKind::apex_radius) continue;
    const auto log_sd = scale.log_sd(d.quantity);
    if (!log_sd) continue;
    d.prior_log_sd           = *log_sd;
    const double reach       = reach_90(std::numeric_limits<double>::infinity()) * *log_sd;
    const auto [least, most] = values_by_law(report, d);
    d.low                    = least * std::exp(-reach);
    d.high                   = most * std::exp(reach);
    d.has_standard_error     = true;
    d.profile.usable         = false;
    d.drawn_low = d.drawn_middle = d.drawn_high = not_given;
  }
}

}  // namespace

std::vector<std::string> spread_names(const CampaignModel& model) {
  std::vector<std::string> names;
  for (const SpreadColumn& column : spread_columns(model)) names.emplace_back(column.name);
  return names;
}

double Spread::*spread_member(const std::string& column) {
  for (const SpreadColumn& c : all_spreads) {
    if (column == c.name) return c.member;
  }
  return nullptr;
}

FitReport fit_report(const CampaignModel& asked, const FitReportOptions& options,
                     const std::function<void(const std::string&, std::size_t, std::size_t)>& progress) {
  const auto stage = [&](const char* name) {
    return [&progress, name](std::size_t done, std::size_t all) {
      if (progress) progress(name, done, all);
    };
  };
  FitReport report;
  report.laws = laws_side_by_side(asked, options, stage("weighing laws"));
  fit_from_all_starts(asked, options, report, stage("fitting"));
  if (!report.fit.converged) return report;
  const CampaignModel& model = *report.model;
  report.identifiability     = identifiability(model, report.fit);
  report.profiles.resize(static_cast<std::size_t>(model.parameter_count()));
  if (options.profiles) {
    for_each_index(report.profiles.size(), options.threads, [&](std::size_t i) {
      report.profiles[i] = profile_of(model, report.fit, static_cast<Eigen::Index>(i));
    });
  }
  std::vector<std::string> wanted = model.settings().derived;
  if (wanted.empty()) wanted = usual_derived(model.scenario(), model.edges_read());
  report.derived.resize(wanted.size());
  const auto  telling = stage("what follows");
  std::mutex  speaking;
  std::size_t done = 0;
  for_each_index(wanted.size(), options.threads, [&](std::size_t i) {
    report.derived[i] =
        derived_result(model, report, derived_quantity(model.scenario(), wanted[i]), options.profiles);
    const std::scoped_lock lock(speaking);
    telling(++done, wanted.size());
  });
  report.draws_wanted = options.draws > 0;
  if (report.draws_wanted) add_draws(model, options, report, stage("drawing"));
  if (report.draws.converged) add_drawn(model, options, report);
  add_draws_of_laws(options, report);
  if (!report.law_draws.empty()) add_under_laws(model, options, report);
  add_misses(report);
  widen_unmeasured_lengths(model, report);
  return report;
}

bool GradientCheck::passed() const {
  for (const Row& row : rows) {
    if (!(row.worst <= allowed)) return false;
  }
  return true;
}

GradientCheck check_gradient(const CampaignModel& model, const Eigen::VectorXd& u) {
  // differences of an integration whose error is τ are good to about τ/h + h²: τ = 1e-11 and h = 1e-3.5 leave 1e-7
  Scenario tight                    = model.scenario();
  tight.numerics.relative_tolerance = 1e-11;
  const CampaignModel exact(tight, model.readings(), model.parameters(), model.settings());
  constexpr double    h = 3e-4;
  GradientCheck       check;
  check.allowed           = 1e-5;
  const auto      P       = model.parameter_count();
  Eigen::VectorXd effects = Eigen::VectorXd::Zero(model.effect_count());
  Eigen::VectorXd f, up, down;
  Eigen::MatrixXd slopes;
  exact.observe(exact.apex(u, true), effects, f, &slopes, nullptr);
  for (Eigen::Index j = 0; j < P; ++j) {
    Eigen::VectorXd a = u, b = u;
    a[j] += h;
    b[j] -= h;
    const auto         at_a = exact.apex(a, false), at_b = exact.apex(b, false);
    GradientCheck::Row row{model.parameters()[static_cast<std::size_t>(j)].path, not_given};
    if (at_a.usable && at_b.usable) {
      exact.observe(at_a, effects, up, nullptr, nullptr);
      exact.observe(at_b, effects, down, nullptr, nullptr);
      const Eigen::VectorXd difference = (up - down) / (2.0 * h);
      row.worst                        = (difference - slopes.col(j)).cwiseAbs().maxCoeff() /
                  std::max(slopes.col(j).cwiseAbs().maxCoeff(), 1e-3);
    }
    check.rows.push_back(row);
  }
  return check;
}

namespace {

// the scenario at the optimum, its scatter as it was found
Scenario scenario_as_found(const CampaignModel& model, const FitPoint& point) {
  Scenario out  = model.scenario();
  out.model     = with_parameters(out.model, model.parameters(), point.u);
  const auto cv = [](double log_sd) { return std::sqrt(std::expm1(log_sd * log_sd)); };
  auto&      s  = out.model.scatter;
  if (model.has_reading_noise() && model.is_additive())
    out.model.specimen.reading_sd_um = point.spread.reading * model.typical_um();
  else if (model.has_reading_noise())
    s.reading_cv = cv(point.spread.reading);
  if (model.has_effect(EffectKind::edge)) s.edge_cv = cv(point.spread.edge);
  if (model.has_effect(EffectKind::person)) s.operator_cv = cv(point.spread.person);
  if (model.has_effect(EffectKind::lot)) s.lot_cv = cv(point.spread.lot);
  if (model.has_effect(EffectKind::rate)) s.rate_cv = cv(point.spread.rate);
  if (model.has_effect(EffectKind::day)) s.day_cv = cv(point.spread.day);
  if (model.has_effect(EffectKind::way)) s.way_cv = cv(point.spread.way);
  if (model.has_effect(EffectKind::way_wear)) s.way_wear_cv = cv(point.spread.way_wear);
  if (model.has_effect(EffectKind::wood)) s.wood_cv = cv(point.spread.wood);
  return out;
}

}  // namespace

std::vector<std::string> scatter_out_of_range(const CampaignModel& model, const FitPoint& point) {
  std::vector<std::string> out;
  Scatter<double>          found = scenario_as_found(model, point).model.scatter;
  Scatter<double>::fields(
      [&](const Field& f, double& value) {
        if (value <= f.high) return;
        out.push_back(fmt::format(
            "{} comes out as {}, where a configuration takes at most {}, which is what --fitted writes. Nothing scatters so much: look for readings in another unit, or of other edges than their names say.",
            f.key, percent(value), percent(f.high)));
      },
      found);
  return out;
}

Scenario fitted_scenario(const CampaignModel& model, const FitPoint& point) {
  Scenario out = scenario_as_found(model, point);
  auto&    s   = out.model.scatter;
  // beyond its range a file would not load
  Scatter<double>::fields([](const Field& f, double& value) { value = std::clamp(value, f.low, f.high); }, s);
  return out;
}

}  // namespace arris
