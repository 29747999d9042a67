// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/fit/fit.hpp"

/// What the laws miss along the passes, as a smooth term of its own.
///
///     log F(x) = log F_law(x) + δ(t),   t = log(1 + x)  or  t = log(1 + x_last)·√(x/x_last),   δ″ = s·(white noise): a smoothing spline
///     cov( δ(t), δ(t′) ) = s²·m²·(3M − m)/6 + level² + slope²·t·t′,   m = min(t, t′), M = max(t, t′)
///
/// | symbol | meaning                                          | unit | prior                                            |
/// |--------|--------------------------------------------------|------|--------------------------------------------------|
/// | x      | passes since the edge was sharpened              | –    | –                                                |
/// | δ      | log of what edges read over what the law says    | –    | Gaussian process; level and slope of sd 0.1      |
/// | s      | how strongly it bends                            | –    | half Student's t, 4 d.f., scale 0.2 (estimate)   |
///
/// Nobody knows whether what is missed bends evenly in the logarithm of passes or in their square root (a curve that slows down does in the logarithm,
/// one that speeds up rather in the root; in passes themselves bands at twice the last reading came out ninefold): a draw has either, as what was missed up to x_last, the last passes that were read, speaks for it.
///
/// It is found after the fit, from means over edges of what the fit leaves over at each count of passes, each with the variance that
/// edges give it. Level and slope are left small (estimate): the fit has had its say of both, and a slope that is mere scatter would go on for ever
/// beyond the readings. It corrects a law where edges were read, and widens bands beyond the last reading: the standard deviation grows
/// with the power 3/2 of the distance in t. A law that has missed where it was read is not to be believed beyond. From twice the last passes on it
/// stays as it is there: nothing tells it, and the law has its course.
/// Where edges were read at two counts of passes only, nothing tells how the curve bends between and beyond: δ is as wide there as its
/// prior. All edges share it, whatever their way and wood. Parameters are not fitted anew beside it. A stationary covariance of the same
/// smoothness goes back to the law beyond the readings, and held far fewer edges there in trials.
/// Source: Kennedy & O'Hagan 2001; splines as Gaussian processes, Wahba 1978; found after the fit, as Liu, Bayarri & Berger 2009
/// have it (all from memory).
namespace arris {

/// What is left over at each count of passes.
struct Discrepancy {
  std::vector<double> passes;    ///< ascending
  std::vector<double> miss;      ///< mean of log measured less log predicted
  std::vector<double> variance;  ///< of that mean, as edges differ

  [[nodiscard]] bool is_known() const { return passes.size() > 1 && passes.back() > 0.0; }
  /// Passes up to which what is missed is carried on: twice the last that were read. Where it is known.
  [[nodiscard]] double farthest() const { return 2.0 * passes.back(); }
};

/// Empty where no two counts of passes tell it.
[[nodiscard]] Discrepancy discrepancy_of(const CampaignModel& model, const FitPoint& point,
                                         const Information& information);

/// δ at the given passes (ascending, 0 or more) in `count` draws, a row each; the same on any machine. Zeros where nothing is known.
[[nodiscard]] Eigen::MatrixXd drawn_discrepancy(const Discrepancy& known, const std::vector<double>& passes,
                                                std::size_t count, unsigned long long seed);

}  // namespace arris
