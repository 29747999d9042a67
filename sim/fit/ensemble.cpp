// SPDX-License-Identifier: MIT
#include "sim/fit/ensemble.hpp"

#include <algorithm>
#include <cmath>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/rules_of_thumb.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/simulate/life.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
Ensemble prior_ensemble(const Scenario& scenario, const std::map<std::string, Prior>& stated, int members,
                        unsigned long long seed) {
  Ensemble                   out;
  std::vector<FreeParameter> parameters;
  for (const std::string& path : fittable_parameters(scenario.model)) {
    parameters.push_back(free_parameter(scenario.model, path, stated));
    out.paths.push_back(path);
  }
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  const bool                                 specimens = scenario.model.specimen.in_use;
  const RulesOfThumb                         rules(scenario.model, parameters, stated);
  const auto                                 P = static_cast<Eigen::Index>(parameters.size());
  out.values.resize(members, P);
  Eigen::VectorXd u(P);
  // all draws in turn, so that as few as possible are taken twice; another seed begins with another
  const std::size_t first = engine() % RulesOfThumb::draws();
  for (Eigen::Index i = 0; i < members; ++i) {
    for (double& x : u) x = normal(engine);
    if (!specimens)  // they are of blades
      rules.hear(u, (first + static_cast<std::size_t>(i)) % RulesOfThumb::draws());
    for (Eigen::Index j = 0; j < P; ++j) {
      const FreeParameter& p = parameters[static_cast<std::size_t>(j)];
      out.values(i, j)       = std::clamp(p.value(u[j]), p.low, p.high);
    }
  }
  out.spreads.assign(static_cast<std::size_t>(members), stated_spread(scenario));
  if (specimens) {
    out.rests_on = fmt::format(
        "Rests on the values of the configuration, with {} parameters varied over their priors; no reading of yours is behind it.",
        parameters.size());
    return out;
  }
  out.rests_on = fmt::format(
      "Rests on rules of thumb of the trade, no measurement: the defaults of the program and the values of the configuration, with {} parameters varied over what their priors and {} such rules leave open together; no reading of yours is behind it.",
      parameters.size(), rules.facts());
  return out;
}

Given given_to_fit(const Model<double>& model, const std::vector<std::string>& free) {
  Given         out;
  Model<double> copy = model;
  for_each_number(copy, [&](const std::string& path, const Field&, double& number) {
    const bool scatter = path.rfind("scatter.", 0) == 0;
    if (scatter || std::isnan(number) || std::find(free.begin(), free.end(), path) != free.end()) return;
    out.paths.push_back(path);
    out.values.push_back(number);
  });
  out.wear_law = wear_law_text(model.wear);
  return out;
}

void check_given(const Given& then, bool laws, const std::string& source, const Scenario& scenario,
                 const std::vector<std::string>& fitted) {
  const auto refuse = [&](const std::string& what) {
    throw Error(
        Exit::data,
        {.code  = "another-campaign",
         .what  = what,
         .cause = "The fit belongs to another configuration, or this one was changed since.",
         .next =
             "A tool or material that was changed is another one: give it another name. Or fit this configuration: arris fit FILE --draws 2000 --out fit.h5",
         .file = source});
  };
  const Given here = given_to_fit(scenario.model, fitted);
  if (!laws && then.wear_law != here.wear_law) {
    refuse(fmt::format("the wear law is {} here, and was {} in the fit", printable(here.wear_law),
                       printable(then.wear_law)));
  }
  std::vector<std::string> differing;
  for (std::size_t i = 0; i < then.paths.size(); ++i) {
    const auto at = std::find(here.paths.begin(), here.paths.end(), then.paths[i]);
    if (at == here.paths.end() || (laws && is_wear_path(then.paths[i]))) continue;
    const double value = here.values[static_cast<std::size_t>(at - here.paths.begin())];
    // conversions between units may round
    if (std::abs(value - then.values[i]) <= 1e-9 * std::max(std::abs(value), std::abs(then.values[i])))
      continue;
    differing.push_back(
        fmt::format("{} is {:g} here and {:g} in the fit", printable(then.paths[i]), value, then.values[i]));
  }
  if (differing.empty()) return;
  std::string what = "the fit was made with other values: ";
  for (std::size_t i = 0; i < std::min<std::size_t>(5, differing.size()); ++i)
    what += (i > 0 ? "; " : "") + differing[i];
  if (differing.size() > 5) what += fmt::format("; and {} more", differing.size() - 5);
  refuse(what);
}

namespace {

bool is_parameter(const std::string& column) {
  return spread_member(column) == nullptr && !effect_of_column(column);
}

std::vector<Effect> effects_of_columns(const std::vector<std::string>& columns) {
  std::vector<Effect> out;
  for (const std::string& column : columns) {
    if (auto effect = effect_of_column(column)) out.push_back(std::move(*effect));
  }
  return out;
}

/// Draws of the parameters, under one law or another.
struct DrawTable {
  const std::vector<std::string>& columns;
  const std::vector<double>&      values;
  const Spread&                   spread;  ///< of what was not drawn

  [[nodiscard]] std::size_t rows() const { return values.size() / std::max<std::size_t>(1, columns.size()); }
  [[nodiscard]] const double* row(std::size_t i) const { return values.data() + i * columns.size(); }
  [[nodiscard]] Spread        spread_of(const double* row) const {
           Spread out = spread;
           for (std::size_t c = 0; c < columns.size(); ++c) {
             if (double Spread::*member = spread_member(columns[c])) out.*member = row[c];
    }
           return out;
  }
  /// Means over all draws of what `logs_of` gives of each.
  [[nodiscard]] Eigen::VectorXd mean_logs(const std::vector<Effect>& effects) const;
  /// Logs of the factors that `effects` are; 0 for one that has no column.
  [[nodiscard]] Eigen::RowVectorXd logs_of(const double* row, const std::vector<Effect>& effects) const;
  /// The places of columns that are parameters of the scenario. Throws "another-campaign".
  [[nodiscard]] std::vector<std::size_t> places_in(const Scenario& scenario, const std::string& file) const;
};

Eigen::RowVectorXd DrawTable::logs_of(const double* row, const std::vector<Effect>& effects) const {
  Eigen::RowVectorXd out = Eigen::RowVectorXd::Zero(static_cast<Eigen::Index>(effects.size()));
  for (std::size_t w = 0; w < effects.size(); ++w) {
    const auto at = std::find(columns.begin(), columns.end(), effect_column(effects[w]));
    if (at != columns.end()) out[static_cast<Eigen::Index>(w)] = std::log(row[at - columns.begin()]);
  }
  return out;
}

Eigen::VectorXd DrawTable::mean_logs(const std::vector<Effect>& effects) const {
  Eigen::RowVectorXd sum = Eigen::RowVectorXd::Zero(static_cast<Eigen::Index>(effects.size()));
  for (std::size_t i = 0; i < rows(); ++i) sum += logs_of(row(i), effects);
  return sum.transpose() / static_cast<double>(std::max<std::size_t>(1, rows()));
}

std::vector<std::size_t> DrawTable::places_in(const Scenario& scenario, const std::string& file) const {
  std::vector<std::string> known;
  Model<double>            model = scenario.model;
  for_each_number(model, [&](const std::string& name, const Field&, double&) { known.push_back(name); });
  std::vector<std::size_t> out;
  for (std::size_t c = 0; c < columns.size(); ++c) {
    if (!is_parameter(columns[c])) continue;
    if (std::find(known.begin(), known.end(), columns[c]) == known.end()) {
      throw Error(Exit::data,
                  {.code  = "another-campaign",
                   .what  = fmt::format("the configuration has no parameter \"{}\", which was fitted",
                                        printable(columns[c])),
                   .cause = "The fit was made for another configuration.",
                   .next  = "Fit this configuration, or name the one that was fitted.",
                   .file  = file});
    }
    out.push_back(c);
  }
  return out;
}

double best_of(const std::string& path, const std::vector<std::string>& parameters,
               const std::vector<double>& best, const std::string& file) {
  const auto at = std::find(parameters.begin(), parameters.end(), path);
  if (at != parameters.end()) return best[static_cast<std::size_t>(at - parameters.begin())];
  throw Error(Exit::data,
              {.code = "another-campaign",
               .what = fmt::format("the fit does not say which value of {} fits best", printable(path)),
               .next = "Fit again: arris fit FILE --draws 2000 --out fit.h5",
               .file = file});
}

// how many of so many members each law has: whole numbers nearest to the weights, those left to the largest remainders
std::vector<std::size_t> members_by_weight(const std::vector<FittedLaw>& laws, std::size_t members) {
  double all = 0.0;
  for (const FittedLaw& law : laws) all += law.weight;
  std::vector<std::size_t>                    counts;
  std::vector<std::pair<double, std::size_t>> remainders;
  std::size_t                                 left = members;
  for (std::size_t k = 0; k < laws.size(); ++k) {
    const double exact = laws[k].weight / all * static_cast<double>(members);
    counts.push_back(static_cast<std::size_t>(exact));
    left -= counts.back();
    remainders.emplace_back(static_cast<double>(counts.back()) - exact, k);
  }
  std::stable_sort(remainders.begin(), remainders.end());
  for (std::size_t i = 0; i < left; ++i) ++counts[remainders[i].second];
  return counts;
}

// the wear law of a fit at its optimum
laws::HeldWearLaw<double> law_at_best(const FittedLaw& law, const Scenario& scenario,
                                      const std::string& file) {
  if (const auto found = wear_law_of_text(law.wear_law, scenario))
    return with_wear_numbers(*found, law.wear_paths, law.wear_values);
  throw Error(Exit::data, {.code  = "another-campaign",
                           .what  = fmt::format("there is no wear law \"{}\" here, which was fitted",
                                                printable(law.wear_law)),
                           .cause = "The fit was made for another configuration.",
                           .next  = "Fit this configuration, or name the one that was fitted.",
                           .file  = file});
}

// paths that are free under every law
std::vector<std::string> common_paths(const FittedLaw& law) {
  std::vector<std::string> out;
  for (const std::string& column : law.columns) {
    if (is_parameter(column) && !is_wear_path(column)) out.push_back(column);
  }
  return out;
}

// numbers of one row of draws, at columns that begin as wear paths do or at the others
std::vector<double> row_values(const FittedLaw& law, const double* row, bool of_wear) {
  std::vector<double> out;
  for (std::size_t c = 0; c < law.columns.size(); ++c) {
    if (is_parameter(law.columns[c]) && is_wear_path(law.columns[c]) == of_wear) out.push_back(row[c]);
  }
  return out;
}

std::vector<std::string> wear_columns(const FittedLaw& law) {
  std::vector<std::string> out;
  for (const std::string& column : law.columns) {
    if (is_wear_path(column)) out.push_back(column);
  }
  return out;
}

std::string laws_sentence(const std::vector<EnsembleLaw>& laws) {
  std::vector<std::string> shares;
  for (const EnsembleLaw& law : laws) {
    if (law.weight >= 0.005) shares.push_back(fmt::format("{} ({:.0f} %)", law.name, 100.0 * law.weight));
  }
  if (shares.size() < 2) return "the wear law " + laws.front().name;
  return fmt::format("{} wear laws together, each by its weight: {}", shares.size(), and_list(shares));
}

// whether the effects that a fit keeps are those at these values, the first of its parameters: it may have told those of another law
bool are_at(const FittedDraws& draws, const std::vector<double>& best) {
  return draws.best.size() >= best.size() && std::equal(best.begin(), best.end(), draws.best.begin());
}

// logs of the factors that these are where the parameters are at their best values; of draws the mean, where the fit does not say so
Eigen::VectorXd effects_at_best(const FittedDraws& draws, const std::vector<double>& best,
                                const DrawTable& table, const std::vector<Effect>& effects) {
  const EffectsAtBest& known = draws.effects;
  if (known.names.empty() || !are_at(draws, best)) return table.mean_logs(effects);
  Eigen::VectorXd out = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(effects.size()));
  for (std::size_t k = 0; k < effects.size(); ++k) {
    for (std::size_t i = 0; i < known.names.size(); ++i) {
      if (known.names[i] == effects[k].name && known.kinds[i] == name_of(effects[k].kind))
        out[static_cast<Eigen::Index>(k)] = known.log_factors[i];
    }
  }
  return out;
}

Ensemble ensemble_of_laws(const FittedDraws& draws, const Scenario& scenario, std::size_t members) {
  Ensemble               out;
  std::vector<FittedLaw> laws = draws.laws;
  std::stable_sort(laws.begin(), laws.end(),
                   [](const FittedLaw& a, const FittedLaw& b) { return a.weight > b.weight; });
  out.paths   = common_paths(laws.front());
  out.effects = effects_of_columns(laws.front().columns);
  out.effect_logs.resize(static_cast<Eigen::Index>(members), static_cast<Eigen::Index>(out.effects.size()));
  const auto counts = members_by_weight(laws, members);
  out.values.resize(static_cast<Eigen::Index>(members), static_cast<Eigen::Index>(out.paths.size()));
  for (std::size_t k = 0; k < laws.size(); ++k) {
    const FittedLaw& law = laws[k];
    const DrawTable  table{law.columns, law.values, law.spread};
    EnsembleLaw      of{
        law.name, law.weight, law.ruled_out, law_at_best(law, scenario, draws.source), wear_columns(law),
        {},       {}};
    for (const std::string& path : out.paths)
      of.best.push_back(best_of(path, law.parameters, law.best, draws.source));
    of.discrepancy = law.discrepancy;
    for (std::size_t i = 0; i < counts[k]; ++i) {
      const double* row    = table.row(i * table.rows() / counts[k]);
      const auto    common = row_values(law, row, false);
      out.values.row(static_cast<Eigen::Index>(out.spreads.size())) =
          Eigen::Map<const Eigen::RowVectorXd>(common.data(), static_cast<Eigen::Index>(common.size()));
      out.effect_logs.row(static_cast<Eigen::Index>(out.spreads.size())) = table.logs_of(row, out.effects);
      out.spreads.push_back(table.spread_of(row));
      out.law_of.push_back(k);
      out.wear.push_back(with_wear_numbers(of.wear, wear_columns(law), row_values(law, row, true)));
    }
    out.laws.push_back(std::move(of));
  }
  out.best        = out.laws.front().best;
  out.effect_best = effects_at_best(
      draws, out.best, {laws.front().columns, laws.front().values, laws.front().spread}, out.effects);
  out.rests_on =
      fmt::format("Rests on {} posterior draws under {}, fitted to {} of {} ({}).", members,
                  laws_sentence(out.laws), counted(draws.readings, "measurement"),
                  counted(draws.edges, scenario.model.specimen.in_use ? "specimen" : "edge"), draws.source);
  return out;
}

Ensemble ensemble_of_one_law(const FittedDraws& draws, const Scenario& scenario, std::size_t members) {
  const DrawTable                table{draws.columns, draws.values, draws.spread};
  const std::vector<std::size_t> places = table.places_in(scenario, draws.source);
  Ensemble                       out;
  for (const std::size_t c : places) out.paths.push_back(draws.columns[c]);
  const std::size_t count = std::min(table.rows(), members);
  out.values.resize(static_cast<Eigen::Index>(count), static_cast<Eigen::Index>(places.size()));
  out.effects = effects_of_columns(draws.columns);
  out.effect_logs.resize(static_cast<Eigen::Index>(count), static_cast<Eigen::Index>(out.effects.size()));
  for (std::size_t i = 0; i < count; ++i) {
    const double* row = table.row(i * table.rows() / count);
    for (std::size_t j = 0; j < places.size(); ++j)
      out.values(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = row[places[j]];
    out.spreads.push_back(table.spread_of(row));
    out.effect_logs.row(static_cast<Eigen::Index>(i)) = table.logs_of(row, out.effects);
  }
  for (const std::string& path : out.paths)
    out.best.push_back(best_of(path, draws.parameters, draws.best, draws.source));
  out.effect_best = effects_at_best(draws, out.best, table, out.effects);
  const bool wears =
      std::any_of(out.paths.begin(), out.paths.end(), [](const std::string& p) { return is_wear_path(p); });
  const std::string alone =
      wears ? fmt::format(" under the wear law {} alone (arris weigh sets it beside others)",
                          scenario.model.wear.name())
            : std::string();
  out.rests_on =
      fmt::format("Rests on {} posterior draws of {} parameters{}, fitted to {} of {} ({}).", count,
                  places.size(), alone, counted(draws.readings, "measurement"),
                  counted(draws.edges, scenario.model.specimen.in_use ? "specimen" : "edge"), draws.source);
  return out;
}

}  // namespace

Ensemble ensemble_of(const FittedDraws& draws, const Scenario& scenario, int members) {
  const DrawTable          table{draws.columns, draws.values, draws.spread};
  std::vector<std::string> fitted;
  if (draws.laws.empty()) {
    for (const std::size_t c : table.places_in(scenario, draws.source)) fitted.push_back(draws.columns[c]);
  } else {
    for (const FittedLaw& law : draws.laws)
      (void)DrawTable{common_paths(law), law.values, law.spread}.places_in(scenario, draws.source);
    fitted = common_paths(draws.laws.front());
  }
  check_given(draws.given, !draws.laws.empty(), draws.source, scenario, fitted);
  const auto count = static_cast<std::size_t>(std::max(1, members));
  Ensemble   out   = draws.laws.empty() ? ensemble_of_one_law(draws, scenario, count)
                                        : ensemble_of_laws(draws, scenario, count);
  out.edges        = draws.edges;
  out.readings     = draws.readings;
  out.misses       = draws.misses;
  if (draws.laws.empty()) out.discrepancy = draws.discrepancy;
  return out;
}

Ensemble of_one_law(const Ensemble& ensemble, std::size_t k) {
  Ensemble                 out  = ensemble;
  const EnsembleLaw&       law  = ensemble.laws[k];
  const WearNumbers        best = wear_numbers(law.wear);
  std::vector<std::size_t> members;
  for (std::size_t i = 0; i < ensemble.size(); ++i) {
    if (ensemble.law_of[i] == k) members.push_back(i);
  }
  Eigen::MatrixXd numbers(static_cast<Eigen::Index>(members.size()),
                          static_cast<Eigen::Index>(best.paths.size()));
  out.values.resize(numbers.rows(), ensemble.values.cols());
  out.effect_logs.resize(numbers.rows(), ensemble.effect_logs.cols());
  out.spreads.clear();
  for (Eigen::Index i = 0; i < numbers.rows(); ++i) {
    const std::size_t member = members[static_cast<std::size_t>(i)];
    const WearNumbers here   = wear_numbers(ensemble.wear[member]);
    numbers.row(i)           = Eigen::Map<const Eigen::RowVectorXd>(here.values.data(), numbers.cols());
    out.values.row(i)        = ensemble.values.row(static_cast<Eigen::Index>(member));
    out.effect_logs.row(i)   = ensemble.effect_logs.row(static_cast<Eigen::Index>(member));
    out.spreads.push_back(ensemble.spreads[member]);
  }
  if (k > 0 && numbers.rows() > 0) out.effect_best = out.effect_logs.colwise().mean().transpose();
  for (std::size_t j = 0; j < best.paths.size(); ++j) {
    const auto column = numbers.col(static_cast<Eigen::Index>(j));
    if (!(column.maxCoeff() > column.minCoeff())) continue;  // it was not fitted
    out.paths.push_back(best.paths[j]);
    out.best.push_back(best.values[j]);
    out.values.conservativeResize(Eigen::NoChange, out.values.cols() + 1);
    out.values.rightCols(1) = column;
  }
  out.discrepancy = law.discrepancy;
  out.laws.clear();
  out.wear.clear();
  out.law_of.clear();
  out.rests_on = fmt::format(
      "Rests on {} posterior draws under one wear law of those fitted, {} ({:.0f} %), fitted to {} of {}.",
      out.size(), law.name, 100.0 * law.weight, counted(ensemble.readings, "measurement"),
      counted(ensemble.edges, "edge"));
  return out;
}

Eigen::MatrixXd drawn_misses(const Ensemble& ensemble, const std::vector<double>& passes,
                             unsigned long long seed) {
  if (!ensemble.has_laws()) return drawn_discrepancy(ensemble.discrepancy, passes, ensemble.size(), seed);
  Eigen::MatrixXd out(static_cast<Eigen::Index>(ensemble.size()), static_cast<Eigen::Index>(passes.size()));
  for (std::size_t k = 0; k < ensemble.laws.size(); ++k) {
    std::vector<Eigen::Index> members;
    for (std::size_t i = 0; i < ensemble.size(); ++i) {
      if (ensemble.law_of[i] == k) members.push_back(static_cast<Eigen::Index>(i));
    }
    out(members, Eigen::all) =
        drawn_discrepancy(ensemble.laws[k].discrepancy, passes, members.size(), seed + k);
  }
  return out;
}

namespace {

// where an effect stands among those of the ensemble; behind the last where it is none of them
Eigen::Index place_of(const Ensemble& ensemble, const Effect& effect) {
  return std::find_if(ensemble.effects.begin(), ensemble.effects.end(),
                      [&](const Effect& e) { return e.kind == effect.kind && e.name == effect.name; }) -
         ensemble.effects.begin();
}

}  // namespace

Eigen::VectorXd effect_logs(const Ensemble& ensemble, const Effect& effect, unsigned long long seed) {
  const Eigen::Index place = place_of(ensemble, effect);
  if (place < std::ssize(ensemble.effects)) return ensemble.effect_logs.col(place);
  Eigen::VectorXd out = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(ensemble.size()));
  if (std::none_of(ensemble.effects.begin(), ensemble.effects.end(),
                   [&](const Effect& e) { return e.kind == effect.kind; }))
    return out;
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  for (std::size_t i = 0; i < ensemble.size(); ++i)
    out[static_cast<Eigen::Index>(i)] = ensemble.spreads[i].of(effect.kind) * normal(engine);
  return out;
}

double effect_at_best(const Ensemble& ensemble, const Effect& effect) {
  const Eigen::Index place = place_of(ensemble, effect);
  return place < std::ssize(ensemble.effects) ? ensemble.effect_best[place] : 0.0;
}

SharedLuck shared_luck(const Ensemble& ensemble, const std::string& way, const std::string& wood,
                       unsigned long long seed) {
  return {effect_logs(ensemble, {EffectKind::way, way}, seed),
          effect_logs(ensemble, {EffectKind::way_wear, way}, seed + 1) +
              effect_logs(ensemble, {EffectKind::wood, wood}, seed + 2)};
}

Eigen::VectorXd reading_levels(const Ensemble& ensemble) {
  const Eigen::Index place = place_of(ensemble, level_of_readings);
  return place < std::ssize(ensemble.effects)
             ? Eigen::VectorXd(ensemble.effect_logs.col(place))
             : Eigen::VectorXd::Zero(static_cast<Eigen::Index>(ensemble.size()));
}

Ensemble single_member(const Scenario& scenario) {
  Ensemble out;
  out.values.resize(1, 0);
  out.spreads  = {stated_spread(scenario)};
  out.rests_on = "Rests on the values of the configuration alone.";
  return out;
}

namespace {

// with `value(j)` for the number at the j-th of these paths
template <class Value>
Model<double> with_values(Model<double> model, const std::vector<std::string>& paths, Value&& value) {
  std::vector<char> found(paths.size(), 0);
  for_each_number(model, [&](const std::string& path, const Field&, double& number) {
    const auto at = std::find(paths.begin(), paths.end(), path);
    if (at == paths.end()) return;
    const auto j = static_cast<std::size_t>(at - paths.begin());
    number       = value(j);
    found[j]     = 1;
  });
  for (std::size_t j = 0; j < found.size(); ++j) {
    if (found[j] != 0) continue;
    throw Error(Exit::usage, {.code  = "unknown-parameter",
                              .what  = fmt::format("the configuration has no parameter \"{}\"", paths[j]),
                              .cause = "The fit was made for another configuration.",
                              .next  = "Fit this configuration, or name the one that was fitted."});
  }
  return model;
}

}  // namespace

Model<double> member_of(const Model<double>& model, const Ensemble& ensemble, std::size_t index) {
  Model<double> out = with_values(model, ensemble.paths, [&](std::size_t j) {
    return ensemble.values(static_cast<Eigen::Index>(index), static_cast<Eigen::Index>(j));
  });
  if (ensemble.has_laws()) out.wear = ensemble.wear[index];
  return out;
}

Scenario at_best(const Scenario& scenario, const Ensemble& ensemble) {
  Scenario out = scenario;
  if (!ensemble.best.empty())
    out.model = with_values(out.model, ensemble.paths, [&](std::size_t j) { return ensemble.best[j]; });
  if (ensemble.has_laws()) out.model.wear = ensemble.laws.front().wear;
  return out;
}

namespace {

void put_effects(BesideModel& beside, const Ensemble& ensemble, const Eigen::VectorXd& logs) {
  for (std::size_t k = 0; k < ensemble.effects.size(); ++k) {
    const Effect& effect = ensemble.effects[k];
    const double  value  = logs[static_cast<Eigen::Index>(k)];
    if (effect.kind == EffectKind::way) beside.ways[effect.name] = value;
    if (effect.kind == EffectKind::way_wear) beside.wear_after[effect.name] = value;
    if (effect.kind == EffectKind::wood) beside.wear_in[effect.name] = value;
  }
}

}  // namespace

void put_member_beside(BesideModel& beside, const Ensemble& ensemble, std::size_t index) {
  put_effects(beside, ensemble, ensemble.effect_logs.row(static_cast<Eigen::Index>(index)).transpose());
}

BesideModel beside_model(const Ensemble& ensemble) {
  constexpr int                points = 60;
  constexpr std::size_t        draws  = 1000;
  constexpr unsigned long long seed   = 1;
  BesideModel                  out;
  put_effects(out, ensemble, ensemble.effect_best);
  const Discrepancy& known = ensemble.has_laws() ? ensemble.laws.front().discrepancy : ensemble.discrepancy;
  if (!known.is_known()) return out;
  out.passes                 = passes_grid(known.farthest(), points);
  const Eigen::RowVectorXd y = drawn_discrepancy(known, out.passes, draws, seed).colwise().mean();
  out.along.assign(y.begin(), y.end());
  return out;
}

Scenario as_read(const Scenario& scenario, const Ensemble& ensemble) {
  Scenario out      = at_best(scenario, ensemble);
  out.beside        = beside_model(ensemble);
  out.beside.misses = ensemble.misses;
  return out;
}

}  // namespace arris
