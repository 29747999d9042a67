// SPDX-License-Identifier: MIT
#include "sim/fit/noise.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "sim/numbers.hpp"
#include "sim/statistics/distributions.hpp"

namespace arris {

namespace {

// log Φ(−z); by its asymptotic series where Φ itself is next to nothing (the next term is 15/z⁶, below 1e-6)
double log_normal_below(double z) {
  if (z < 0.0) return std::log1p(-0.5 * std::erfc(-z * M_SQRT1_2));
  if (z < 20.0) return std::log(0.5 * std::erfc(z * M_SQRT1_2));
  const double inverse = 1.0 / (z * z);
  return -0.5 * z * z - std::log(z) - 0.5 * std::log(2.0 * M_PI) +
         std::log1p(-inverse + 3.0 * inverse * inverse);
}

double log_student_density(double z, double nu) {
  return t_log_peak(nu) - 0.5 * (nu + 1.0) * std::log1p(z * z / nu);
}

// log of the probability of less than what can be seen
double log_below(const CampaignModel& model, double z) {
  if (!is_student(model)) return log_normal_below(z);
  const double nu = model.settings().student_dof;
  return z < 0.0 ? std::log1p(-t_above(-z, nu)) : std::log(t_above(z, nu));
}

}  // namespace

bool is_below(const CampaignModel& model, Eigen::Index i) {
  return model.observations()[static_cast<std::size_t>(i)].is_below;
}

bool is_bent(const CampaignModel& model, Eigen::Index i) { return is_student(model) || is_below(model, i); }

double hazard(const CampaignModel& model, double z) {
  const double log_density = is_student(model) ? log_student_density(z, model.settings().student_dof)
                                               : -0.5 * z * z - 0.5 * std::log(2.0 * M_PI);
  return std::exp(log_density - log_below(model, z));
}

double z_of_below(const CampaignModel& model, double residual) {
  const double below = std::exp(-0.5 * residual * residual), above = -std::expm1(-0.5 * residual * residual);
  if (!(above > 0.0)) return -infinity;
  if (is_student(model)) {
    const double nu = model.settings().student_dof;
    return below > 0.5 ? -t_quantile_above(above, nu) : t_quantile_above(below, nu);
  }
  if (below > 0.5) return normal_quantile(above);
  if (below > 1e-300) return -normal_quantile(below);
  double z = residual;  // far out, where r² = z² + 2·log z + log 2π
  for (int round = 0; round < 20; ++round)
    z = std::sqrt(residual * residual - 2.0 * std::log(z) - std::log(2.0 * M_PI));
  return z;
}

StandIn stand_in(const CampaignModel& model, Eigen::Index i, double z) {
  if (is_below(model, i)) {
    // −1 + w·e² = z·λ and w·e = λ; far below what can be seen a row of no weight, whose residual is out of bounds
    const double lambda = std::max(hazard(model, z), 1e-20), e = (1.0 + z * lambda) / lambda;
    return {lambda / e, e};
  }
  if (!is_student(model)) return {1.0, z};
  // a reading far out counts for less
  const double nu = model.settings().student_dof;
  return {(nu + 1.0) / (nu + z * z), z};
}

bool is_student(const CampaignModel& model) { return model.settings().noise == "student-t"; }

double noise_sd(const CampaignModel& model, Eigen::Index i, const Spread& spread) {
  return has_known_noise(model, i) ? model.observations()[static_cast<std::size_t>(i)].known_sd
                                   : spread.reading;
}

Eigen::VectorXd noise_sd(const CampaignModel& model, const Spread& spread) {
  Eigen::VectorXd sd(model.size());
  for (Eigen::Index i = 0; i < model.size(); ++i) sd[i] = noise_sd(model, i, spread);
  return sd;
}

std::vector<Repeats> repeats_of(const CampaignModel& model) {
  std::vector<Repeats> out;
  // by what is foretold of it, and its own uncertainty
  std::map<std::tuple<Eigen::Index, double, bool>, std::size_t> places;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o = model.observations()[static_cast<std::size_t>(i)];
    const auto [at, anew] =
        places.emplace(std::tuple{is_bent(model, i) ? i : model.distinct_of()[static_cast<std::size_t>(i)],
                                  o.known_sd, o.is_below},
                       out.size());
    if (anew) out.push_back({.first = i});
    Repeats&     repeats = out[at->second];
    const double off     = o.log_value - repeats.mean;
    repeats.count += 1.0;
    repeats.mean += off / repeats.count;
    repeats.squares += off * (o.log_value - repeats.mean);
  }
  return out;
}

Eigen::VectorXd effect_sd(const CampaignModel& model, const Spread& spread) {
  Eigen::VectorXd sd(model.effect_count());
  for (Eigen::Index j = 0; j < sd.size(); ++j)
    sd[j] = spread.of(model.effects()[static_cast<std::size_t>(j)].kind);
  return sd;
}

bool has_known_noise(const CampaignModel& model, Eigen::Index i) {
  return model.observations()[static_cast<std::size_t>(i)].known_sd > 0.0;
}

double log_noise(const CampaignModel& model, Eigen::Index i, double z, double sd) {
  if (is_below(model, i)) return log_below(model, z);
  if (!is_student(model)) return -0.5 * z * z - std::log(sd) - 0.5 * std::log(2.0 * M_PI);
  return log_student_density(z, model.settings().student_dof) - std::log(sd);
}

Robust robust(const CampaignModel& model, Eigen::Index i, double z) {
  if (is_below(model, i)) {
    const double root = std::sqrt(-2.0 * log_below(model, z));
    // far below what can be seen nothing is left of either
    return root > 0.0 ? Robust{root, hazard(model, z) / root} : Robust{0.0, 0.0};
  }
  if (!is_student(model)) return {z, 1.0};
  const double nu   = model.settings().student_dof;
  const double rho  = (nu + 1.0) * std::log1p(z * z / nu);
  const double root = std::copysign(std::sqrt(rho), z);
  if (std::abs(z) < 1e-6) return {z * std::sqrt((nu + 1.0) / nu), std::sqrt((nu + 1.0) / nu)};
  return {root, (nu + 1.0) * z / (nu + z * z) / root};
}

}  // namespace arris
