// SPDX-License-Identifier: MIT
#include "sim/fit/missed_wear.hpp"

#include <algorithm>
#include <cmath>

#include "sim/laws/tester_inverse.hpp"

namespace arris {
namespace {

// a radius may shrink to this share of the law's, and a reading may come so near to what the filament bears (estimates: beyond, a small
// miss of a reading would be a large one of the radius)
constexpr double least_share = 0.2, most_of_saturation = 0.9;

}  // namespace

MissedWear put_right(const laws::TesterAtAngle<double>& tester, double met_um, double burr_um, double miss) {
  if (miss == 0.0) return {met_um, 0.0};
  const double law   = tester.reading_N(met_um, burr_um);
  const double start = tester.start_N;
  const double least = tester.reading_N(least_share * met_um, burr_um);
  const double most  = std::max(law, start + most_of_saturation * (tester.saturation_N - start));
  const double shown = std::clamp(law * std::exp(miss), least, most);
  return {laws::met_radius_um(tester, shown, burr_um), std::log(law / shown) + miss};
}

}  // namespace arris
