// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

/// A share that was counted in clusters whose members go together: of the readings of several edges, how many have something.
///
///     p = Σh/Σn,   v = K/(K − 1)·Σ(h − p·n)²/(Σn)²,   n* = p(1 − p)/v·( t_{Σn−1}/t_{K−1} )²
///
/// h of n in each of K clusters; v is the variance of the ratio between clusters. The interval is Clopper and Pearson's for p·n* of n* trials,
/// with the effective number n* ≤ Σn. Clusters, not their members, are what is independent, and t is that of so few. Where all
/// clusters have the same share v tells nothing, and n* = K: as if each spoke once. So it is of one cluster alone.
/// Source: Korn & Graubard 1998; Clopper & Pearson 1934 (both from memory). n* = K is our choice, the careful one.
namespace arris {

struct Cluster {
  double hits = 0.0, members = 0.0;  ///< 0 ≤ hits ≤ members
};

struct ClusteredShare {
  double share = 0.0, low = 0.0, high = 1.0;
  double effective = 0.0;  ///< n*
};

/// With an interval of the given level, 0 … 1. Clusters without members do not count; NaN where none has any.
[[nodiscard]] ClusteredShare clustered_share(const std::vector<Cluster>& clusters, double level);

}  // namespace arris
