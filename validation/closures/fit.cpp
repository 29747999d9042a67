// SPDX-License-Identifier: MIT
#include "validation/closures/fit.hpp"

#include <cmath>
#include <stdexcept>

#include <ceres/jet.h>

#include "sim/integrate/jet.hpp"
#include "sim/parallel.hpp"
#include "sim/statistics/least_squares.hpp"
#include "validation/closures/reduced.hpp"

namespace arris::closures {

namespace {

constexpr int count = static_cast<int>(constants.size());
using Jet           = ceres::Jet<double, count>;

// What laws::OutlineConstants is, with numbers that vary.
template <class T>
struct Varied {
  T angle, reach, mean_share, steepest, onset, even_share, land_share, worn_in_share, depth, depth_onset,
      hand, borne;
};
template <class T>
Varied<T> varied(const std::array<T, constants.size()>& v) {
  return {v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8], v[9], v[10], v[11]};
}

// Of a row: moments before the fourth lap count for a third.
double weight_of(const Row& row) { return !row.in_wood() && row.laps < first_lap ? 1.0 / 3.0 : 1.0; }

// Constants from their logarithms, with exact derivatives by these.
Varied<Jet> constants_at(const Eigen::VectorXd& log_values) {
  std::array<Jet, constants.size()> out;
  for (int i = 0; i < count; ++i) {
    using std::exp;
    out[static_cast<std::size_t>(i)] = exp(Jet(log_values[i], i));
  }
  return varied(out);
}

class Problem {
 public:
  explicit Problem(const std::vector<Case>& cases) {
    for (const Case& rows : cases) {
      if (!rows.front().is_fitted()) continue;
      fitted_.push_back(&rows);
      from_.push_back(size_);
      size_ += 4 * static_cast<Eigen::Index>(rows.size());
    }
  }

  bool operator()(const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) const {
    const Varied<Jet> at = constants_at(x);
    r.resize(size_);
    if (jacobian != nullptr) jacobian->resize(size_, count);
    for_each_index(fitted_.size(), 0, [&](std::size_t k) {
      const Case&  rows   = *fitted_[k];
      const auto   shapes = shapes_of<Jet>(rows, at);
      Eigen::Index next   = from_[k];
      for (std::size_t i = 0; i < rows.size(); ++i) {
        for (const Jet& error : errors_of(rows[i], shapes[i])) {
          const Jet weighted = weight_of(rows[i]) * error;
          r[next]            = weighted.a;
          if (jacobian != nullptr) jacobian->row(next) = weighted.v.transpose();
          ++next;
        }
      }
    });
    return true;
  }

 private:
  std::vector<const Case*>  fitted_;
  std::vector<Eigen::Index> from_;
  Eigen::Index              size_ = 0;
};

double to_three_figures(double value) { return std::stod(fmt::format("{:.3g}", value)); }

}  // namespace

Values fit(const std::vector<Case>& cases) {
  Eigen::VectorXd     start(count);
  LeastSquaresOptions options;
  options.lower.resize(count);
  options.upper.resize(count);
  for (int i = 0; i < count; ++i) {
    const Constant& c = constants[static_cast<std::size_t>(i)];
    start[i]          = std::log(c.start);
    options.lower[i]  = std::log(c.lower);
    options.upper[i]  = std::log(c.upper);
  }
  options.noise = Tolerances{}.relative;
  const Problem            problem(cases);
  const LeastSquaresResult result = least_squares(problem, start, options);
  if (!result.usable()) throw std::runtime_error("the constants do not converge");
  Values out{};
  for (int i = 0; i < count; ++i) out[static_cast<std::size_t>(i)] = to_three_figures(std::exp(result.x[i]));
  return out;
}

std::vector<Miss> misses_of(const std::vector<Case>& cases, const Values& values) {
  std::vector<Miss> out;
  for (const Case& rows : cases) {
    const auto shapes = shapes_of<double>(rows, varied(values));
    for (std::size_t i = 0; i < rows.size(); ++i) out.push_back({&rows[i], errors_of(rows[i], shapes[i])});
  }
  return out;
}

}  // namespace arris::closures
