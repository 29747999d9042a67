// SPDX-License-Identifier: MIT
#include "sim/statistics/optimal_design.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <Eigen/Cholesky>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/uniform_int_distribution.hpp>

#include "sim/stop.hpp"

namespace arris {
namespace {

double log_det(const Eigen::MatrixXd& information) {
  const Eigen::LDLT<Eigen::MatrixXd> factor(information);
  const auto                         d     = factor.vectorD();
  const double                       least = 1e-14 * d.cwiseAbs().maxCoeff();
  if (!(d.minCoeff() > least)) return -std::numeric_limits<double>::infinity();
  return d.array().log().sum();
}

/// The information of a choice, member by member and unit by unit, so that an exchange touches one unit only.
class Exchange {
 public:
  explicit Exchange(const DesignProblem& problem) : problem_(problem), of_unit_(problem.copies.size()) {
    for (std::size_t c = 0; c < problem.unit.size(); ++c)
      of_unit_[static_cast<std::size_t>(problem.unit[c])].push_back(static_cast<int>(c));
  }

  // information that the rows of unit `u` among `rows` bring in member k
  [[nodiscard]] Eigen::MatrixXd unit_information(std::size_t k, std::size_t u,
                                                 const std::vector<int>& rows) const {
    const auto&     slopes = problem_.slopes[k];
    const auto      P      = slopes.cols();
    Eigen::MatrixXd sum    = Eigen::MatrixXd::Zero(P, P);
    Eigen::VectorXd common = Eigen::VectorXd::Zero(P);
    double          luck   = 1.0;
    for (const int c : rows) {
      if (problem_.unit[static_cast<std::size_t>(c)] != static_cast<int>(u)) continue;
      const Eigen::VectorXd x = slopes.row(c).transpose();
      sum.noalias() += x * x.transpose();
      if (problem_.shared.empty()) continue;
      const double z = problem_.shared[k][c];
      common += z * x;
      luck += z * z;
    }
    if (!problem_.shared.empty()) sum.noalias() -= common * common.transpose() / luck;
    return problem_.copies[u] * sum;
  }

  [[nodiscard]] Eigen::MatrixXd before(std::size_t k) const {
    const auto P = problem_.slopes[k].cols();
    return problem_.before.empty() ? Eigen::MatrixXd::Zero(P, P) : problem_.before[k];
  }

  [[nodiscard]] double criterion(const std::vector<int>& rows) const {
    double sum = 0.0;
    for (std::size_t k = 0; k < problem_.slopes.size(); ++k) {
      Eigen::MatrixXd all = before(k);
      for (std::size_t u = 0; u < problem_.copies.size(); ++u) all += unit_information(k, u, rows);
      sum += log_det(all);
    }
    return sum / static_cast<double>(problem_.slopes.size());
  }

  // rows at random: the fixed ones, then others of each unit
  [[nodiscard]] std::vector<int> start(boost::random::mt19937_64& engine) const {
    std::vector<int> rows = problem_.fixed;
    for (std::size_t u = 0; u < of_unit_.size(); ++u) {
      std::vector<int> left;
      int              there = 0;
      for (const int c : of_unit_[u]) {
        const bool is_fixed =
            std::find(problem_.fixed.begin(), problem_.fixed.end(), c) != problem_.fixed.end();
        there += is_fixed ? 1 : 0;
        if (problem_.repeats || !is_fixed) left.push_back(c);
      }
      for (; there < problem_.wanted[u]; ++there) {
        boost::random::uniform_int_distribution<std::size_t> any(0, left.size() - 1);
        const auto                                           at = any(engine);
        rows.push_back(left[at]);
        if (!problem_.repeats) left.erase(left.begin() + static_cast<std::ptrdiff_t>(at));
      }
    }
    return rows;
  }

  // the best single exchange, made; false when none gains
  bool improve(std::vector<int>& rows, double& value) const {
    const auto members = problem_.slopes.size();
    double     best    = value + 1e-9 * std::max(1.0, std::abs(value));
    if (!std::isfinite(value)) best = value;
    std::size_t place = rows.size();
    int         by    = -1;
    for (std::size_t u = 0; u < of_unit_.size(); ++u) {
      std::vector<Eigen::MatrixXd> others(members);
      for (std::size_t k = 0; k < members; ++k) {
        others[k] = before(k);
        for (std::size_t v = 0; v < of_unit_.size(); ++v) {
          if (v != u) others[k] += unit_information(k, v, rows);
        }
      }
      std::vector<int> trial = rows;
      for (std::size_t i = problem_.fixed.size(); i < rows.size(); ++i) {
        stop_if_wished();
        if (problem_.unit[static_cast<std::size_t>(rows[i])] != static_cast<int>(u)) continue;
        for (const int c : of_unit_[u]) {
          if (c == rows[i]) continue;
          if (!problem_.repeats && std::find(rows.begin(), rows.end(), c) != rows.end()) continue;
          trial[i]   = c;
          double sum = 0.0;
          for (std::size_t k = 0; k < members; ++k) sum += log_det(others[k] + unit_information(k, u, trial));
          sum /= static_cast<double>(members);
          if (sum > best) {
            best  = sum;
            place = i;
            by    = c;
          }
        }
        trial[i] = rows[i];
      }
    }
    if (by < 0) return false;
    rows[place] = by;
    value       = best;
    return true;
  }

  void check() const {
    const auto candidates = static_cast<Eigen::Index>(problem_.unit.size());
    const auto members    = problem_.slopes.size();
    bool       fits       = members > 0 && problem_.copies.size() == problem_.wanted.size();
    const auto of_member  = [&](std::size_t size) { return size == 0 || size == members; };
    fits &= of_member(problem_.shared.size()) && of_member(problem_.before.size());
    for (const auto& s : problem_.slopes) fits &= s.rows() == candidates;
    for (const auto& s : problem_.shared) fits &= s.size() == candidates;
    if (!fits) throw std::invalid_argument("sizes of a design problem do not match");
    for (std::size_t u = 0; u < of_unit_.size(); ++u) {
      const auto wanted = static_cast<std::size_t>(problem_.wanted[u]);
      if (problem_.repeats ? of_unit_[u].empty() && wanted > 0 : of_unit_[u].size() < wanted)
        throw std::invalid_argument("a unit has fewer candidates than are wanted of it");
    }
  }

 private:
  const DesignProblem&          problem_;
  std::vector<std::vector<int>> of_unit_;
};

}  // namespace

double design_criterion(const DesignProblem& problem, const std::vector<int>& chosen) {
  return Exchange(problem).criterion(chosen);
}

OptimalDesign optimal_design(const DesignProblem& problem, int starts, unsigned long long seed) {
  const Exchange exchange(problem);
  exchange.check();
  boost::random::mt19937_64 engine(seed);
  OptimalDesign             best;
  best.criterion = -std::numeric_limits<double>::infinity();
  for (int s = 0; s < std::max(1, starts); ++s) {
    OptimalDesign now;
    now.chosen    = exchange.start(engine);
    now.criterion = exchange.criterion(now.chosen);
    while (exchange.improve(now.chosen, now.criterion)) ++now.exchanges;
    if (s == 0 || now.criterion > best.criterion) best = std::move(now);
  }
  std::sort(best.chosen.begin(), best.chosen.end(), [&](int a, int b) {
    const int ua = problem.unit[static_cast<std::size_t>(a)], ub = problem.unit[static_cast<std::size_t>(b)];
    return ua != ub ? ua < ub : a < b;
  });
  return best;
}

}  // namespace arris
