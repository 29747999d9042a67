// SPDX-License-Identifier: MIT
#include "sim/statistics/profile.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <stdexcept>
#include <string>
#include <utility>

#include <Eigen/QR>
#include <boost/math/tools/toms748_solve.hpp>

namespace arris {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// share of Δ by which a place must lie below the optimum to disprove it: less is how well the optimum was found
constexpr double disproof = 1e-3;
// how close to a wall the search goes, in Wald's half widths
constexpr double wall_distance = 1e-3;
// how close to a limit counts as being there, in the same
constexpr double at_limit = 5e-3;

struct Place {
  double   value = 0.0, rise = 0.0;
  VectorXd x, residuals;
  MatrixXd jacobian;
  VectorXd slopes;  // of φ, where it is not linear
};

// a re-optimisation inside a bracket that came to nothing
struct Lost {};

// What the search along a profile asks of it.
class Profile {
 public:
  Profile(const Residuals& function, const ProfileOptions& options, ProfileInterval& out)
      : function_(function), options_(options), out_(out) {}
  Profile(const Profile&)            = delete;
  Profile& operator=(const Profile&) = delete;
  virtual ~Profile()                 = default;

  // what is known at the optimum
  virtual Place optimum(const VectorXd& x) = 0;
  // direction of the profile: what moves the residuals least for a unit of φ
  [[nodiscard]] virtual VectorXd tangent(const Place& place) const = 0;
  // the re-optimised place at a value, started from another
  std::optional<Place> at(double value, const Place& from) {
    const double   change = value - from.value;
    const VectorXd along  = from.x + change * tangent(from);
    for (const VectorXd& start : {along, from.x}) {
      if (std::optional<Place> place = refit(value, start)) return place;
    }
    return std::nullopt;
  }

 protected:
  virtual std::optional<Place> refit(double value, const VectorXd& start) = 0;

  bool evaluate(const VectorXd& x, VectorXd& r, MatrixXd* j) {
    ++out_.evaluations;
    if (j != nullptr) ++out_.jacobians;
    return function_(x, r, j) && r.allFinite() && (j == nullptr || j->allFinite());
  }
  [[nodiscard]] LeastSquaresResult search(const Residuals& function, const VectorXd& start,
                                          const LeastSquaresOptions& options) {
    LeastSquaresResult fit = least_squares(function, start, options);
    out_.evaluations += fit.evaluations;
    out_.jacobians += fit.jacobians;
    return fit;
  }
  [[nodiscard]] double rise_of(const VectorXd& residuals) const {
    return (residuals - base_).dot(residuals + base_);
  }
  [[noreturn]] static void no_optimum() {
    throw std::invalid_argument("profile_interval: the residuals cannot be had at the optimum");
  }

  const Residuals&      function_;
  const ProfileOptions& options_;
  VectorXd              base_;  // residuals at the optimum

 private:
  ProfileInterval& out_;
};

// Of a linear combination: one parameter follows from φ and the others.
class LinearProfile : public Profile {
 public:
  LinearProfile(const Residuals& function, const VectorXd& combination, const ProfileOptions& options,
                ProfileInterval& out)
      : Profile(function, options, out), c_(combination) {}

  Place optimum(const VectorXd& x) override {
    Place place;
    place.x     = x;
    place.value = c_.dot(x);
    if (!evaluate(x, place.residuals, &place.jacobian)) no_optimum();
    double least = std::numeric_limits<double>::infinity();
    for (Index j = 0; j < c_.size(); ++j) {
      if (c_[j] == 0.0) continue;
      const double effect = place.jacobian.col(j).norm() / std::abs(c_[j]);
      if (effect < least) {
        least = effect;
        k_    = j;
      }
    }
    base_ = place.residuals;
    return place;
  }

  // min ‖J·d‖ with cᵀd = 1
  [[nodiscard]] VectorXd tangent(const Place& place) const override {
    const VectorXd still = place.jacobian.col(k_) / c_[k_];
    VectorXd       y     = VectorXd::Zero(c_.size() - 1);
    if (y.size() > 0) {
      MatrixXd reduced = reduce(place.jacobian);
      VectorXd length  = reduced.colwise().norm().transpose();
      length           = (length.array() > 0.0).select(length, 1.0);
      reduced          = reduced * length.cwiseInverse().asDiagonal();
      y                = -reduced.colPivHouseholderQr().solve(still).cwiseQuotient(length);
    }
    return complete(y, 1.0);
  }

 private:
  // the parameters without the eliminated one, and back
  [[nodiscard]] VectorXd others(const VectorXd& x) const {
    VectorXd y(x.size() - 1);
    y << x.head(k_), x.tail(x.size() - 1 - k_);
    return y;
  }
  VectorXd complete(const VectorXd& y, double value) const {
    VectorXd x(y.size() + 1);
    x << y.head(k_), 0.0, y.tail(y.size() - k_);
    x[k_] = (value - c_.dot(x)) / c_[k_];
    return x;
  }
  // J of the others, the eliminated one following
  MatrixXd reduce(const MatrixXd& j) const {
    const Index n = j.cols();
    MatrixXd    out(j.rows(), n - 1);
    out << j.leftCols(k_), j.rightCols(n - 1 - k_);
    out -= j.col(k_) * (others(c_) / c_[k_]).transpose();
    return out;
  }

  std::optional<Place> refit(double value, const VectorXd& start) override {
    Place place;
    place.value = value;
    place.x     = start;
    MatrixXd   full;
    const auto restricted = [&](const VectorXd& y, VectorXd& r, MatrixXd* j) {
      if (!function_(complete(y, value), r, j == nullptr ? nullptr : &full)) return false;
      if (j != nullptr) *j = reduce(full);
      return true;
    };
    if (start.size() > 1) {
      LeastSquaresOptions options = options_.fit;
      if (options.lower.size() > 0) {
        options.lower = others(options.lower);
        options.upper = others(options.upper);
      }
      const LeastSquaresResult fit = search(restricted, others(start), options);
      if (!fit.usable()) return std::nullopt;
      place.x = complete(fit.x, value);
    } else {
      place.x = complete(VectorXd(), value);
    }
    if (!evaluate(place.x, place.residuals, &place.jacobian)) return std::nullopt;
    place.rise = rise_of(place.residuals);
    return place;
  }

  const VectorXd c_;
  Index          k_ = 0;  // the eliminated parameter
};

// Of a quantity that the last row of the function gives: held by a penalty. Places keep the residuals without that row, and
// the slopes of the quantity.
class CurvedProfile : public Profile {
 public:
  CurvedProfile(const Residuals& function, const ProfileOptions& options, ProfileInterval& out)
      : Profile(function, options, out) {}

  Place optimum(const VectorXd& x) override {
    Place place = seen(x).value_or(Place{});
    if (place.x.size() == 0) no_optimum();
    base_                 = place.residuals;
    place.rise            = 0.0;
    const double per_unit = (place.jacobian * tangent(place)).norm();  // √Δ over Wald's half width
    // a quantity that nothing tells is held on its own scale
    weight_ = 30.0 * (per_unit > 0.0 ? per_unit : 1.0 / std::max(std::abs(place.value), 1.0));
    return place;
  }

  // min ‖J·d‖ with gᵀd = 1: d = M⁻¹g/(gᵀM⁻¹g), M = JᵀJ, by QR of J
  [[nodiscard]] VectorXd tangent(const Place& place) const override {
    const VectorXd& g      = place.slopes;
    VectorXd        length = place.jacobian.colwise().norm().transpose();
    length                 = (length.array() > 0.0).select(length, 1.0);
    const Eigen::ColPivHouseholderQR<MatrixXd> qr(place.jacobian * length.cwiseInverse().asDiagonal());
    const auto                                 n = g.size();
    const MatrixXd R     = qr.matrixR().topLeftCorner(n, n).triangularView<Eigen::Upper>();
    VectorXd       right = qr.colsPermutation().transpose() * g.cwiseQuotient(length);
    right                = R.transpose().triangularView<Eigen::Lower>().solve(right);
    const double along   = right.squaredNorm();
    right                = R.triangularView<Eigen::Upper>().solve(right) / along;
    VectorXd d           = qr.colsPermutation() * right;
    d                    = d.cwiseQuotient(length);
    return d.allFinite() ? d : VectorXd::Zero(n);
  }

 private:
  std::optional<Place> refit(double value, const VectorXd& start) override {
    const auto penalised = [&](const VectorXd& x, VectorXd& r, MatrixXd* j) {
      if (!function_(x, r, j)) return false;
      const Index last = r.size() - 1;
      r[last]          = weight_ * (r[last] - value);
      if (j != nullptr) j->row(last) *= weight_;
      return true;
    };
    const LeastSquaresResult fit = search(penalised, start, options_.fit);
    if (!fit.usable()) return std::nullopt;
    return seen(fit.x);
  }

  std::optional<Place> seen(const VectorXd& x) {
    VectorXd r;
    MatrixXd j;
    if (!evaluate(x, r, &j)) return std::nullopt;
    const Index last = r.size() - 1;
    Place       place;
    place.x         = x;
    place.value     = r[last];
    place.residuals = r.head(last);
    place.jacobian  = j.topRows(last);
    place.slopes    = j.row(last).transpose();
    if (base_.size() > 0) place.rise = rise_of(place.residuals);
    return place;
  }

  double weight_ = 0.0;
};

// One side of the profile, outwards from the optimum.
class Side {
 public:
  // `unit` carries the sign, `limit` is a value
  Side(Profile& profile, const Place& optimum, double rise, double unit, double limit,
       const ProfileOptions& options, ProfileInterval& out)
      : profile_(profile),
        rise_(rise),
        goal_(std::sqrt(rise)),
        unit_(unit),
        limit_(limit),
        options_(options),
        out_(out),
        places_{optimum} {}

  // steps outwards until the goal is passed, then finds the end between the last two places
  ProfileSide search() {
    const double centre = places_.front().value;
    double       step   = 0.5 * std::abs(unit_);
    double       wall   = std::numeric_limits<double>::infinity();  // from the centre
    while (places_.back().rise < rise_) {
      const Place  last = places_.back();
      const double gone = std::abs(last.value - centre), room = std::abs(limit_ - last.value);
      // a place held by a penalty comes a little short of where it was wanted
      if (room <= at_limit * std::abs(unit_)) return {ProfileEnd::open, last.value, last.rise};
      if (wall - gone < wall_distance * std::abs(unit_)) return {ProfileEnd::blocked, last.value, last.rise};
      step               = std::min(step, 0.5 * (wall - gone));
      const double value = step >= room ? limit_ : last.value + std::copysign(step, unit_);
      if (!visit(value, last)) {
        wall = std::abs(value - centre);
        continue;
      }
      const Place& next = places_.back();
      if (out_.better) return {ProfileEnd::no_minimum, next.value, next.rise};
      // held back: a penalty that cannot pull the value on has met a wall
      if (std::abs(next.value - last.value) < 0.1 * std::abs(value - last.value)) {
        wall = std::abs(value - centre);
        continue;
      }
      // as far as τ foretells and a tenth more, at most to twice the distance
      const double distance = std::abs(next.value - centre);
      const double slope    = (tau(next) - tau(last)) / std::abs(next.value - last.value);
      step = slope > 0.0 ? std::clamp(1.1 * (goal_ - tau(next)) / slope, 0.1 * distance, distance) : distance;
    }
    return between();
  }

 private:
  static double tau(const Place& place) { return std::sqrt(std::max(place.rise, 0.0)); }

  // goes there if it can, and remembers
  bool visit(double value, const Place& from) {
    std::optional<Place> place = profile_.at(value, from);
    if (!place) return false;
    out_.points.push_back({place->value, place->rise, place->x});
    if (place->rise < -disproof * rise_) out_.better = place->x;
    places_.push_back(std::move(*place));
    return true;
  }

  // the end between the last place below the goal and the first beyond
  ProfileSide between() {
    const Place below = places_[places_.size() - 2], beyond = places_.back();
    Place       inner = below, end = beyond;  // the farthest below the goal, and the closest to it
    const auto  excess = [&](double value) {
      const auto by_distance = [&](const Place& p, const Place& q) {
        return std::abs(p.value - value) < std::abs(q.value - value);
      };
      const Place from = *std::min_element(places_.begin(), places_.end(), by_distance);
      if (!visit(value, from) || out_.better) throw Lost{};
      const Place& here = places_.back();
      if (here.rise < rise_ && std::abs(here.value - below.value) > std::abs(inner.value - below.value))
        inner = here;
      if (std::abs(tau(here) - goal_) < std::abs(tau(end) - goal_)) end = here;
      return is_goal(here) ? 0.0 : tau(here) - goal_;
    };
    const auto narrow = [&](double a, double b) { return std::abs(b - a) <= 1e-12 * std::abs(unit_); };
    if (!is_goal(end)) {
      const double   a = tau(below) - goal_, b = tau(beyond) - goal_;
      std::uintmax_t rounds = 100;
      try {
        if (below.value < beyond.value) {
          (void)boost::math::tools::toms748_solve(excess, below.value, beyond.value, a, b, narrow, rounds);
        } else {
          (void)boost::math::tools::toms748_solve(excess, beyond.value, below.value, b, a, narrow, rounds);
        }
      } catch (const Lost&) {
        return {out_.better ? ProfileEnd::no_minimum : ProfileEnd::blocked, inner.value, inner.rise};
      }
    }
    if (!is_goal(end)) end = inner;  // the profile jumps over the goal
    return {ProfileEnd::found, end.value, end.rise};
  }

  bool is_goal(const Place& place) const {
    return std::abs(tau(place) - goal_) <= options_.tolerance * goal_;
  }

  Profile&              profile_;
  const double          rise_, goal_, unit_, limit_;
  const ProfileOptions& options_;
  ProfileInterval&      out_;
  std::vector<Place>    places_;
};

void require(bool condition, const char* what) {
  if (!condition) throw std::invalid_argument(std::string("profile_interval: ") + what);
}

ProfileInterval search_both_sides(Profile& profile, ProfileInterval& out, const VectorXd& optimum,
                                  double rise, const ProfileOptions& options) {
  require(std::isfinite(rise) && rise > 0.0, "the rise must be above 0");
  const Place start = profile.optimum(optimum);
  out.estimate      = start.value;
  require(options.lowest <= start.value && start.value <= options.highest,
          "the limits must hold the estimate");
  out.points.push_back({start.value, 0.0, start.x});

  // Wald's half width; a change of the residuals that is lost in rounding is none
  const VectorXd along      = profile.tangent(start);
  const double   change     = (start.jacobian * along).norm();
  const double   parts      = (start.jacobian.cwiseAbs() * along.cwiseAbs()).norm();
  const bool     determined = change > 1e-14 * parts;
  out.wald_half_width       = determined ? std::sqrt(rise) / change : std::numeric_limits<double>::infinity();
  const double unit =
      determined ? out.wald_half_width : std::max(std::abs(start.value), 1.0) / options.widest;
  const double reach = options.widest * unit;

  const double highest = std::min(start.value + reach, options.highest),
               lowest  = std::max(start.value - reach, options.lowest);
  out.upper            = Side(profile, start, rise, unit, highest, options, out).search();
  if (!out.better) out.lower = Side(profile, start, rise, -unit, lowest, options, out).search();
  if (out.better) {
    if (out.upper.end != ProfileEnd::no_minimum) out.upper = {ProfileEnd::no_minimum, start.value, 0.0};
    if (out.lower.end != ProfileEnd::no_minimum) out.lower = {ProfileEnd::no_minimum, start.value, 0.0};
  }
  std::sort(out.points.begin(), out.points.end(),
            [](const auto& p, const auto& q) { return p.value < q.value; });
  return std::move(out);
}

}  // namespace

ProfileInterval profile_interval(const Residuals& function, const VectorXd& optimum,
                                 const VectorXd& combination, double rise, const ProfileOptions& options) {
  require(optimum.size() > 0 && combination.size() == optimum.size(),
          "one weight is needed for each parameter");
  require(optimum.allFinite() && combination.allFinite(), "parameters and weights must be finite");
  require(combination.cwiseAbs().maxCoeff() > 0.0, "a combination needs a weight that is not 0");
  ProfileInterval out;
  LinearProfile   profile(function, combination, options, out);
  return search_both_sides(profile, out, optimum, rise, options);
}

ProfileInterval profile_of_quantity(const Residuals& function, const VectorXd& optimum, double rise,
                                    const ProfileOptions& options) {
  require(optimum.size() > 0 && optimum.allFinite(), "parameters must be finite");
  require(std::isfinite(rise) && rise > 0.0, "the rise must be above 0");
  ProfileInterval out;
  CurvedProfile   profile(function, options, out);
  return search_both_sides(profile, out, optimum, rise, options);
}

ProfileInterval profile_interval(const Residuals& function, const VectorXd& optimum, Index index, double rise,
                                 const ProfileOptions& options) {
  if (index < 0 || index >= optimum.size())
    throw std::invalid_argument("profile_interval: there is no such parameter");
  return profile_interval(function, optimum, VectorXd(VectorXd::Unit(optimum.size(), index)), rise, options);
}

}  // namespace arris
