// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <vector>

#include <Eigen/Core>

/// Posterior draws by the affine-invariant ensemble sampler, with the diagnostics that say whether to believe them.
///
/// Each walker moves along the line to a walker of the other half of the ensemble, x' = x_j + z·(x − x_j), z drawn from
/// g(z) ∝ 1/√z on [1/2, 2], accepted with probability min(1, z^(d−1)·p(x')/p(x)).
/// All random numbers are drawn before densities are worked out, so the threads that do so change no bit.
/// Source: Goodman & Weare 2010, Comm. App. Math. Comp. Sci. 5, 65; autocorrelation time with Sokal's window as in
/// Foreman-Mackey et al. 2013; split R-hat after Gelman et al. (from memory).
namespace arris {

using LogDensity = std::function<double(const Eigen::VectorXd&)>;  ///< called from several threads
/// At each column of a matrix (d × n): half an ensemble moves at once, and who works out many together may spread them over
/// threads and registers as it likes.
using LogDensities = std::function<Eigen::VectorXd(const Eigen::MatrixXd&)>;

struct SamplerOptions {
  int                walkers       = 32;     ///< even, at least twice the dimensions
  int                wanted_draws  = 4000;   ///< after burn-in, over all walkers
  int                most_steps    = 40000;  ///< per walker; what is not converged by then is refused
  unsigned long long seed          = 1;
  int                threads       = 0;
  double             steps_per_tau = 50.0;  ///< length of the chain in autocorrelation times
  double             worst_r_hat   = 1.05;
};

struct Draws {
  Eigen::MatrixXd values;           ///< draws × d; empty unless converged
  Eigen::VectorXd log_density;      ///< one per draw
  Eigen::VectorXd autocorrelation;  ///< d, steps
  Eigen::VectorXd r_hat;            ///< d
  double          acceptance = 0.0;
  int             steps      = 0;  ///< per walker, burn-in included; 0 where draws were made by importance
  int             burn_in    = 0;
  int             walkers =
      0;  ///< each row of values belongs to the next of them in turn; 0 where draws were made by importance
  bool converged = false;
};

/// Integrated autocorrelation time of chains (steps × chains), averaged over the chains before windowing.
[[nodiscard]] double autocorrelation_time(const Eigen::MatrixXd& chains);
/// Split R-hat of chains (steps × chains): between the halves of all chains over within them. 1 is best.
[[nodiscard]] double split_r_hat(const Eigen::MatrixXd& chains);

/// Samples `density` from a ball around `centre` with the given scale (d). `progress(done, expected)` may be empty.
[[nodiscard]] Draws sample(const LogDensity& density, const Eigen::VectorXd& centre,
                           const Eigen::VectorXd& scale, const SamplerOptions& options,
                           const std::function<void(std::size_t, std::size_t)>& progress = {});
/// The same from a density that is worked out at many places together.
[[nodiscard]] Draws sample_together(const LogDensities& densities, const Eigen::VectorXd& centre,
                                    const Eigen::VectorXd& scale, const SamplerOptions& options,
                                    const std::function<void(std::size_t, std::size_t)>& progress = {});

}  // namespace arris
