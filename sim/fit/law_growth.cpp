// SPDX-License-Identifier: MIT
#include "sim/fit/law_growth.hpp"

#include <algorithm>

#include "sim/laws/wear/wear_law.hpp"

namespace arris {
namespace {

constexpr double reference_radius_um = 0.3;
constexpr double reference_path_m    = 100.0;

template <class Law>
double growth_um(const Law& law) {
  constexpr int    steps = 400;
  constexpr double h     = reference_path_m / steps;
  double           r     = reference_radius_um;
  for (int i = 0; i < steps; ++i) {  // Runge–Kutta of fourth order
    const double x  = i * h;
    const double k1 = law.rate(r, x), k2 = law.rate(r + 0.5 * h * k1, x + 0.5 * h),
                 k3 = law.rate(r + 0.5 * h * k2, x + 0.5 * h), k4 = law.rate(r + h * k3, x + h);
    r += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
  }
  return r - reference_radius_um;
}

// The same from any start over any path: steps in which the radius grows by no more than a twentieth, as a small one may grow very fast. Off by
// some 1e-6 of itself.
template <class Law>
double growth_um(const Law& law, const WearScale& over) {
  constexpr int    most_steps = 100000;
  constexpr double share      = 0.05;
  double           r = over.start_um, x = 0.0;
  for (int i = 0; i < most_steps && x < over.path_m; ++i) {
    const double k1 = law.rate(r, x);
    const double h  = std::min({over.path_m - x, share * r / k1, over.path_m / 400.0});
    const double k2 = law.rate(r + 0.5 * h * k1, x + 0.5 * h), k3 = law.rate(r + 0.5 * h * k2, x + 0.5 * h),
                 k4 = law.rate(r + h * k3, x + h);
    r += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
    x += h;
  }
  return r - over.start_um;
}

}  // namespace

double reference_growth_um(const laws::HeldWearLaw<double>& law, const WearScale& over) {
  return std::visit([&](const auto& of) { return over.of_specimens() ? growth_um(of, over) : growth_um(of); },
                    law->law);
}

double default_growth_um() { return growth_um(laws::SharedLoad<double>{}); }

laws::HeldWearLaw<double> times_severity(const laws::HeldWearLaw<double>& law, double severity) {
  laws::HeldWearLaw<double> out = law;
  std::visit([&](auto& of) { of = of.times(severity); }, out->law);
  return out;
}

}  // namespace arris
