// SPDX-License-Identifier: MIT
#include "sim/fit/identifiability.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include <fmt/format.h>

#include "sim/fit/earlier_fit.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double hardly_narrowed = 0.25;  // s² below which a direction counts as undetermined

double log_change(const FreeParameter& p, double direction) {
  return (p.prior.shape == PriorShape::log_normal ? std::log(p.prior.spread) : p.prior.spread) * direction;
}

// "slope × radius per scratch^0.8": what stays the same along the direction of two parameters
std::string invariant(const FreeParameter& a, const FreeParameter& b, double change_a, double change_b) {
  const double power = -change_a / change_b;  // a·b^power does not change
  if (std::abs(power - 1.0) < 0.15) return a.short_name() + " × " + b.short_name();
  if (std::abs(power + 1.0) < 0.15) return a.short_name() + " / " + b.short_name();
  return fmt::format("{} {} {}^{:.2g}", a.short_name(), power > 0.0 ? "×" : "/", b.short_name(),
                     std::abs(power));
}

struct Candidate {
  std::string     what;
  Eigen::VectorXd row;  ///< whitened slopes of the measurement
};

std::vector<Candidate> candidates(const CampaignModel& model, const FitResult& fit) {
  std::vector<Candidate> out;
  constexpr double       accuracy = 0.1;  // each measurement to 10 %
  const auto&            scenario = model.scenario();
  const double           edge_sd  = model.settings().edge_effect ? fit.best.spread.edge : 0.0;
  const double           sd =
      std::sqrt(accuracy * accuracy + edge_sd * edge_sd / std::max(1, model.edges_with_readings()));
  const auto apex = model.apex(fit.best.u, true);
  for (std::size_t m = 0; m < apex.radius_slopes.size(); ++m) {
    const auto found = std::find_if(model.observations().begin(), model.observations().end(),
                                    [&](const Observation& o) { return model.flat_moment(o) == m; });
    if (found == model.observations().end()) continue;
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(found->edge)];
    out.push_back(
        {fmt::format("the apex radius of edges like {} under a microscope after step {} ({}), to 10 %",
                     plan.name, model.moment_of(*found).step + 1,
                     subject_of(plan.steps[static_cast<std::size_t>(model.moment_of(*found).step)])),
         apex.radius_slopes[m] / apex.radius_um[m] / sd});
  }
  for (Eigen::Index i = 0; i < model.parameter_count(); ++i) {
    const auto&     p   = model.parameters()[static_cast<std::size_t>(i)];
    Eigen::VectorXd row = Eigen::VectorXd::Zero(model.parameter_count());
    row[i]              = log_change(p, 1.0) / accuracy;
    if (p.path.rfind("tester.", 0) == 0)
      out.push_back(
          {fmt::format("{} of the tester from edges of known radius, to 10 %", p.short_name()), row});
    if (p.path.rfind("backing.", 0) == 0)
      out.push_back({fmt::format("{} by loading the pad with weights, to 10 %", p.short_name()), row});
    if (p.path.rfind("wear.", 0) == 0)
      out.push_back({"recession after a long stretch in one wood, weighed or measured, to 10 %", row});
  }
  return out;
}

// parameters that rest at no bound
std::vector<Eigen::Index> moving_parameters(const CampaignModel& model, const FitResult& fit) {
  const auto&               held = fit.best.held;
  std::vector<Eigen::Index> moving;
  for (Eigen::Index i = 0; i < model.parameter_count(); ++i) {
    if (std::find(held.begin(), held.end(), i) == held.end()) moving.push_back(i);
  }
  return moving;
}

// those that take part in a direction, largest share first
std::vector<int> parameters_along(const Eigen::VectorXd& direction) {
  std::vector<int> order(static_cast<std::size_t>(direction.size()));
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(),
            [&](int a, int b) { return std::abs(direction[a]) > std::abs(direction[b]); });
  const double     largest = std::abs(direction[order.front()]);
  std::vector<int> out;
  for (const int i : order) {
    if (std::abs(direction[i]) > 0.35 * largest) out.push_back(i);
  }
  return out;
}

// what the readings fix across a direction of two parameters
std::string combination_across(const CampaignModel& model, const UndeterminedDirection& d) {
  const int   i = d.parameters[0], j = d.parameters[1];
  const auto& a = model.parameters()[static_cast<std::size_t>(i)];
  const auto& b = model.parameters()[static_cast<std::size_t>(j)];
  return invariant(a, b, log_change(a, d.direction[i]), log_change(b, d.direction[j]));
}

// of a single parameter, at u on the scale of its prior
std::string sentence_of_one(const std::string& name, double u) {
  constexpr double far = 2.0;  // widths of a prior
  if (std::abs(u) <= far)
    return fmt::format("These readings say next to nothing about {}; what is printed for it is its prior.",
                       name);
  return fmt::format(
      "These readings hardly narrow {} where it was put, {:.1f} widths of its prior {} what was expected: what is printed is neither measured nor its prior. It makes up for something that the model misses.",
      name, std::abs(u), u > 0.0 ? "above" : "below");
}

// by their short names, and by their paths where two have the same: "settle" of wear.settle_um and wear.settle_m
std::vector<std::string> names_of(const CampaignModel& model, const std::vector<int>& parameters) {
  std::vector<std::string> names;
  for (const int i : parameters)
    names.push_back(model.parameters()[static_cast<std::size_t>(i)].short_name());
  std::vector<std::string> out = names;
  for (std::size_t k = 0; k < names.size(); ++k) {
    if (std::count(names.begin(), names.end(), names[k]) > 1)
      out[k] = model.parameters()[static_cast<std::size_t>(parameters[k])].path;
  }
  return out;
}

std::string undetermined_sentence(const CampaignModel& model, const UndeterminedDirection& d,
                                  const Eigen::VectorXd& u) {
  if (!d.combination.empty()) return fmt::format("These readings fix {}, not either alone.", d.combination);
  const std::vector<std::string> names = names_of(model, d.parameters);
  if (names.size() == 1) return sentence_of_one(names.front(), u[d.parameters.front()]);
  return fmt::format(
      "These readings leave one combination of {} open: changed together, they leave every reading as it is.",
      and_list(names));
}

UndeterminedDirection undetermined_direction(const CampaignModel& model, const Eigen::VectorXd& u,
                                             const Eigen::VectorXd& direction, double information) {
  UndeterminedDirection d;
  d.direction   = direction;
  d.information = information;
  d.parameters  = parameters_along(direction);
  if (d.parameters.size() == 2) d.combination = combination_across(model, d);
  d.sentence = undetermined_sentence(model, d, u);
  return d;
}

// which single measurement narrows a direction most; empty where none does by much
std::string settling_sentence(const std::vector<Candidate>& measurements, const FitResult& fit,
                              const Eigen::VectorXd& direction) {
  const Eigen::MatrixXd precision = Cholesky(fit.information.covariance).inverse();
  const double          before    = direction.dot(fit.information.covariance * direction);
  double                best      = before;
  std::string           what;
  for (const Candidate& c : measurements) {
    const double after = direction.dot(Cholesky(precision + c.row * c.row.transpose()).solve(direction));
    if (after < best - 1e-9) {
      best = after;
      what = c.what;
    }
  }
  if (what.empty() || !(best < 0.8 * before)) return {};
  return fmt::format(
      "It would be settled best by {}: that takes its variance from {:.0f} % of the prior's to {:.0f} %.",
      what, 100.0 * before, 100.0 * best);
}

ParameterFate fate_of(Eigen::Index i, const CampaignModel& model, const FitResult& fit, double known_sd,
                      const std::vector<UndeterminedDirection>& undetermined) {
  const auto&  p = model.parameters()[static_cast<std::size_t>(i)];
  const double u = fit.best.u[i], variance = fit.information.covariance(i, i), sd = std::sqrt(variance);
  double       open = 0.0;
  for (const auto& d : undetermined) open += d.direction[i] * d.direction[i] / (1.0 + d.information);
  ParameterFate fate;
  fate.value  = p.value(u);
  fate.log_sd = std::abs(log_change(p, sd));
  fate.dof =
      fit.information.dof.size() > 0 ? fit.information.dof[i] : std::numeric_limits<double>::infinity();
  fate.low         = p.value(u - reach_90(fate.dof) * sd);
  fate.high        = p.value(u + reach_90(fate.dof) * sd);
  fate.prior_share = variance / (known_sd * known_sd);
  fate.widths_off  = u;
  fate.at_bound    = p.is_at_bound(u);
  // on the scale of the prior an end of the range is met but for rounding
  if (fate.at_bound) fate.value = std::abs(u - p.lowest()) < std::abs(u - p.highest()) ? p.low : p.high;
  fate.has_standard_error = open < 0.5 * variance && !fate.at_bound;
  return fate;
}

}  // namespace

Identifiability identifiability(const CampaignModel& model, const FitResult& fit) {
  // data = LᵀL: its eigenvectors are the right singular vectors of L
  const std::vector<Eigen::Index> moving  = moving_parameters(model, fit);
  const SymmetricEigen            of      = eigen_of_symmetric(fit.information.data(moving, moving));
  const Eigen::VectorXd           squares = of.values.reverse().cwiseMax(0.0);  // best determined first
  Identifiability                 out;
  out.singular_values = squares.cwiseSqrt();
  for (Eigen::Index k = 0; k < squares.size(); ++k) {
    const double s2 = squares[k];
    if (s2 >= hardly_narrowed) {
      ++out.rank;
      continue;
    }
    Eigen::VectorXd direction = Eigen::VectorXd::Zero(model.parameter_count());
    direction(moving)         = of.vectors.col(squares.size() - 1 - k);
    out.undetermined.push_back(undetermined_direction(model, fit.best.u, direction, s2));
  }
  if (!out.undetermined.empty()) {
    const std::vector<Candidate> measurements = candidates(model, fit);
    for (UndeterminedDirection& d : out.undetermined)
      d.settled_by = settling_sentence(measurements, fit, d.direction);
  }
  const Eigen::VectorXd known = known_sd(model);
  for (Eigen::Index i = 0; i < model.parameter_count(); ++i)
    out.parameters.push_back(fate_of(i, model, fit, known[i], out.undetermined));
  return out;
}

}  // namespace arris
