// SPDX-License-Identifier: MIT
#include "sim/output/simulation_hdf5.hpp"

#include "sim/output/answer_output.hpp"
#include "sim/output/columns.hpp"
#include "sim/output/hdf5_file.hpp"

namespace arris {
namespace {

template <class Row>
void write_rows(const Hdf5Group& group, const std::vector<Row>& rows, const Columns<Row>& columns,
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

}  // namespace

void write_hdf5(const std::filesystem::path& path, const Loaded& loaded, const SimulationResult& result,
                const std::optional<Comparison>& comparison, const Provenance& provenance) {
  Hdf5Writer       writer(path);
  const Hdf5Group& root = writer.root();
  write_root_attributes(root, "simulate", loaded.scenario.title, provenance);

  write_rows(root.group("edges"), result.edges, edge_columns(), "edge", "edges, from 0");
  {  // every group is closed before the file is
    const Hdf5Group edges = root.group("edge");
    for (const EdgeResult& edge : result.edges) {
      const Hdf5Group group = edges.group(edge.name);
      write_rows(group.group("track"), edge.track, track_columns(), "point", "points of the curve, from 0");
      write_rows(group.group("steps"), edge.steps, step_columns(), "row", "steps of the history, from 0");
    }
  }
  if (comparison)
    write_rows(root.group("comparison"), comparison->moments, comparison_columns(), "row",
               "groups of readings, from 0");
  if (comparison && !comparison->measures.empty())
    write_rows(root.group("measures"), comparison->measures, measure_columns(), "row",
               "groups of other measurements, from 0");
  writer.finish();
}

}  // namespace arris
