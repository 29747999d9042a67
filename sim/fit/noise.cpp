// SPDX-License-Identifier: MIT
#include "sim/fit/noise.hpp"

#include <cmath>
#include <map>
#include <utility>

namespace arris {

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
  std::map<std::pair<Eigen::Index, double>, std::size_t> places;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o  = model.observations()[static_cast<std::size_t>(i)];
    const auto [at, anew] = places.emplace(
        std::pair{is_student(model) ? i : model.distinct_of()[static_cast<std::size_t>(i)], o.known_sd},
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

double log_noise(const CampaignModel& model, Eigen::Index /*i*/, double z, double sd) {
  if (!is_student(model)) return -0.5 * z * z - std::log(sd) - 0.5 * std::log(2.0 * M_PI);
  const double nu = model.settings().student_dof;
  return std::lgamma(0.5 * (nu + 1.0)) - std::lgamma(0.5 * nu) - 0.5 * std::log(nu * M_PI) - std::log(sd) -
         0.5 * (nu + 1.0) * std::log1p(z * z / nu);
}

Robust robust(const CampaignModel& model, Eigen::Index /*i*/, double z) {
  if (!is_student(model)) return {z, 1.0};
  const double nu   = model.settings().student_dof;
  const double rho  = (nu + 1.0) * std::log1p(z * z / nu);
  const double root = std::copysign(std::sqrt(rho), z);
  if (std::abs(z) < 1e-6) return {z * std::sqrt((nu + 1.0) / nu), std::sqrt((nu + 1.0) / nu)};
  return {root, (nu + 1.0) * z / (nu + z * z) / root};
}

}  // namespace arris
