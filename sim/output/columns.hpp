// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/simulate/reading_points.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/simulate/simulate.hpp"

/// The columns of each kind of result, once: CSV, JSON and HDF5 all write these, under these names.
namespace arris {

template <class Row>
struct NumberColumn {
  const char*                       name;
  const char*                       units;  ///< as in the `units` attribute; "1" for a pure number
  const char*                       long_name;
  std::function<double(const Row&)> value;  ///< NaN where there is none
};

template <class Row>
struct TextColumn {
  const char*                            name;
  const char*                            long_name;
  std::function<std::string(const Row&)> value;
};

template <class Row>
struct Columns {
  std::vector<TextColumn<Row>>   text;
  std::vector<NumberColumn<Row>> numbers;
};

/// Whether every column and attribute of that name counts something, or says yes (1) or no (0): files and Python keep it as integers,
/// unless one of its values is missing.
[[nodiscard]] bool holds_whole_numbers(std::string_view name);

/// A unit as files and Python spell it, in ASCII: "um" for "µm", "um^2/m" for "µm²/m", "degree" for "°", "percent" for "%"; and back,
/// as people write it.
[[nodiscard]] std::string unit_for_files(std::string_view symbol);
[[nodiscard]] std::string unit_for_people(std::string_view spelled);

/// Those of blades in wood.
[[nodiscard]] const Columns<TrackPoint>&      track_columns();
[[nodiscard]] const Columns<StepSummary>&     step_columns();
[[nodiscard]] const Columns<OutlineVertex>&   outline_columns();
[[nodiscard]] const Columns<EdgeResult>&      edge_columns();
[[nodiscard]] const Columns<ComparedMoment>&  comparison_columns();
[[nodiscard]] const Columns<ComparedMeasure>& measure_columns();
[[nodiscard]] const Columns<ReadingPoint>&    reading_columns();

/// Those of specimens that are told in these units; of blades, without units, the ones above.
[[nodiscard]] Columns<TrackPoint>     track_columns(const std::optional<WearUnits>& units);
[[nodiscard]] Columns<StepSummary>    step_columns(const std::optional<WearUnits>& units);
[[nodiscard]] Columns<EdgeResult>     edge_columns(const std::optional<WearUnits>& units);
[[nodiscard]] Columns<ComparedMoment> comparison_columns(const std::optional<WearUnits>& units);
[[nodiscard]] Columns<ReadingPoint>   reading_columns(const std::optional<WearUnits>& units);
/// Of a scenario; nothing where it is of blades.
[[nodiscard]] std::optional<WearUnits> wear_units_of(const Scenario& scenario);

}  // namespace arris
