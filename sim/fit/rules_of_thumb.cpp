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

Eigen::MatrixXd RulesOfThumb::on(const std::vector<Eigen::Index>& free) const {
  Eigen::MatrixXd of_free(facts(), static_cast<Eigen::Index>(free.size())), of_rest = by_prior_;
  for (std::size_t i = 0; i < free.size(); ++i) {
    of_free.col(static_cast<Eigen::Index>(i)) = by_prior_.col(free[i]);
    of_rest.col(free[i]).setZero();
  }
  if (facts() == 0) return of_free;
  const Cholesky spread(Eigen::MatrixXd::Identity(facts(), facts()) + of_rest * of_rest.transpose());
  return spread.lower().triangularView<Eigen::Lower>().solve(of_free);
}

Eigen::MatrixXd rules_on(const Model<double>& model, const std::vector<FreeParameter>& free,
                         const std::map<std::string, Prior>& stated) {
  std::vector<FreeParameter> all;
  std::vector<Eigen::Index>  indices(free.size(), -1);
  for (const std::string& path : fittable_parameters(model)) {
    for (std::size_t i = 0; i < free.size(); ++i)
      if (free[i].path == path) indices[i] = static_cast<Eigen::Index>(all.size());
    all.push_back(free_parameter(model, path));
  }
  // one that has no prior by default has a stated one, of which no rule tells
  for (std::size_t i = 0; i < free.size(); ++i) {
    if (indices[i] >= 0) continue;
    indices[i] = static_cast<Eigen::Index>(all.size());
    all.push_back(free[i]);
  }
  return RulesOfThumb(model, all, stated).on(indices);
}

}  // namespace arris
