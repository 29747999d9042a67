// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"

/// Scatter of single observations about a log prediction: log-normal, or Student's t where the configuration asks for it. An uncertainty that
/// a row states is then the scale of its t, as the scatter that is estimated is that of the others.
namespace arris {

[[nodiscard]] bool is_student(const CampaignModel& model);
/// Whether row i says no more than that less was there than could be seen. Its likelihood is the probability of that,
/// P(less) = F((limit − f)/σ), F normal or Student's t; σ is no factor of it.
[[nodiscard]] bool is_below(const CampaignModel& model, Eigen::Index i);
/// λ, density over F(−z): by how much the log of that probability falls with z.
[[nodiscard]] double hazard(const CampaignModel& model, double z);
/// z of such a row from its residual, r² = −2·log F(−z); −∞ where that is 0.
[[nodiscard]] double z_of_below(const CampaignModel& model, double residual);
/// Whether row i is known by another density than a normal one.
[[nodiscard]] bool is_bent(const CampaignModel& model, Eigen::Index i);
/// A normal row that stands for row i where its standardised residual is z: of that precision over the noise, and that residual. Slopes of
/// the log density by what is foretold and by log σ are the same.
struct StandIn {
  double weight = 1.0, z = 0.0;
};
[[nodiscard]] StandIn stand_in(const CampaignModel& model, Eigen::Index i, double z);
/// Whether row i states its uncertainty.
[[nodiscard]] bool has_known_noise(const CampaignModel& model, Eigen::Index i);

/// Standard deviation of the log of observation i.
[[nodiscard]] double noise_sd(const CampaignModel& model, Eigen::Index i, const Spread& spread);
/// The same of each observation (n).
[[nodiscard]] Eigen::VectorXd noise_sd(const CampaignModel& model, const Spread& spread);
/// Repeated observations that scatter alike: where noise is normal they tell as much together as their mean and their number do.
struct Repeats {
  Eigen::Index first   = 0;    ///< one of them
  double       count   = 0.0;  ///< of them
  double       mean    = 0.0;  ///< of their logs
  double       squares = 0.0;  ///< Σ(log − mean)²
};
/// Of all observations; each by itself where noise is Student's t.
[[nodiscard]] std::vector<Repeats> repeats_of(const CampaignModel& model);

/// Standard deviation of each effect (q).
[[nodiscard]] Eigen::VectorXd effect_sd(const CampaignModel& model, const Spread& spread);

/// Log density of observation i, of standard deviation `sd`, whose standardised residual is z.
[[nodiscard]] double log_noise(const CampaignModel& model, Eigen::Index i, double z, double sd);

/// The residual whose square is −2·log density but for a constant, and its slope by z: for Student's t a far reading pulls less.
struct Robust {
  double residual, slope;
};
[[nodiscard]] Robust robust(const CampaignModel& model, Eigen::Index i, double z);

}  // namespace arris
