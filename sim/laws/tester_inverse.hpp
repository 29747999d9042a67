// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/tester.hpp"

/// The radius that a tester met, from what it read: tester.hpp solved for r.
///
///     S·( r + κ_b·b ) = y/( 1 − y/(F_sat − F_a) ),    y = F − F_a
///
/// | symbol | C++            | meaning                                  | unit | range            |
/// |--------|----------------|------------------------------------------|------|------------------|
/// | F      | `reading_N`    | what was read                            | N    | F_a < F < F_sat  |
/// | b      | `burr_um`      | burr that stood there                    | µm   | ≥ 0              |
/// | α      | `half_angle`   | half the included angle                  | rad  | 0 … π/2          |
///
/// Below 0 where the burr alone reads more. Source: algebra. Throws nothing.
///
///     met_radius_um(tester.at_angle(0.26), tester.reading_N(0.3, 0.1, 0.26), 0.1);   // 0.3
namespace arris::laws {

[[nodiscard]] inline double met_radius_um(const TesterAtAngle<double>& tester, double reading_N,
                                          double burr_um) {
  const double above = reading_N - tester.start_N;
  return above / (1.0 - above / (tester.saturation_N - tester.start_N)) / tester.slope_N_per_um -
         tester.burr_share * burr_um;
}

}  // namespace arris::laws
