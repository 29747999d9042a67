// SPDX-License-Identifier: MIT
#pragma once

#include "sim/laws/tester.hpp"

namespace arris {

/// A radius that a law of wear predicts, put right by what the law misses of the reading there (discrepancy.hpp).
///
///     F( r_c, b )·e^rest = F( r, b )·e^δ
///
/// Where a law misses, it misses the wear: an edge that wears twice as fast misses twice as much. So luck in the apex and in the rate of
/// wear acts on the radius put right, r_c, and not on the law's. `rest` is what no radius can show: a reading below the filament's own
/// resistance or above what the filament bears.
struct MissedWear {
  double met_um = 0.0;  ///< r_c: the radius that a tester meets, µm
  double rest   = 0.0;  ///< log
};

/// `met_um`, `burr_um` in µm, `miss` the log δ; all finite, the radius above 0.
[[nodiscard]] MissedWear put_right(const laws::TesterAtAngle<double>& tester, double met_um, double burr_um,
                                   double miss);

}  // namespace arris
