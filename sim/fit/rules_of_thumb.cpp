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
  if (of_free.size() == 0) return of_free;
  const Cholesky spread(Eigen::MatrixXd::Identity(facts(), facts()) + of_rest * of_rest.transpose());
  return spread.lower().triangularView<Eigen::Lower>().solve(of_free);
}

namespace {

// Whether what a rule tells of a parameter by its default prior holds where it is free. Numbers of a wear law that is weighed against others have
// the same weak prior as theirs: rules know one law only, and would favour or fine it.
bool is_linked(const FreeParameter& by_default, const FreeParameter& free) {
  return free.path.rfind("tester.", 0) != 0 && free.prior.shape == PriorShape::log_normal &&
         free.prior.shift == 0.0 && by_default.prior.shape == PriorShape::log_normal &&
         std::abs(free.prior.centre - by_default.prior.centre) <= 1e-9 * by_default.prior.centre;
}

}  // namespace

Eigen::MatrixXd rules_on(const Model<double>& model, const std::vector<FreeParameter>& free,
                         const std::map<std::string, Prior>& stated) {
  std::vector<FreeParameter> all;
  std::vector<Eigen::Index>  linked;   // places in `all` of the free parameters that rules tie
  std::vector<std::size_t>   of_free;  // which of the free ones they are
  std::vector<double>        width;    // of their priors, in those of the table
  for (const std::string& path : fittable_parameters(model)) {
    const FreeParameter p = free_parameter(model, path);
    const auto at = std::find_if(free.begin(), free.end(), [&](const auto& f) { return f.path == path; });
    if (at != free.end() && is_linked(p, *at)) {
      linked.push_back(static_cast<Eigen::Index>(all.size()));
      of_free.push_back(static_cast<std::size_t>(at - free.begin()));
      width.push_back(at->slope(0.0) / p.slope(0.0));
    }
    all.push_back(p);
  }
  const RulesOfThumb    rules(model, all, stated);
  const Eigen::MatrixXd w   = rules.on(linked);
  Eigen::MatrixXd       out = Eigen::MatrixXd::Zero(rules.facts(), static_cast<Eigen::Index>(free.size()));
  for (std::size_t k = 0; k < linked.size(); ++k)
    out.col(static_cast<Eigen::Index>(of_free[k])) = width[k] * w.col(static_cast<Eigen::Index>(k));
  return out.isZero(0.0) ? Eigen::MatrixXd(0, out.cols()) : out;
}

}  // namespace arris
