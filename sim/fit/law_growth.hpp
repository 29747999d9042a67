// SPDX-License-Identifier: MIT
#pragma once

#include "sim/laws/wear/held_law.hpp"

/// How much a wear law blunts the reference blade in the reference wood: what laws are made comparable by (law_fits.hpp). Compiled
/// by itself, so that fits need not read the laws.
namespace arris {

/// Growth of the radius in µm over 100 m, from 0.3 µm.
[[nodiscard]] double reference_growth_um(const laws::HeldWearLaw<double>& law);

/// That of the shared-load law with its default numbers.
[[nodiscard]] double default_growth_um();

/// The law for a wood and steel that wear it `severity` times as fast.
[[nodiscard]] laws::HeldWearLaw<double> times_severity(const laws::HeldWearLaw<double>& law, double severity);

}  // namespace arris
