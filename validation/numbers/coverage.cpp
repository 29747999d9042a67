// SPDX-License-Identifier: MIT
// How often nominal 90 % intervals hold the truth, over campaigns whose truth is known because it is invented: with the law of
// wear that is fitted, and with another one, as in life.
#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "sim/fit/derived.hpp"
#include "sim/fit/fit.hpp"
#include "sim/fit/ways.hpp"
#include "sim/input/files.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "sim/parallel.hpp"
#include "validation/numbers/numbers.hpp"

namespace arris::numbers {

namespace {

const std::vector<std::string> paths{"tester.cut_resistance_N", "tester.slope_N_per_um",
                                     "coefficients.abrasion",   "coefficients.radius_per_scratch",
                                     "coefficients.dub_share",  "wear.parting_um2_per_m"};
const std::vector<std::string> quantities{"reading of A1 off the stones",  "reading of A1 ready",
                                          "apex radius of A1 ready",       "reading of A1 after 150 passes",
                                          "reading of A2 after 60 passes", "reading of A2 after 300 passes",
                                          "passes of A2 to the limit"};

/// The edge from which rivals start alike, and how far they go together, in the reference wood.
constexpr double start_um = 0.1, path_m = 150.0;

/// Radius after the path under a law that depends on the radius, by small steps; a law of the path is summed the same way.
template <class Law>
double radius_after(const Law& law) {
  double       r     = start_um;
  const int    steps = 20000;
  const double h     = path_m / steps;
  for (int i = 0; i < steps; ++i) {
    const double middle = r + 0.5 * h * law.rate(r, i * h);
    r += h * law.rate(middle, (i + 0.5) * h);
  }
  return r;
}

/// A rival that comes to the same radius as the default law after the path: its rate times what that takes.
template <class Law>
laws::WearLaw<double> matched(const Law& law, double factor) {
  const double goal = radius_after(laws::SharedLoad<double>{}.times(factor));
  double       low = 1e-6, high = 1e6;
  for (int i = 0; i < 100; ++i) {
    const double middle                                   = std::sqrt(low * high);
    (radius_after(law.times(middle)) < goal ? low : high) = middle;
  }
  return law.times(std::sqrt(low * high));
}

struct Tally {
  int    held = 0, counted = 0;
  double off = 0.0, off2 = 0.0;
  void   add(double error_in_sd, double reach) {
      ++counted;
      held += std::abs(error_in_sd) <= reach;
      off += error_in_sd;
      off2 += error_in_sd * error_in_sd;
  }
  [[nodiscard]] Json json() const {
    const double n = counted;
    return {{"held", held},
            {"of", counted},
            {"mean", off / n},
            {"sd", std::sqrt(std::max(off2 / n - off * off / n / n, 0.0))}};
  }
};

/// What campaigns are drawn from.
struct Truth {
  const char* name;
  /// By the factor on the default rate; empty: the law that is fitted.
  std::function<laws::WearLaw<double>(double)> law = {};
  /// Operators and filament lots differ in the readings: whether that is fitted too.
  bool all_effects = true;
};

std::vector<Truth> truths() {
  return {
      {"shared-load", {}},
      {"shared-load, operators and lots not fitted", {}, false},
      {"square-root", [](double f) { return matched(laws::SquareRoot<double>{}, f); }},
      {"power", [](double f) { return matched(laws::Power<double>{}, f); }},
      {"constant-rate", [](double f) { return matched(laws::ConstantRate<double>{}, f); }},
      {"settling", [](double f) { return matched(laws::Settling<double>{}, f); }},
  };
}

/// The demonstration's campaign, what is fitted of it and what is asked of the fit.
struct Task {
  Campaign                     yard;
  std::vector<FreeParameter>   free;
  std::vector<DerivedQuantity> asked;

  [[nodiscard]] const Scenario& base() const { return yard.loaded.scenario; }
};

Task task_of_the_yard() {
  Task task{.yard  = load_campaign_file(std::string(ARRIS_SOURCE_DIR) + "/configs/boatyard/boatyard.toml"),
            .free  = {},
            .asked = {}};
  for (const auto& path : paths) task.free.push_back(free_parameter(task.base().model, path));
  for (const auto& text : quantities) task.asked.push_back(derived_quantity(task.base(), text));
  return task;
}

/// A quantity of a fit: how far it is off the truth in standard deviations, and how far its interval reaches; off is NaN where
/// there is no truth.
struct Miss {
  double off, reach;
};

/// One campaign: whether its fit converged; parameters, then quantities.
struct CampaignOutcome {
  bool              converged = false;
  std::vector<Miss> misses;
};

/// A quantity: the truth by the true law, the interval from the slopes, as a fit prints it.
Miss quantity_miss(const Task& task, const Scenario& invented, const CampaignModel& model,
                   const FitResult& result, const DerivedQuantity& quantity) {
  const Eigen::VectorXd            none;
  const std::vector<FreeParameter> nothing;
  const double                     true_value = DerivedModel(invented, nothing, quantity).value(none);
  DerivedModel                     fitted(task.base(), task.free, quantity);
  double                           value = 0.0;
  Eigen::VectorXd                  slopes;
  if (!(true_value > 0.0) || !std::isfinite(true_value) || !fitted.log_value(result.best.u, value, &slopes))
    return {not_given, 0.0};
  // a fit tells what those who read show; what others would is as uncertain as they differ
  const double level = quantity.kind == DerivedKind::reading ? level_sd_of(model, result.best.spread) : 0.0;
  const double sd    = std::sqrt(slopes.dot(result.information.covariance * slopes) + level * level);
  return {(value - std::log(true_value)) / sd,
          reach_90(degrees_of_freedom(model, result.best, result.information, slopes)[0])};
}

/// Campaign `c` drawn from the truth with parameters of its own, and fitted.
CampaignOutcome fitted_campaign(const Task& task, const Truth& truth, std::size_t c) {
  const auto      P = static_cast<Eigen::Index>(task.free.size());
  Eigen::VectorXd at(P);
  for (Eigen::Index i = 0; i < P; ++i)
    at[i] = 0.7 * std::sin(1.7 * static_cast<double>(c) + 2.1 * static_cast<double>(i));
  Scenario invented = task.base();
  invented.model    = with_parameters(task.base().model, task.free, at);
  if (truth.law)
    invented.model.wear->law = truth.law(task.free.back().value(at[P - 1]) / task.free.back().value(0.0));
  FitSettings settings;
  settings.starts          = 4;
  settings.operator_effect = settings.lot_effect = truth.all_effects;
  const CampaignModel model(task.base(), invent_readings(invented, c + 1, {"K", "M"}, {"N-07", "N-09"}, 1),
                            task.free, settings);
  const FitResult     result = fit(model, 1);
  CampaignOutcome     outcome{.converged = result.converged};
  if (!result.converged) return outcome;
  for (Eigen::Index i = 0; i < P; ++i) {
    const bool there = !truth.law || i + 1 < P;  // a rival has no rate of the fitted law
    outcome.misses.push_back(
        {there ? (result.best.u[i] - at[i]) / std::sqrt(result.information.covariance(i, i)) : not_given,
         reach_90(result.information.dof[i])});
  }
  for (const DerivedQuantity& quantity : task.asked)
    outcome.misses.push_back(quantity_miss(task, invented, model, result, quantity));
  return outcome;
}

Json share_held(const Truth& truth, const std::vector<CampaignOutcome>& outcomes) {
  std::vector<std::string> names = paths;
  names.insert(names.end(), quantities.begin(), quantities.end());
  std::vector<Tally> tallies(names.size());
  int                converged = 0;
  for (const CampaignOutcome& outcome : outcomes) {
    if (!outcome.converged) continue;
    ++converged;
    for (std::size_t i = 0; i < names.size(); ++i)
      if (!std::isnan(outcome.misses[i].off)) tallies[i].add(outcome.misses[i].off, outcome.misses[i].reach);
  }
  Json row{{"truth", truth.name}, {"campaigns", outcomes.size()}, {"converged", converged}};
  for (std::size_t i = 0; i < names.size(); ++i)
    if (tallies[i].counted > 0) row["intervals"][names[i]] = tallies[i].json();
  return row;
}

}  // namespace

Json coverage(int campaigns) {
  const Task task = task_of_the_yard();
  Json       out  = Json::array();
  for (const Truth& truth : truths()) {
    std::vector<CampaignOutcome> outcomes(static_cast<std::size_t>(campaigns));
    for_each_index(outcomes.size(), 0, [&](std::size_t c) { outcomes[c] = fitted_campaign(task, truth, c); });
    out.push_back(share_held(truth, outcomes));
  }
  return out;
}

}  // namespace arris::numbers
