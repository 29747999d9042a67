// SPDX-License-Identifier: MIT
#include "sim/fit/rules_of_thumb.hpp"

#include <algorithm>
#include <cmath>

#include "sim/fit/rules_of_thumb_table.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {

RulesOfThumb::RulesOfThumb(const Model<double>& model, const std::vector<FreeParameter>& parameters,
                           const std::map<std::string, Prior>& stated) {
  Model<double> copy   = model;
  const auto    values = places(copy, parameters);
  by_prior_.setZero(static_cast<Eigen::Index>(rules_of_thumb::facts),
                    static_cast<Eigen::Index>(parameters.size()));
  for (const auto& row : rules_of_thumb::table) {
    const auto at = std::find_if(parameters.begin(), parameters.end(),
                                 [&](const FreeParameter& p) { return p.path == row.path; });
    if (at == parameters.end() || stated.count(at->path) != 0) continue;
    const auto j = at - parameters.begin();
    // values stand in the table to six figures
    if (std::abs(*values[static_cast<std::size_t>(j)] - row.value) > 1e-5 * std::abs(row.value)) continue;
    for (std::size_t i = 0; i < rules_of_thumb::facts; ++i)
      by_prior_(static_cast<Eigen::Index>(i), j) = row.by_fact[i];
  }
  if (facts() == 0) return;
  const Eigen::MatrixXd among =
      Eigen::MatrixXd::Identity(facts(), facts()) + by_prior_ * by_prior_.transpose();
  gain_ = by_prior_.transpose() * inverse_symmetric(among);
}

void RulesOfThumb::hear(Eigen::VectorXd& u, const Eigen::VectorXd& error) const {
  if (facts() > 0) u -= gain_ * (by_prior_ * u + error);
}

}  // namespace arris
