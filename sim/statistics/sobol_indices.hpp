// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

/// Which input of a function takes how much of its variance, by Sobol indices.
///
/// first order  Sᵢ  = Var(E[f | xᵢ])/Var(f)          share that goes when that input alone is known
/// total        STᵢ = E[Var(f | all but xᵢ)]/Var(f)  share that is left when all others are known
///
/// | symbol | C++ name | meaning                                                         |
/// |--------|----------|-----------------------------------------------------------------|
/// | f(A)   | `a`      | f at n points of a design                                       |
/// | f(B)   | `b`      | f at n points of another, independent of it                     |
/// | f(ABᵢ) | `ab[i]`  | f at the points of A with coordinate i of those of B            |
///
/// Sᵢ = mean(f(B)·(f(ABᵢ) − f(A)))/V (Saltelli et al. 2010, Comput. Phys. Commun. 181, 259, table 2), STᵢ = mean((f(A) − f(ABᵢ))²)/(2V)
/// (Jansen 1999, Comput. Phys. Commun. 117, 35), V the variance of f over A and B together; the mean of f is taken away first. Sources
/// from memory. Intervals are percentiles of a bootstrap over the n points.
///
/// Assumes that inputs are independent of each other. An estimate of an index of 0 may lie below 0.
namespace arris {

struct SobolSample {
  std::vector<double>              a, b;
  std::vector<std::vector<double>> ab;  ///< by input
};

struct SobolIndex {
  double first = 0.0, first_low = 0.0, first_high = 0.0;
  double total = 0.0, total_low = 0.0, total_high = 0.0;
};

/// The indices of each input, without intervals. NaN where f is the same everywhere.
[[nodiscard]] std::vector<SobolIndex> sobol_indices(const SobolSample& sample);
/// With 90 % intervals of so many resamples. Throws Stopped as stop_if_wished does.
[[nodiscard]] std::vector<SobolIndex> sobol_indices(const SobolSample& sample, int resamples,
                                                    unsigned long long seed);

}  // namespace arris
