// SPDX-License-Identifier: MIT
#include "sim/fit/earlier_fit.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr const char* earlier_rest = "an earlier fit";

EarlierLaw posterior_of(const CampaignModel& model, const std::string& name, const FitPoint& best,
                        const Information& information) {
  EarlierLaw out;
  out.name     = name;
  out.wear_law = wear_law_text(model.scenario().model.wear);
  for (const FreeParameter& p : model.parameters()) {
    out.paths.push_back(p.path);
    out.priors.push_back(p.prior);
  }
  out.u          = best.u;
  out.covariance = information.covariance;
  out.at_end.assign(out.paths.size(), 0.0);
  for (const Eigen::Index i : best.held) out.at_end[static_cast<std::size_t>(i)] = 1.0;
  out.spreads        = spread_names(model);
  const auto members = spreads_in(model);
  for (std::size_t k = 0; k < members.size(); ++k) {
    const auto i = static_cast<Eigen::Index>(k);
    out.log_spread.push_back(std::log(best.spread.*members[k]));
    out.log_spread_sd.push_back(std::sqrt(information.spread_covariance(i, i)));
  }
  if (model.is_additive()) out.typical_um = model.typical_um();
  return out;
}

/// A parameter of a new fit that an earlier one knows.
struct KnownParameter {
  Eigen::Index now, then;  ///< places among the parameters of both
};

std::vector<KnownParameter> known_in(const EarlierLaw& law, const std::vector<FreeParameter>& parameters) {
  std::vector<KnownParameter> out;
  for (std::size_t i = 0; i < parameters.size(); ++i) {
    const auto at   = std::find(law.paths.begin(), law.paths.end(), parameters[i].path);
    const auto then = static_cast<std::size_t>(at - law.paths.begin());
    if (at == law.paths.end() || law.at_end[then] > 0.0) continue;
    out.push_back({static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(then)});
  }
  return out;
}

/// What is known of them together.
struct KnownTogether {
  Eigen::VectorXd      sd;           ///< on the scale of the earlier priors
  SymmetricEigen       correlation;  ///< theirs
  [[nodiscard]] double largest() const { return correlation.values.maxCoeff(); }
};

KnownTogether known_together(const EarlierLaw& law, const std::vector<KnownParameter>& known) {
  std::vector<Eigen::Index> then;
  for (const KnownParameter& k : known) then.push_back(k.then);
  const Eigen::MatrixXd covariance = law.covariance(then, then);
  const Eigen::VectorXd sd         = covariance.diagonal().cwiseSqrt();
  const Eigen::VectorXd over       = sd.cwiseInverse();
  return {sd, eigen_of_symmetric(over.asDiagonal() * covariance * over.asDiagonal())};
}

Prior widened(const Prior& prior, double by) {
  Prior out  = prior;
  out.spread = prior.shape == PriorShape::log_normal ? std::pow(prior.spread, by) : prior.spread * by;
  return out;
}

}  // namespace

const char* shape_name(PriorShape shape) {
  switch (shape) {
    case PriorShape::log_normal:
      return "log-normal";
    case PriorShape::logit_normal:
      return "logit-normal";
    case PriorShape::normal:
      break;
  }
  return "normal";
}

PriorShape prior_shape_of(const std::string& name) {
  for (const PriorShape shape : {PriorShape::log_normal, PriorShape::logit_normal, PriorShape::normal}) {
    if (name == shape_name(shape)) return shape;
  }
  throw Error(Exit::data, {.code = "not-a-fit",
                           .what = fmt::format("there is no prior of the shape \"{}\"", printable(name))});
}

void check_sizes(const EarlierLaw& law) {
  const auto        P    = static_cast<Eigen::Index>(law.paths.size());
  const std::size_t S    = law.spreads.size();
  bool              fits = std::ssize(law.priors) == P && std::ssize(law.at_end) == P && law.u.size() == P &&
              law.covariance.rows() == P && law.covariance.cols() == P && law.log_spread.size() == S &&
              law.log_spread_sd.size() == S;
  fits = fits && law.u.allFinite() && law.covariance.allFinite() &&
         (P == 0 || law.covariance.diagonal().minCoeff() > 0.0) &&
         std::all_of(law.priors.begin(), law.priors.end(), [](const Prior& p) {
           return std::isfinite(p.centre) && p.spread > (p.shape == PriorShape::log_normal ? 1.0 : 0.0) &&
                  p.shift >= 0.0;
         });
  if (!fits)
    throw Error(
        Exit::data,
        Diagnostic{
            .code = "not-a-fit",
            .what = "what the earlier fit knows does not go together: a size or a number of it is wrong"});
}

std::vector<EarlierLaw> posteriors_of(const FitReport& report) {
  std::vector<EarlierLaw> out;
  for (const LawFit& law : report.laws.laws) {
    if (law.usable) out.push_back(posterior_of(*law.model, law.name, law.best, law.information));
  }
  if (!out.empty()) return out;
  const std::string name(report.model->scenario().model.wear.name());
  return {posterior_of(*report.model, name, report.fit.best, report.fit.information)};
}

namespace {

// whether a name is this path, or a table that holds it
bool names_path(const std::string& name, const std::string& path) {
  return path == name || path.starts_with(name + ".");
}

bool named_by(const std::vector<std::string>& names, const std::string& path) {
  return std::any_of(names.begin(), names.end(),
                     [&](const std::string& name) { return names_path(name, path); });
}

// places of what none of the names is of
std::vector<std::size_t> places_kept(const std::vector<std::string>& paths,
                                     const std::vector<std::string>& anew) {
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < paths.size(); ++i) {
    if (!named_by(anew, paths[i])) out.push_back(i);
  }
  return out;
}

template <class T>
void keep(std::vector<T>& values, const std::vector<std::size_t>& places) {
  std::vector<T> out;
  for (const std::size_t i : places) out.push_back(values[i]);
  values = std::move(out);
}

// marginal of a normal distribution: the rows and columns that stay
EarlierLaw without_known_of(EarlierLaw law, const std::vector<std::string>& anew) {
  const auto                stay = places_kept(law.paths, anew), spreads = places_kept(law.spreads, anew);
  std::vector<Eigen::Index> at(stay.begin(), stay.end());
  law.u          = Eigen::VectorXd(law.u(at));
  law.covariance = Eigen::MatrixXd(law.covariance(at, at));
  keep(law.paths, stay);
  keep(law.priors, stay);
  keep(law.at_end, stay);
  keep(law.spreads, spreads);
  keep(law.log_spread, spreads);
  keep(law.log_spread_sd, spreads);
  return law;
}

// all that an earlier fit could be asked about
std::vector<std::string> names_in(const EarlierFit& earlier) {
  std::vector<std::string> out = earlier.given.paths;
  for (const EarlierLaw& law : earlier.laws) {
    out.insert(out.end(), law.paths.begin(), law.paths.end());
    out.insert(out.end(), law.spreads.begin(), law.spreads.end());
  }
  std::sort(out.begin(), out.end());
  out.erase(std::unique(out.begin(), out.end()), out.end());
  return out;
}

}  // namespace

EarlierFit without_known(EarlierFit earlier, const std::vector<std::string>& anew) {
  const auto all = names_in(earlier);
  for (const std::string& name : anew) {
    if (std::any_of(all.begin(), all.end(), [&](const std::string& path) { return names_path(name, path); }))
      continue;
    throw Error(
        Exit::data,
        {.code = "unknown-parameter",
         .what =
             fmt::format("the earlier fit has nothing of \"{}\", which [fit] anew names", printable(name)),
         .allowed = "a parameter, a table of them such as \"tester\", or \"sd of readings\" and its like",
         .next    = did_you_mean(name, all, "Name what the earlier fit knew or held fixed."),
         .file    = earlier.source});
  }
  for (EarlierLaw& law : earlier.laws) law = without_known_of(std::move(law), anew);
  const auto stay = places_kept(earlier.given.paths, anew);
  keep(earlier.given.paths, stay);
  keep(earlier.given.values, stay);
  earlier.anew = anew;
  return earlier;
}

const EarlierLaw* law_of(const EarlierFit& earlier, const Model<double>& model) {
  const std::string text = wear_law_text(model.wear);
  const auto        at   = std::find_if(earlier.laws.begin(), earlier.laws.end(),
                                        [&](const EarlierLaw& law) { return law.wear_law == text; });
  return at == earlier.laws.end() ? nullptr : &*at;
}

std::vector<std::string> laws_of_both(const Scenario& scenario, const EarlierFit& earlier) {
  const auto               all = wear_law_names(scenario);
  std::vector<std::string> out;
  std::copy_if(all.begin(), all.end(), std::back_inserter(out), [&](const std::string& name) {
    return law_of(earlier, under_law(scenario, name).model) != nullptr;
  });
  return out.empty() ? all : out;
}

void begin_from(const EarlierFit* earlier, const Model<double>& model,
                std::vector<FreeParameter>& parameters) {
  const EarlierLaw* law = earlier != nullptr ? law_of(*earlier, model) : nullptr;
  if (law == nullptr) return;
  const auto known = known_in(*law, parameters);
  if (known.empty()) return;
  const KnownTogether together = known_together(*law, known);
  const double        wider    = std::sqrt(together.largest());
  for (std::size_t k = 0; k < known.size(); ++k) {
    FreeParameter& p    = parameters[static_cast<std::size_t>(known[k].now)];
    p.prior             = law->priors[static_cast<std::size_t>(known[k].then)];
    const double centre = p.value(law->u[known[k].then]);
    p.prior             = widened(p.prior, together.sd[static_cast<Eigen::Index>(k)] * wider);
    p.prior.centre      = centre;
    p.prior_rests_on    = earlier_rest;
  }
}

bool is_from_earlier(const FreeParameter& parameter) { return parameter.prior_rests_on == earlier_rest; }

Eigen::MatrixXd earlier_rules(const EarlierFit& earlier, const Model<double>& model,
                              const std::vector<FreeParameter>& parameters) {
  const auto        P   = static_cast<Eigen::Index>(parameters.size());
  const EarlierLaw* law = law_of(earlier, model);
  if (law == nullptr || std::none_of(parameters.begin(), parameters.end(), is_from_earlier)) return {0, P};
  const auto            known    = known_in(*law, parameters);
  const KnownTogether   together = known_together(*law, known);
  const Eigen::VectorXd stretch =
      ((together.largest() / together.correlation.values.array()).max(1.0) - 1.0).sqrt().matrix();
  const Eigen::MatrixXd w   = stretch.asDiagonal() * together.correlation.vectors.transpose();
  Eigen::MatrixXd       out = Eigen::MatrixXd::Zero(w.rows(), P);
  for (std::size_t k = 0; k < known.size(); ++k) out.col(known[k].now) = w.col(static_cast<Eigen::Index>(k));
  return out;
}

std::optional<std::pair<double, double>> earlier_spread(const CampaignModel& model, double Spread::*member) {
  const EarlierLaw* law = model.begins_from();
  if (law == nullptr) return std::nullopt;
  double scale = 0.0;
  if (member == &Spread::reading) {
    if ((law->typical_um > 0.0) != model.is_additive()) return std::nullopt;
    if (model.is_additive()) scale = std::log(law->typical_um / model.typical_um());
  }
  for (std::size_t k = 0; k < law->spreads.size(); ++k) {
    if (spread_member(law->spreads[k]) != member) continue;
    if (!std::isfinite(law->log_spread[k]) || !(law->log_spread_sd[k] > 0.0)) return std::nullopt;
    return std::pair{law->log_spread[k] + scale, law->log_spread_sd[k]};
  }
  return std::nullopt;
}

Eigen::VectorXd known_sd(const CampaignModel& model) {
  if (model.begins_from() == nullptr) return Eigen::VectorXd::Ones(model.parameter_count());
  return Cholesky(model.prior_precision()).inverse().diagonal().cwiseSqrt();
}

namespace {

[[noreturn]] void refuse_earlier(const EarlierFit& earlier, const std::string& what,
                                 const std::string& allowed, const std::string& next) {
  throw Error(Exit::data, {.code    = "another-campaign",
                           .what    = what,
                           .allowed = allowed,
                           .cause   = "[fit] from names a fit of another kind of campaign.",
                           .next    = next,
                           .file    = earlier.source});
}

std::vector<std::string> names_of_laws(const EarlierFit& earlier) {
  std::vector<std::string> out;
  for (const EarlierLaw& law : earlier.laws) out.push_back(law.name);
  return out;
}

// the laws that are to be fitted
std::vector<Scenario> rivals_of_fit(const Scenario& scenario, const std::vector<std::string>& laws) {
  if (laws.empty()) return {scenario};
  std::vector<Scenario> out;
  for (const std::string& law : laws) out.push_back(under_law(scenario, law));
  return out;
}

void check_laws(const EarlierFit& earlier, const Scenario& scenario, const std::vector<std::string>& laws) {
  for (const Scenario& rival : rivals_of_fit(scenario, laws)) {
    if (law_of(earlier, rival.model) != nullptr) continue;
    refuse_earlier(
        earlier,
        fmt::format("the earlier fit knows nothing under the wear law {}",
                    printable(wear_law_text(rival.model.wear))),
        or_list(names_of_laws(earlier)),
        "Fit the laws that it has ([fit] laws, or [wear] law for one), or fit the earlier campaign again under all of them.");
  }
}

// readings of an edge at a moment, as both tell them
using ReadingKey = std::pair<std::string, std::string>;

// how many of these readings stand among those of the earlier fit
int readings_again(const std::multimap<ReadingKey, double>& then, const std::vector<const Reading*>& rows,
                   const std::string& edge) {
  int out = 0;
  for (const Reading* r : rows) {
    const auto [from, to] = then.equal_range({edge, r->moment_name});
    for (const double value : {r->reading_N, r->apex_radius_um, r->recession_um, r->mass_loss_mg}) {
      if (std::isnan(value)) continue;
      out += std::any_of(
                 from, to,
                 [&](const auto& known) { return std::abs(known.second - value) <= 1e-9 * std::abs(value); })
                 ? 1
                 : 0;
    }
  }
  return out;
}

int measurements_in(const std::vector<const Reading*>& rows) {
  int out = 0;
  for (const Reading* r : rows) {
    for (const double value : {r->reading_N, r->apex_radius_um, r->recession_um, r->mass_loss_mg})
      out += std::isnan(value) ? 0 : 1;
  }
  return out;
}

void check_read_twice(const EarlierFit& earlier, const Scenario& scenario,
                      const std::vector<Reading>& readings) {
  std::multimap<ReadingKey, double> then;
  for (const EarlierReading& r : earlier.readings) then.emplace(ReadingKey{r.edge, r.moment}, r.measured);
  std::map<int, std::vector<const Reading*>> by_edge;
  for (const Reading& r : readings) {
    if (r.excluded.empty()) by_edge[r.edge].push_back(&r);
  }
  std::vector<std::string> twice;
  for (const auto& [edge, rows] : by_edge) {
    const std::string& name = scenario.edges[static_cast<std::size_t>(edge)].name;
    // single readings may be equal by chance; most of those of an edge are not
    if (2 * readings_again(then, rows, name) > measurements_in(rows)) twice.push_back(name);
  }
  if (twice.empty()) return;
  throw Error(
      Exit::data,
      {.code  = "read-twice",
       .what  = fmt::format("the earlier fit rests on the same readings of {}", and_list(twice)),
       .cause = "They would count twice, and what is known would look surer than it is.",
       .next  = "Leave the readings that were fitted then out of [readings], or take from out of [fit].",
       .file  = earlier.source});
}

}  // namespace

void check_earlier(const EarlierFit& earlier, const Scenario& scenario, const FitSettings& settings,
                   const std::vector<std::string>& laws, const std::vector<Reading>& readings) {
  check_laws(earlier, scenario, laws);
  std::vector<std::string> free =
      settings.free.empty() ? usual_parameters(scenario, readings) : settings.free;
  for (const EarlierLaw& law : earlier.laws) free.insert(free.end(), law.paths.begin(), law.paths.end());
  const bool several = earlier.laws.size() > 1 || laws.size() > 1;
  check_given(earlier.given, several, earlier.source, scenario, free);
  check_read_twice(earlier, scenario, readings);
}

namespace {

/// Parameters of two fits, by what both say of them.
struct ParametersOfBoth {
  std::vector<std::string> known, anew, fixed_then, unused, at_end;
};

ParametersOfBoth parameters_of_both(const EarlierFit& earlier, const EarlierLaw& law,
                                    const CampaignModel& model) {
  ParametersOfBoth out;
  const auto       has = [](const std::vector<std::string>& all, const std::string& path) {
    return std::find(all.begin(), all.end(), path) != all.end();
  };
  std::vector<std::string> now;
  for (const FreeParameter& p : model.parameters()) {
    now.push_back(p.path);
    const bool held = has(law.paths, p.path) && !is_from_earlier(p);
    if (named_by(earlier.anew, p.path)) continue;
    (is_from_earlier(p)                 ? out.known
     : held                             ? out.at_end
     : has(earlier.given.paths, p.path) ? out.fixed_then
                                        : out.anew)
        .push_back(p.path);
  }
  for (const std::string& path : law.paths) {
    if (!has(now, path)) out.unused.push_back(path);
  }
  return out;
}

// edges that have the name of one that was read then
std::vector<std::string> edges_again(const EarlierFit& earlier, const CampaignModel& model) {
  std::set<std::string> then;
  for (const EarlierReading& r : earlier.readings) then.insert(r.edge);
  std::vector<std::string> out;
  for (const int e : model.edges_read()) {
    const std::string& name = model.scenario().edges[static_cast<std::size_t>(e)].name;
    if (then.count(name) > 0) out.push_back(name);
  }
  return out;
}

std::vector<std::string> spreads_from(const CampaignModel& model) {
  std::vector<std::string> out;
  const auto               names   = spread_names(model);
  const auto               members = spreads_in(model);
  for (std::size_t k = 0; k < members.size(); ++k) {
    if (earlier_spread(model, members[k])) out.push_back(names[k].substr(std::string("sd of ").size()));
  }
  return out;
}

}  // namespace

std::vector<std::string> earlier_sentences(const CampaignModel& model) {
  const EarlierLaw* law = model.begins_from();
  if (law == nullptr) return {};
  const EarlierFit&      earlier = *model.settings().earlier;
  const ParametersOfBoth both    = parameters_of_both(earlier, *law, model);
  const auto             spreads = spreads_from(model);
  std::string            said    = fmt::format(
                    "Begins from {} ({} of {}): {} of {} known from it{}", printable(earlier.source),
                    counted(std::ssize(earlier.readings), "measurement"), counted(earlier.edges, "edge"), both.known.size(),
                    counted(std::ssize(model.parameters()), "free parameter"),
      spreads.empty() ? std::string() : fmt::format(", and the scatter of {}", and_list(spreads)));
  const auto add = [&](const char* what, const std::vector<std::string>& paths) {
    if (!paths.empty()) said += fmt::format("; {}: {}", what, and_list(paths));
  };
  add("new here", both.anew);
  add("not taken from it, by [fit] anew", earlier.anew);
  add("held fixed then", both.fixed_then);
  add("at an end of its range then, and with its own prior here", both.at_end);
  add("known there, and held fixed or not met here", both.unused);
  std::vector<std::string> out{
      said +
      ". What single edges, operators, lots, days, ways and woods showed beside the model then is not carried over, nor are the weights of wear laws."};
  if (!both.fixed_then.empty())
    out.push_back(fmt::format(
        "What the earlier fit knows, it knows for {} as it was held then: with that free it is less sure than it looks.",
        and_list(both.fixed_then)));
  if (const auto again = edges_again(earlier, model); !again.empty())
    out.push_back(fmt::format(
        "{} {} the name of an edge that was read then. Its luck is drawn anew here; if it is the same edge, fit all its readings in one campaign.",
        and_list(again), again.size() == 1 ? "has" : "each have"));
  return out;
}

}  // namespace arris
