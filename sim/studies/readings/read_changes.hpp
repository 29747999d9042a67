// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/studies/readings/taken.hpp"

/// What a strop, a stone or wood changed, by readings alone: each edge is held against itself, so that its luck drops out.
///
/// A reading after work in wood is held against the first one since the edge was last sharpened, one after sharpening against
/// the one before that. With c_ki the log of the change of edge i of kind k, between the same two moments,
///
///     s² = Σ_k Σ_i (c_ki − c_k)² / Σ_k (n_k − 1),   change of a kind: c_k ± t·s/√n_k,
///     all kinds alike: F = Σ_k n_k·(c_k − c)² / ((K − 1)·s²),   c the mean over all edges
///
/// s² is taken as no less than s_r²·⟨1/n_before + 1/n_after⟩, s_r² being the variance of single readings. Changes are corrected together, and so are the
/// tests of likeness (Holm 1979, from memory).
namespace arris::read {

struct Changes {
  std::vector<ReadChange>   all;     ///< moment by moment
  std::vector<UnlikeChange> unlike;  ///< p below 0.05; at most one for two moments
};

/// A kind of one edge has its interval by the scatter of the others; where no kind has two edges, there is none.
[[nodiscard]] Changes changes_of(const Scenario& scenario, const std::vector<Taken>& all,
                                 const std::vector<std::vector<Kind>>& by_moment);

/// Edges that read less after wood than before it, by more than their own readings scatter (Welch's test, corrected together): those of
/// kinds that fall as a whole left out.
[[nodiscard]] std::vector<ReadsLess> edges_less(const Scenario& scenario, const std::vector<Taken>& all,
                                                const std::vector<ReadChange>& changes);

/// Whether all of a kind read less after wood than before it, surely.
[[nodiscard]] bool is_fall(const ReadChange& change);

}  // namespace arris::read
