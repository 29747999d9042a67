// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/statistics/individuals_chart.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/gauge/gauge.hpp"

/// Has the tester changed? Readings of a check edge or a reference filament, day by day, on a control chart, so that a tester that drifts
/// is noticed before edges are blamed.
///
/// A point is the mean of the readings of one test day; where no reading has a day, each reading is a point. Points stand in the order of
/// their dates where all have one, else in that of the file.
namespace arris {

struct ControlSettings {
  std::string edge;        ///< what is read again and again; may be empty where only one thing was read
  std::string moment;      ///< of it, where it was read at several
  int         base   = 0;  ///< so many points at the start set the limits; 0: all
  std::string source = "the readings";  ///< file, for sentences
};

struct ControlPoint {
  std::string label;  ///< the day, or "reading 7"
  std::string lot;    ///< of the filament; of several "several"
  double      reading_gf = 0.0;
  int         readings   = 0;
};

struct ControlResult {
  std::string               edge;  ///< what was read
  std::vector<ControlPoint> points;
  IndividualsChart          chart;  ///< in gram-force
  std::vector<ChartSignal>  signals;
  std::size_t               base     = 0;
  int                       excluded = 0;
  double false_signals               = 0.0;  ///< share of series like this one that show a signal by chance
  bool   by_day                      = false;
};

/// Throws Error: Exit::usage, "unknown-edge" with the edges that there are, or "bad-option"; Exit::data, "too-few" for fewer than five points,
/// "no-scatter" where the points that set the limits are all the same.
[[nodiscard]] ControlResult control(const std::vector<GaugeReading>& readings,
                                    const ControlSettings&           settings);

[[nodiscard]] Answer control_answer(const ControlResult& result, const ControlSettings& settings);

}  // namespace arris
