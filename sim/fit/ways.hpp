// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"

/// How an edge was sharpened and which wood it cuts, as random effects: media, strops and woods are not just what their tables say.
///
///     apex = e^η_way·apex by the model,   growth of the apex in wood = e^(ρ_way + ρ_wood)·growth by the model,
///     η_way ~ N(0, τ²),   ρ_way ~ N(0, τ_w²),   ρ_wood ~ N(0, τ_v²)
///
/// τ (and each of the others) has a half Student's t for its prior (spread_scale). So a way with many edges is taken as it was read, one with few is drawn towards the
/// model, and one that was never read has all of τ for its uncertainty: partial pooling. An edge is of one way off its medium, and of another
/// when it has been stropped. The effects are in a fit as soon as edges that were read are sharpened in two ways or more, those on the
/// growth as soon as edges of two ways, or in two woods, were read at work.
/// Beside these stands the level of all readings: the model reads what the operators, lots and days of a campaign read on average, and others
/// would read e^λ times as much, λ ~ N(0, Σ σ_k²/n_k) over these kinds with n_k members each.
/// Source: normal hierarchical model, Gelman et al., Bayesian Data Analysis, chapter 5 (from memory).
namespace arris {

/// Kinds of effects that draws keep: forecasts need them by name.
inline constexpr std::array kinds_drawn{EffectKind::way, EffectKind::way_wear, EffectKind::wood};

/// The level of all readings, as an effect that draws keep: of those who read.
extern const Effect level_of_readings;

/// Those of these kinds that a campaign's readings have, in the order of their columns; the level last, where two operators, lots or days
/// read.
[[nodiscard]] std::vector<Effect> drawn_in(const CampaignModel& model);

/// Standard deviation of that level: of the log of what others would read over what those who read did; 0 where one alone did.
[[nodiscard]] double level_sd_of(const CampaignModel& model, const Spread& spread);

/// The name of a column of draws that holds such a factor ("way: NAME", "wear after: NAME", "wear in: WOOD", "reading: LEVEL"), and the effect of such a column;
/// nothing for another.
[[nodiscard]] std::string           effect_column(const Effect& effect);
[[nodiscard]] std::optional<Effect> effect_of_column(const std::string& column);

/// These effects given draws of all else: a row for each column of `u` (P × n), a column for each of `drawn_in`; the same on any machine and for
/// any number of threads. A row is 0 where the histories cannot be run. Modes of effects are sought from `effects` (q); draws that are equal and
/// stand one after another, as resampling leaves them, have theirs sought once.
[[nodiscard]] Eigen::MatrixXd drawn_effects(const CampaignModel& model, const Eigen::MatrixXd& u,
                                            const std::vector<Spread>& spreads,
                                            const Eigen::VectorXd& effects, unsigned long long seed,
                                            int threads);

/// How many times as large as the model says what an effect is a factor on is: middle and 90 % interval.
struct EffectFactor {
  Effect of;
  double low = not_given, middle = not_given, high = not_given;
};
/// From draws row by row, `columns` of them named.
[[nodiscard]] std::vector<EffectFactor> effect_factors(const std::vector<std::string>& columns,
                                                       const std::vector<double>&      values);

}  // namespace arris
