// SPDX-License-Identifier: MIT
#include "sim/fit/rules_of_thumb.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include "sim/fit/rules_of_thumb_draws.hpp"
#include "sim/fit/rules_of_thumb_table.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {

namespace {

// Where parameters that are as the tables of rules have them stand among those of a model.
class Linked {
 public:
  Linked(const Model<double>& model, const std::vector<FreeParameter>& parameters,
         const std::map<std::string, Prior>& stated)
      : model_(model), parameters_(parameters), stated_(stated), values_(places(model_, parameters)) {}

  /// -1 where there is none of this path, or it has another value or a prior of its own.
  [[nodiscard]] Eigen::Index operator()(std::string_view path, double value) const {
    const auto at = std::find_if(parameters_.begin(), parameters_.end(),
                                 [&](const FreeParameter& p) { return p.path == path; });
    if (at == parameters_.end() || stated_.count(at->path) != 0) return -1;
    const auto j = at - parameters_.begin();
    // values stand in the tables to six figures
    const bool same = std::abs(*values_[static_cast<std::size_t>(j)] - value) <= 1e-5 * std::abs(value);
    return same ? static_cast<Eigen::Index>(j) : -1;
  }

 private:
  Model<double>                       model_;
  const std::vector<FreeParameter>&   parameters_;
  const std::map<std::string, Prior>& stated_;
  std::vector<double*>                values_;
};

}  // namespace

RulesOfThumb::RulesOfThumb(const Model<double>& model, const std::vector<FreeParameter>& parameters,
                           const std::map<std::string, Prior>& stated) {
  const Linked linked(model, parameters, stated);
  by_prior_.setZero(static_cast<Eigen::Index>(rules_of_thumb::facts),
                    static_cast<Eigen::Index>(parameters.size()));
  for (const auto& row : rules_of_thumb::table) {
    const Eigen::Index j = linked(row.path, row.value);
    if (j < 0) continue;
    for (std::size_t i = 0; i < rules_of_thumb::facts; ++i)
      by_prior_(static_cast<Eigen::Index>(i), j) = row.by_fact[i];
  }
  for (const auto& of : rules_of_thumb::drawn) drawn_.push_back(linked(of.path, of.value));
}

std::size_t RulesOfThumb::draws() { return rules_of_thumb::draws; }

void RulesOfThumb::hear(Eigen::VectorXd& u, std::size_t which) const {
  constexpr double hundredths = 0.01;
  const auto&      draw       = rules_of_thumb::by_draw.at(which);
  for (std::size_t k = 0; k < drawn_.size(); ++k)
    if (drawn_[k] >= 0) u[drawn_[k]] = hundredths * draw[k];
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
