// SPDX-License-Identifier: MIT
#include "sim/statistics/least_squares.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

#include <Eigen/QR>

#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double rounding         = std::numeric_limits<double>::epsilon();
constexpr double smallest_damping = 1e-30;
// damping that shortens a step enough to be felt: what a failure asks for where there was none. Otherwise dozens of doublings would
// pass unfelt, and the next would be far beyond what is needed
constexpr double felt_damping = 1e-3;
// share of D that is kept from one place to the next
constexpr double memory = 0.7;
// steps shorter than this (against x, scaled) are straight: their bend would be measured from rounding
constexpr double straight_step = 1e-4;
// steps longer than this (against x, scaled) are too far apart to foretell the next
constexpr double near_step = 0.1;
// so many steps are remembered
constexpr std::size_t most_remembered = 3;
// what may be left in the tangent plane of a minimum found through noise: 1 % of the residual (Bates & Watts ask for
// 0.1 % where nothing disturbs), or a millionth of what the model gives
constexpr double noisy_offset = 1e-2, noisy_change = 1e-6;

// M = Q·R·Pᵀ with pivots. A tall M is brought to its square root by blocks first, which is where the work is; pivots are sought in that.
class PivotedQr {
 public:
  void compute(const MatrixXd& m) {
    tall_ = m.rows() > m.cols();
    if (tall_) {
      by_blocks_.compute(m);
      pivoted_.compute(by_blocks_.matrixQR().topRows(m.cols()).template triangularView<Eigen::Upper>());
    } else {
      pivoted_.compute(m);
    }
  }
  [[nodiscard]] Eigen::Index rank() const { return pivoted_.rank(); }
  // Qᵀ·r, as far as it lies in the span of M
  [[nodiscard]] VectorXd along(const VectorXd& r) const {
    if (!tall_) return pivoted_.householderQ().adjoint() * r;
    const VectorXd in_root = (by_blocks_.householderQ().adjoint() * r).head(pivoted_.rows());
    return pivoted_.householderQ().adjoint() * in_root;
  }
  // R·Pᵀ
  [[nodiscard]] MatrixXd root() const {
    const auto k = std::min(pivoted_.rows(), pivoted_.cols());
    MatrixXd   r = pivoted_.matrixR().topRows(k).template triangularView<Eigen::Upper>();
    return r * pivoted_.colsPermutation().transpose();
  }
  // min ‖M·x − b‖
  [[nodiscard]] VectorXd solve(const VectorXd& b) const {
    if (!tall_) return pivoted_.solve(b);
    return pivoted_.solve(VectorXd((by_blocks_.householderQ().adjoint() * b).head(pivoted_.rows())));
  }

 private:
  bool                                 tall_ = false;
  Eigen::HouseholderQR<MatrixXd>       by_blocks_;
  Eigen::ColPivHouseholderQR<MatrixXd> pivoted_;
};

// The tangent plane of the residuals at one point: J = Q·R·Pᵀ·C, where J·C⁻¹ has columns of length 1.
class Tangent {
 public:
  explicit Tangent(const MatrixXd& jacobian) : length_(jacobian.colwise().norm().transpose()) {
    length_ = (length_.array() > 0.0).select(length_, 1.0);
    qr_.compute(jacobian * length_.cwiseInverse().asDiagonal());
  }

  const VectorXd& length() const { return length_; }

  // Qᵀ·r, as far as it lies in the plane
  VectorXd along(const VectorXd& r) const { return qr_.along(r); }
  // length of the part of r that lies in the plane
  double share(const VectorXd& r) const { return along(r).head(qr_.rank()).norm(); }
  // R·Pᵀ·C
  MatrixXd root() const { return qr_.root() * length_.asDiagonal(); }

 private:
  VectorXd  length_;
  PivotedQr qr_;
};

// Solves min ‖J·δ + r‖² + λ·‖D·δ‖² for several r, as the small problem ‖R·Pᵀ·C·δ + Qᵀ·r‖² + λ·‖D·δ‖².
class Damped {
 public:
  Damped(const Tangent& tangent, const VectorXd& scale, double damping) : tangent_(tangent) {
    const MatrixXd root = tangent.root();
    MatrixXd       stacked(root.rows() + root.cols(), root.cols());
    stacked.topRows(root.rows())    = root;
    stacked.bottomRows(root.cols()) = MatrixXd((std::sqrt(damping) * scale).asDiagonal());
    length_                         = stacked.colwise().norm().transpose();
    length_                         = (length_.array() > 0.0).select(length_, 1.0);
    qr_.compute(stacked * length_.cwiseInverse().asDiagonal());
  }

  // min ‖J·δ + r‖² + λ·‖D·δ‖²
  VectorXd solve(const VectorXd& r) const {
    const VectorXd along     = tangent_.along(r);
    VectorXd       right     = VectorXd::Zero(along.size() + length_.size());
    right.head(along.size()) = -along;
    return length_.cwiseInverse().asDiagonal() * qr_.solve(right);
  }

 private:
  const Tangent& tangent_;
  VectorXd       length_;
  PivotedQr      qr_;
};

// Where velocities shrink by a steady factor, since residuals bend out of the plane, the last few tell where they vanish
// (Anderson mixing): the step is v − (ΔX + ΔV)·γ, with ‖D·(v − ΔV·γ)‖ least.
class Extrapolation {
 public:
  void forget() {
    steps_.clear();
    turns_.clear();
    velocity_.resize(0);
  }
  // from a place with velocity `v` this step was taken
  void took(const VectorXd& v, const VectorXd& step) {
    if (velocity_.size() == 0) turns_.clear();
    velocity_ = v;
    steps_.push_back(step);
    if (steps_.size() > most_remembered) {
      steps_.erase(steps_.begin());
      turns_.erase(turns_.begin());
    }
  }
  // the step from where it led to, and the velocity there; v itself while nothing is known
  VectorXd step(const VectorXd& v, const VectorXd& scale) {
    if (velocity_.size() == 0) return v;
    turns_.emplace_back(v - velocity_);
    MatrixXd turns(v.size(), static_cast<Eigen::Index>(turns_.size())), sums = turns;
    for (std::size_t i = 0; i < turns_.size(); ++i) {
      turns.col(static_cast<Eigen::Index>(i)) = scale.cwiseProduct(turns_[i]);
      sums.col(static_cast<Eigen::Index>(i))  = steps_[i] + turns_[i];
    }
    const VectorXd gamma = turns.colPivHouseholderQr().solve(scale.cwiseProduct(v));
    return v - sums * gamma;
  }

 private:
  std::vector<VectorXd> steps_, turns_;  // ΔX, and ΔV, which is known one place later
  VectorXd              velocity_;
};

// Bounds of parameters: which are held at a point, and steps that stay within.
class Box {
 public:
  explicit Box(const LeastSquaresOptions& options) : options_(options), is_there_(options.lower.size() > 0) {}

  [[nodiscard]] bool     is_there() const { return is_there_; }
  [[nodiscard]] VectorXd inside(const VectorXd& x) const {
    return is_there_ ? VectorXd(x.cwiseMax(options_.lower).cwiseMin(options_.upper)) : x;
  }
  [[nodiscard]] std::vector<Eigen::Index> held(const VectorXd& x, const VectorXd& r,
                                               const MatrixXd& j) const {
    std::vector<Eigen::Index> out;
    for (Eigen::Index i = 0; is_there_ && i < x.size(); ++i) {
      const double slope = j.col(i).dot(r);
      if ((slope >= 0.0 && options_.is_at_lower(i, x[i])) || (slope <= 0.0 && options_.is_at_upper(i, x[i])))
        out.push_back(i);
    }
    return out;
  }
  // J with nothing in the columns that are held: they take no part
  [[nodiscard]] static MatrixXd free(const MatrixXd& j, const std::vector<Eigen::Index>& held) {
    MatrixXd out = j;
    for (const Eigen::Index i : held) out.col(i).setZero();
    return out;
  }

  // A step from x that crosses bounds: parameters that do are taken to them, and the others are worked out anew.
  [[nodiscard]] VectorXd step_within(const VectorXd& x, VectorXd v, const VectorXd& r, const MatrixXd& j,
                                     const std::vector<Eigen::Index>& held, const VectorXd& scale,
                                     double damping, bool& met) const {
    met                              = false;
    std::vector<Eigen::Index> out_of = held;
    VectorXd                  fixed  = VectorXd::Zero(x.size());
    for (const Eigen::Index i : held) v[i] = 0.0;
    while (is_there_) {
      const VectorXd to   = inside(x + v);
      bool           more = false;
      for (Eigen::Index i = 0; i < x.size(); ++i) {
        if (to[i] == x[i] + v[i] || std::find(out_of.begin(), out_of.end(), i) != out_of.end()) continue;
        fixed[i] = to[i] - x[i];
        out_of.push_back(i);
        more = met = true;
      }
      if (!more) break;
      const Tangent rest(free(j, out_of));
      v = Damped(rest, scale, damping).solve(r + j * fixed);
      for (const Eigen::Index i : out_of) v[i] = fixed[i];
    }
    return v;
  }

 private:
  const LeastSquaresOptions& options_;
  bool                       is_there_;
};

bool is_near(double bound, double value) {
  return std::isfinite(bound) && std::abs(value - bound) <= 1e-9 * std::max(1.0, std::abs(bound));
}

// The function, with a count of how often it is asked.
class CountedResiduals {
 public:
  CountedResiduals(const Residuals& function, LeastSquaresResult& result)
      : function_(function), result_(result) {}

  bool operator()(const VectorXd& x, VectorXd& r, MatrixXd* j) const {
    ++result_.evaluations;
    if (j != nullptr) ++result_.jacobians;
    return function_(x, r, j) && r.allFinite() && (j == nullptr || j->allFinite());
  }

 private:
  const Residuals&    function_;
  LeastSquaresResult& result_;
};

// A point, and what the function says there.
struct FitPlace {
  FitPlace(const Box& box, VectorXd at, VectorXd residuals, MatrixXd jacobian)
      : x(std::move(at)),
        r(std::move(residuals)),
        j(std::move(jacobian)),
        held(box.held(x, r, j)),
        tangent(Box::free(j, held)),
        share(tangent.share(r)) {}

  VectorXd                  x, r;
  MatrixXd                  j;  // columns that are held play no part in steps: v is 0 there
  std::vector<Eigen::Index> held;
  Tangent                   tangent;
  double                    share;  // length of the part of r that lies in the plane
};

// How far steps are damped, which follows from how the last ones went.
struct FitDamping {
  double value;
  double growth = 2.0;
  bool   failed = false;  // the last step did

  void relax() { value = std::max(value / 3.0, smallest_damping); }
  void after_success(double gain, bool invisible) {
    const double shrink =
        invisible ? 1.0 / 3.0 : std::max(1.0 / 3.0, 1.0 - std::pow(2.0 * std::min(gain, 1.0) - 1.0, 3));
    value  = std::max(shrink * value, smallest_damping);
    growth = 2.0;
  }
  void after_failure() {
    value = value > smallest_damping ? growth * value : felt_damping;
    growth *= 2.0;
  }
};

// The step in the tangent plane, and the fall of the cost that it promises.
struct FitVelocity {
  VectorXd v;
  bool     met;          // a bound on the way
  double   size, place;  // lengths of v and x, scaled
  double   promised;
  double   given;       // size of what the model gives
  double   visible;     // costs that differ by no more cannot be told apart
  bool     invisible;   // the promise is within rounding or noise
  bool     negligible;  // too short
};

FitVelocity velocity_at(const FitPlace& at, const Box& box, const Damped& damped, const VectorXd& scale,
                        double damping, const LeastSquaresOptions& options) {
  const VectorXd& r = at.r;
  const MatrixXd& j = at.j;
  FitVelocity     out;
  out.met           = false;
  out.v             = box.step_within(at.x, damped.solve(r), r, j, at.held, scale, damping, out.met);
  const VectorXd& v = out.v;
  out.size          = scale.cwiseProduct(v).norm();
  out.place         = scale.cwiseProduct(at.x).norm();
  out.promised =
      out.met ? -(j * v).dot(r + 0.5 * (j * v)) : 0.5 * (j * v).squaredNorm() + damping * out.size * out.size;
  // is there more to gain: steps long enough, costs that differ by more than rounding in what the model gives?
  out.given     = r.norm() + (j.cwiseAbs() * at.x.cwiseAbs()).norm();
  out.visible   = std::max(rounding, options.noise) * r.norm() * out.given;
  out.invisible = out.promised <= out.visible;
  out.negligible =
      !(out.size > options.step_tolerance * out.place) && !out.met;  // to a bound no step is too short
  return out;
}

enum class FitOutlook { more_to_gain, converged, stalled, hidden_by_damping };

FitOutlook outlook(const FitPlace& at, const FitVelocity& velocity, const FitDamping& damping) {
  if (!(velocity.negligible || velocity.invisible) || velocity.met) return FitOutlook::more_to_gain;
  const double share = at.share;
  const bool   whole =
      velocity.promised >= 0.25 * share * share;  // at least half of what the plane holds: ½·share²
  if (whole || share <= std::max(noisy_offset * at.r.norm(), noisy_change * velocity.given)) {
    // steps that could be seen have failed until none can: what is left is noise
    return velocity.negligible || (damping.failed && !whole) ? FitOutlook::converged
                                                             : FitOutlook::more_to_gain;
  }
  // otherwise damping hides what the plane holds, and no failure asked for it
  return damping.failed || damping.value <= smallest_damping ? FitOutlook::stalled
                                                             : FitOutlook::hidden_by_damping;
}

struct FitStep {
  VectorXd step;
  bool     extrapolated;
};

// the velocity, or what the last few tell of where velocities vanish
FitStep foretold_step(const FitPlace& at, const FitVelocity& velocity, const VectorXd& scale,
                      Extrapolation& before) {
  if (velocity.met || velocity.size > near_step * velocity.place) {
    before.forget();
    return {velocity.v, false};
  }
  const VectorXd step = before.step(velocity.v, scale);
  if (!(step != velocity.v)) return {step, false};
  // downhill, and not far: otherwise what is remembered does not hold here
  if (at.r.dot(at.j * step) < 0.0 && scale.cwiseProduct(step).norm() <= near_step * velocity.place)
    return {step, true};
  before.forget();
  return {velocity.v, false};
}

// Bends the step as residuals bend along the velocity (geodesic acceleration); false where they bend too much.
bool accelerate(FitStep& step, const FitPlace& at, const FitVelocity& velocity, const Damped& damped,
                const VectorXd& scale, const CountedResiduals& evaluate, const Box& box,
                const LeastSquaresOptions& options) {
  const double h = options.curvature_step;
  if (step.extrapolated || !(h > 0.0) || !(velocity.size > straight_step * velocity.place)) return true;
  const VectorXd& v = velocity.v;
  VectorXd        ahead;
  if (!evaluate(box.inside(at.x + h * v), ahead, nullptr)) return false;
  const VectorXd a = damped.solve((2.0 / h) * ((ahead - at.r) / h - at.j * v));
  if (!velocity.met) step.step += 0.5 * a;
  return 2.0 * scale.cwiseProduct(a).norm() <= options.largest_curvature * velocity.size;
}

struct FitTrial {
  FitPlace place;
  double   gain;  // fall of the cost, against what was promised
};

// where the step leads to; nothing if that is no better
std::optional<FitTrial> try_step(const FitStep& step, const FitPlace& at, const FitVelocity& velocity,
                                 const CountedResiduals& evaluate, const Box& box) {
  const VectorXd x = box.inside(at.x + step.step);
  VectorXd       r;
  MatrixXd       j;
  if (!evaluate(x, r, &j)) return std::nullopt;
  const double fall = 0.5 * (at.r - r).dot(at.r + r);
  const double gain = fall / (step.extrapolated ? -0.5 * at.r.dot(at.j * step.step) : velocity.promised);
  FitPlace     place(box, x, std::move(r), std::move(j));
  // where costs can no longer be told apart, the better place is the one with less left to promise, or one at a bound
  const bool level = std::abs(fall) <= velocity.visible;
  const bool better =
      velocity.invisible ? (place.share < at.share || (velocity.met && level)) : fall > 0.0 && gain > 1e-4;
  if (!better) return std::nullopt;
  return FitTrial{std::move(place), gain};
}

// steps from a place until there is no more to gain
LeastSquaresStatus descend(FitPlace& at, int& iterations, const CountedResiduals& evaluate, const Box& box,
                           const LeastSquaresOptions& options) {
  VectorXd      scale = at.tangent.length();
  FitDamping    damping{options.first_damping};
  Extrapolation before;
  for (; iterations < options.max_iterations; ++iterations) {
    if (at.share <= options.gradient_tolerance * at.r.norm()) return LeastSquaresStatus::converged;

    const Damped      damped(at.tangent, scale, damping.value);
    const FitVelocity velocity = velocity_at(at, box, damped, scale, damping.value, options);
    const FitOutlook  ahead    = outlook(at, velocity, damping);
    if (ahead == FitOutlook::converged) return LeastSquaresStatus::converged;
    if (ahead == FitOutlook::stalled) return LeastSquaresStatus::stalled;
    if (ahead == FitOutlook::hidden_by_damping) {
      damping.relax();
      continue;
    }

    FitStep                 step = foretold_step(at, velocity, scale, before);
    std::optional<FitTrial> trial;
    if ((velocity.promised > 0.0 || !velocity.met) &&
        accelerate(step, at, velocity, damped, scale, evaluate, box, options))
      trial = try_step(step, at, velocity, evaluate, box);
    if (trial) {
      if (velocity.met)
        before.forget();
      else
        before.took(velocity.v, trial->place.x - at.x);
      at    = std::move(trial->place);
      scale = (memory * scale).cwiseMax(at.tangent.length());
      damping.after_success(trial->gain, velocity.invisible);
    } else if (step.extrapolated) {
      before.forget();
    } else if (velocity.invisible && !velocity.met) {
      return LeastSquaresStatus::converged;
    } else {
      damping.after_failure();
    }
    damping.failed = !trial && !step.extrapolated;
  }
  return LeastSquaresStatus::max_iterations;
}

}  // namespace

bool LeastSquaresOptions::is_at_lower(Eigen::Index i, double value) const {
  return lower.size() > 0 && (value <= lower[i] || is_near(lower[i], value));
}
bool LeastSquaresOptions::is_at_upper(Eigen::Index i, double value) const {
  return upper.size() > 0 && (value >= upper[i] || is_near(upper[i], value));
}

namespace {

// How residuals bend: rows W, so that WᵀW is the part of Σ r·r″ that curves the cost upwards, which JᵀJ leaves out. By differences of the slope of the
// cost; none where these cannot be had.
MatrixXd bend_rows(const FitPlace& at, const CountedResiduals& evaluate, const LeastSquaresOptions& options) {
  constexpr double h        = 1e-3;
  const auto       n        = at.x.size();
  const MatrixXd   gram     = at.j.transpose() * at.j;
  const VectorXd   gradient = at.j.transpose() * at.r;
  MatrixXd         hessian  = gram;
  for (Eigen::Index i = 0; i < n; ++i) {
    if (std::find(at.held.begin(), at.held.end(), i) != at.held.end()) continue;
    const double step = options.is_at_upper(i, at.x[i] + h) ? -h : h;
    VectorXd     x    = at.x, r;
    MatrixXd     j;
    x[i] += step;
    if (!evaluate(x, r, &j)) return MatrixXd(0, n);
    hessian.col(i) = (j.transpose() * r - gradient) / step;
  }
  const auto [values, vectors] = eigen_of_symmetric(0.5 * (hessian + hessian.transpose()) - gram);
  return values.cwiseMax(0.0).cwiseSqrt().asDiagonal() * vectors.transpose();
}

// these rows below a residual of 0: steps know of them, the cost does not
Residuals with_rows(const Residuals& function, const MatrixXd& rows) {
  return [&function, &rows](const VectorXd& x, VectorXd& r, MatrixXd* j) {
    if (!function(x, r, j)) return false;
    const auto n = r.size();
    r.conservativeResize(n + rows.rows());
    r.tail(rows.rows()).setZero();
    if (j == nullptr) return true;
    j->conservativeResize(n + rows.rows(), Eigen::NoChange);
    j->bottomRows(rows.rows()) = rows;
    return true;
  };
}

// Where steps in the plane have stalled, on with how residuals bend there.
LeastSquaresStatus descend_bent(FitPlace& place, LeastSquaresResult& result, const Residuals& function,
                                const Box& box, const LeastSquaresOptions& options) {
  const CountedResiduals plain(function, result);
  const auto             n    = place.r.size();
  const MatrixXd         rows = bend_rows(place, plain, options);
  if (rows.rows() == 0) return LeastSquaresStatus::stalled;
  const Residuals        bent = with_rows(function, rows);
  const CountedResiduals evaluate(bent, result);
  VectorXd               r;
  MatrixXd               j;
  if (!evaluate(place.x, r, &j)) return LeastSquaresStatus::stalled;
  FitPlace                 on(box, place.x, std::move(r), std::move(j));
  const LeastSquaresStatus status = descend(on, result.iterations, evaluate, box, options);
  place                           = FitPlace(box, on.x, on.r.head(n), on.j.topRows(n));
  return status;
}

}  // namespace

LeastSquaresResult least_squares(const Residuals& function, const VectorXd& start,
                                 const LeastSquaresOptions& options) {
  LeastSquaresResult     result;
  const CountedResiduals evaluate(function, result);
  const Box              box(options);
  result.x = box.inside(start);
  if (!evaluate(result.x, result.residuals, &result.jacobian)) return result;

  FitPlace place(box, std::move(result.x), std::move(result.residuals), std::move(result.jacobian));
  result.status            = descend(place, result.iterations, evaluate, box, options);
  constexpr int most_bends = 4;
  for (int turn = 0; turn < most_bends && result.status == LeastSquaresStatus::stalled; ++turn)
    result.status = descend_bent(place, result, function, box, options);
  result.x         = std::move(place.x);
  result.residuals = std::move(place.r);
  result.jacobian  = std::move(place.j);
  result.held      = std::move(place.held);
  result.cost      = 0.5 * result.residuals.squaredNorm();
  return result;
}

}  // namespace arris
