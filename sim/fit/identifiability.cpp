// SPDX-License-Identifier: MIT
#include "sim/fit/identifiability.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include <Eigen/SVD>
#include <fmt/format.h>

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

}  // namespace

Identifiability identifiability(const CampaignModel& model, const FitResult& fit) {
  const auto      P = model.parameter_count();
  Identifiability out;
  // data = LᵀL; its singular vectors are the directions
  std::vector<Eigen::Index> moving;
  for (Eigen::Index i = 0; i < P; ++i) {
    if (std::find(fit.best.held.begin(), fit.best.held.end(), i) == fit.best.held.end()) moving.push_back(i);
  }
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(Eigen::MatrixXd(fit.information.data(moving, moving)),
                                              Eigen::ComputeFullU | Eigen::ComputeFullV);
  out.singular_values = svd.singularValues().cwiseSqrt();
  for (Eigen::Index k = 0; k < svd.singularValues().size(); ++k) {
    const double s2 = svd.singularValues()[k];
    if (s2 >= hardly_narrowed) {
      ++out.rank;
      continue;
    }
    UndeterminedDirection d;
    d.direction = Eigen::VectorXd::Zero(P);
    for (std::size_t i = 0; i < moving.size(); ++i)
      d.direction[moving[i]] = svd.matrixV()(static_cast<Eigen::Index>(i), k);
    d.information = s2;
    std::vector<int> order(static_cast<std::size_t>(P));
    std::iota(order.begin(), order.end(), 0);
    std::sort(order.begin(), order.end(),
              [&](int a, int b) { return std::abs(d.direction[a]) > std::abs(d.direction[b]); });
    const double largest = std::abs(d.direction[order.front()]);
    for (const int i : order) {
      if (std::abs(d.direction[i]) > 0.35 * largest) d.parameters.push_back(i);
    }
    std::vector<std::string> names;
    for (const int i : d.parameters)
      names.push_back(model.parameters()[static_cast<std::size_t>(i)].short_name());
    if (d.parameters.size() == 1) {
      d.sentence = fmt::format(
          "These readings say next to nothing about {}; what is printed for it is its prior.", names.front());
    } else if (d.parameters.size() == 2) {
      const auto& a = model.parameters()[static_cast<std::size_t>(d.parameters[0])];
      const auto& b = model.parameters()[static_cast<std::size_t>(d.parameters[1])];
      d.combination = invariant(a, b, log_change(a, d.direction[d.parameters[0]]),
                                log_change(b, d.direction[d.parameters[1]]));
      d.sentence    = fmt::format("These readings fix {}, not either alone.", d.combination);
    } else {
      d.sentence = fmt::format(
          "These readings leave one combination of {} open: changed together, they leave every reading as it is.",
          and_list(names));
    }
    // which single measurement narrows this direction most
    const Eigen::MatrixXd precision = fit.information.data + Eigen::MatrixXd::Identity(P, P);
    const double          before    = d.direction.dot(fit.information.covariance * d.direction);
    double                best      = before;
    std::string           what;
    for (const Candidate& c : candidates(model, fit)) {
      const double after =
          d.direction.dot(Cholesky(precision + c.row * c.row.transpose()).solve(d.direction));
      if (after < best - 1e-9) {
        best = after;
        what = c.what;
      }
    }
    if (!what.empty() && best < 0.8 * before) {
      d.settled_by = fmt::format(
          "It would be settled best by {}: that takes its variance from {:.0f} % of the prior's to {:.0f} %.",
          what, 100.0 * before, 100.0 * best);
    }
    out.undetermined.push_back(std::move(d));
  }
  for (Eigen::Index i = 0; i < P; ++i) {
    const auto&   p = model.parameters()[static_cast<std::size_t>(i)];
    ParameterFate fate;
    const double  u = fit.best.u[i], variance = fit.information.covariance(i, i), sd = std::sqrt(variance);
    double        open = 0.0;
    for (const auto& d : out.undetermined) open += d.direction[i] * d.direction[i] / (1.0 + d.information);
    fate.value  = p.value(u);
    fate.log_sd = std::abs(log_change(p, sd));
    fate.dof =
        fit.information.dof.size() > 0 ? fit.information.dof[i] : std::numeric_limits<double>::infinity();
    fate.low                = p.value(u - reach_90(fate.dof) * sd);
    fate.high               = p.value(u + reach_90(fate.dof) * sd);
    fate.prior_share        = variance;
    fate.at_bound           = p.is_at_bound(u);
    fate.has_standard_error = open < 0.5 * variance && !fate.at_bound;
    out.parameters.push_back(fate);
  }
  return out;
}

}  // namespace arris
