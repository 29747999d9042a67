// SPDX-License-Identifier: MIT
#pragma once

#include "sim/laws/wear/held_law.hpp"

/// How much a wear law blunts the reference blade in the reference wood: what laws are made comparable by (law_fits.hpp). Compiled
/// by itself, so that fits need not read the laws.
namespace arris {

/// What laws are compared over: of blades a radius that grows over 100 m from 0.3 µm; of specimens wear over a typical way, as readings show
/// it. `factor` is the geometric standard deviation of the growth by the priors of a law.
struct WearScale {
  double             start_um = 0.3, path_m = 100.0, factor = 3.0;
  double             growth_um = 0.0;  ///< of specimens: what the law is to wear; 0: that of the default law
  [[nodiscard]] bool of_specimens() const { return growth_um > 0.0; }
};

/// Growth of the radius in µm over that path.
[[nodiscard]] double reference_growth_um(const laws::HeldWearLaw<double>& law, const WearScale& over = {});

/// That of the shared-load law with its default numbers.
[[nodiscard]] double default_growth_um();

/// The law for a wood and steel that wear it `severity` times as fast.
[[nodiscard]] laws::HeldWearLaw<double> times_severity(const laws::HeldWearLaw<double>& law, double severity);

}  // namespace arris
