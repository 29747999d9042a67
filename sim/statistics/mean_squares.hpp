// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/laws/field.hpp"

/// Intervals for variances that are sums and differences of mean squares of an analysis of variance.
///
///     θ = Σ_q c_q·S_q²,   n_q·S_q²/E(S_q²) ~ χ²(n_q), independent
///
///     all c_q > 0 (Graybill & Wang 1980):
///         L = θ̂ − √Σ G_q²·c_q²·S_q⁴,   U = θ̂ + √Σ H_q²·c_q²·S_q⁴
///     some c_r < 0 (Ting, Burdick, Graybill, Jeyaratnam & Lu 1990), with |c_r| for c_r:
///         L = θ̂ − √( Σ₊ G_q²c_q²S_q⁴ + Σ₋ H_r²c_r²S_r⁴ + Σ₊Σ₋ G_qr·c_q·c_r·S_q²·S_r² )
///         U = θ̂ + √( Σ₊ H_q²c_q²S_q⁴ + Σ₋ G_r²c_r²S_r⁴ + Σ₊Σ₋ H_qr·c_q·c_r·S_q²·S_r² )
///     G_q = 1 − n_q/χ²_{1−α/2}(n_q),   H_q = n_q/χ²_{α/2}(n_q) − 1
///     G_qr = ((F − 1)² − G_q²F² − H_r²)/F,   F = F_{1−α/2}(n_q, n_r)
///     H_qr = ((1 − F)² − H_q²F² − G_r²)/F,   F = F_{α/2}(n_q, n_r)
///
/// Of a single mean square it is the exact chi-square interval. Otherwise the intervals hold their level within a few parts in
/// a hundred. The small correction among positive terms of the second form is left out: where there are two of them, L errs on
/// the safe side. Ends below 0 are put at 0.
/// Source: the equations as in Burdick, Borror & Montgomery 2003, J. Qual. Technol. 35, 342 (from memory; the coverage is
/// tested).
namespace arris {

struct MeanSquare {
  double coefficient = 1.0;  ///< c; below 0 where it is taken off
  double value       = 0.0;  ///< S²
  double df          = 1.0;  ///< n
};

/// NaN at an end that cannot be determined.
struct Interval {
  double low  = not_given;
  double high = not_given;
};

/// θ̂, which can be below 0.
[[nodiscard]] double combined(const std::vector<MeanSquare>& terms);

/// The interval that covers θ with probability `confidence` (0 … 1), the rest shared between its two sides.
[[nodiscard]] Interval variance_interval(const std::vector<MeanSquare>& terms, double confidence);

/// χ² interval of a variance that is known as if from `df` degrees of freedom; `high` is NaN where it would be more than a
/// million times the variance.
[[nodiscard]] Interval chi_square_interval(double variance, double df, double confidence);

}  // namespace arris
