// SPDX-License-Identifier: MIT
#pragma once

#include "sim/history/specimen.hpp"
#include "sim/studies/forecast/forecast.hpp"

namespace arris {

/// The answer to a forecast of specimens, in their own quantity and units: the way until their wear reaches a limit.
[[nodiscard]] Answer specimen_forecast_answer(const Forecast& forecast, const Ensemble& ensemble,
                                              const WearUnits& units);

}  // namespace arris
