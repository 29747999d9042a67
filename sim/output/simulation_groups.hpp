// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/output/columns.hpp"
#include "sim/stop.hpp"

/// What there is to keep of a simulation, once: groups with axes and the columns of columns.hpp along them
/// (simulation_hdf5.hpp lists them). HDF5 files and Python are both made from it.
namespace arris {

template <class Group, class Row>
void put_rows(const Group& group, const std::vector<Row>& rows, const Columns<Row>& columns,
              const std::string& axis, const std::string& long_name) {
  group.axis(axis, rows.size(), long_name);
  for (const auto& column : columns.text) {
    std::vector<std::string> values;
    for (const Row& row : rows) values.push_back(column.value(row));
    group.data(column.name, values, axis, column.long_name);
  }
  for (const auto& column : columns.numbers) {
    std::vector<double> values;
    for (const Row& row : rows) values.push_back(column.value(row));
    group.data(column.name, values, axis, column.units, column.long_name);
  }
}

/// `Group` has `group(name)`, `axis` and `data` as Hdf5Group has.
template <class Group>
void put_simulation(const Group& root, const SimulationResult& result,
                    const std::optional<Comparison>& comparison, const std::vector<Reading>& readings,
                    const std::optional<WearUnits>& units = {}) {
  put_rows(root.group("edges"), result.edges, edge_columns(units), "edge", "edges, from 0");
  const Group edges = root.group("edge");
  for (const EdgeResult& edge : result.edges) {
    stop_if_wished();
    const Group group = edges.group(edge.name);
    put_rows(group.group("track"), edge.track, track_columns(units), "point", "points of the curve, from 0");
    put_rows(group.group("steps"), edge.steps, step_columns(units), "row", "steps of the history, from 0");
    if (!edge.outline.empty())
      put_rows(group.group("outline"), edge.outline, outline_columns(), "vertex",
               "points of the outline, from the back over the tip to the bevel, from 0");
  }
  if (comparison)
    put_rows(root.group("comparison"), comparison->moments, comparison_columns(units), "row",
             "groups of readings, from 0");
  if (comparison && !comparison->measures.empty())
    put_rows(root.group("measures"), comparison->measures, measure_columns(), "row",
             "groups of other measurements, from 0");
  if (!readings.empty())
    put_rows(root.group("readings"), reading_points(result, readings), reading_columns(units), "row",
             "readings of the tester, from 0");
}

}  // namespace arris
