// SPDX-License-Identifier: MIT
#include "sim/output/simulation_files.hpp"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/input/csv.hpp"
#include "sim/input/loader.hpp"
#include "sim/output/columns.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

using Json = nlohmann::ordered_json;

template <class Row>
Json rows_json(const std::vector<Row>& rows, const Columns<Row>& columns) {
  Json out = Json::array();
  for (const Row& row : rows) {
    Json item = Json::object();
    for (const auto& column : columns.text) item[column.name] = column.value(row);
    for (const auto& column : columns.numbers)
      item[column.name] = column.value(row);  // NaN is written as null
    out.push_back(std::move(item));
  }
  return out;
}

}  // namespace

std::string simulation_csv(const Loaded& loaded, const SimulationResult& result) {
  const auto               columns = track_columns(wear_units_of(loaded.scenario));
  std::vector<std::string> header{"edge", "tool", "verb", "subject"};
  for (const auto& column : columns.numbers) header.emplace_back(column.name);
  std::string out = csv_row(header);
  for (std::size_t e = 0; e < result.edges.size(); ++e) {
    const EdgeResult& edge = result.edges[e];
    for (const TrackPoint& point : edge.track) {
      const Step&              step = loaded.scenario.edges[e].steps[static_cast<std::size_t>(point.step)];
      std::vector<std::string> cells{edge.name, edge.tool, verb_of(step), subject_of(step)};
      for (const auto& column : columns.numbers) {
        const double value = column.value(point);
        cells.push_back(std::isnan(value) ? std::string{} : fmt::format("{}", value));
      }
      out += csv_row(cells);
    }
  }
  return out;
}

std::string simulation_json(const Loaded& loaded, const SimulationResult& result,
                            const std::optional<Comparison>& comparison, const Provenance& provenance) {
  Json root;
  root["kind"]           = "simulate";
  root["schema_version"] = schema_version;
  root["title"]          = loaded.scenario.title;
  if (loaded.scenario.numerics.follows_outline()) root["fidelity"] = outline_sentence(result);
  const auto units = wear_units_of(loaded.scenario);
  root["edges"]    = rows_json(result.edges, edge_columns(units));
  for (std::size_t e = 0; e < result.edges.size(); ++e) {
    root["edges"][e]["steps"] = rows_json(result.edges[e].steps, step_columns(units));
    root["edges"][e]["track"] = rows_json(result.edges[e].track, track_columns(units));
    if (!result.edges[e].outline.empty())
      root["edges"][e]["outline"] = rows_json(result.edges[e].outline, outline_columns());
  }
  if (comparison) {
    root["comparison"]            = {{"readings", comparison->readings},
                                     {"excluded", comparison->excluded},
                                     {"mean_ratio", comparison->mean_ratio},
                                     {"typical_error", comparison->typical_error},
                                     {"beyond_2sd", comparison->beyond_2sd}};
    root["comparison"]["moments"] = rows_json(comparison->moments, comparison_columns(units));
    if (!comparison->measures.empty())
      root["comparison"]["measures"] = rows_json(comparison->measures, measure_columns());
  }
  for (const auto& [name, text] : entries_of(provenance)) root["provenance"][name] = text;
  // the names of files on the command line may be in any encoding
  return root.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace arris
