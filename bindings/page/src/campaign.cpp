// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>

#include "page.hpp"
#include "sim/diagnostic.hpp"
#include "sim/input/readings_csv.hpp"

namespace arris::page {
namespace {

Include includes(const Json& files) {
  return [&files](const std::string&,
                  const std::string& name) -> std::optional<std::pair<std::string, std::string>> {
    // a page knows files by their last name only
    const std::string wanted = std::filesystem::path(name).filename().string();
    for (const Json& file : files) {
      if (file.at("name") == wanted) return std::pair(wanted, file.at("text").get<std::string>());
    }
    return std::nullopt;
  };
}

}  // namespace

Opened open_campaign(const Json& request) {
  Opened            out;
  const std::string name = request.value("name", "page.toml");
  out.text = request.contains("tree") ? toml_of(request.at("tree")) : request.at("text").get<std::string>();
  const Json files = request.value("files", Json::array());
  Campaign&  c     = out.campaign;
  c.loaded         = load_scenario(name, out.text, includes(files));
  if (c.loaded.scenario.model.specimen.in_use)
    throw Error(Exit::usage, {.code = "not-of-specimens",
                              .what = "the bench page is of blades, and the tools here are specimens",
                              .next = "arris simulate, fit, weigh and forecast are of specimens.",
                              .file = name});
  if (c.loaded.readings_files.empty()) return out;
  const Json readings = request.value("readings", Json());
  if (!readings.is_object()) {
    out.is_lacking_readings = true;
    return out;
  }
  c.readings_path           = readings.at("name").get<std::string>();
  c.readings_text           = readings.at("text").get<std::string>();
  c.readings_files          = {{c.readings_path, c.readings_text}};
  ImportedReadings imported = import_readings(c.readings_files, c.loaded.readings_form);
  c.readings_said           = std::move(imported.said);
  c.readings =
      parse_readings(c.readings_path,
                     without_check_edge(std::move(imported.table), c.loaded.readings_form, &c.readings_said),
                     c.loaded.scenario);
  return out;
}

Json read(const Json& request) {
  Json out;
  out["tree"]         = tree_of(request.value("name", "page.toml"), request.at("text").get<std::string>());
  const Opened opened = open_campaign(request);
  Json         edges  = Json::array();
  for (const EdgePlan& plan : opened.campaign.loaded.scenario.edges)
    edges.push_back({{"name", plan.name}, {"tool", plan.tool_name}, {"route", plan.route}});
  out["edges"]         = edges;
  const auto& readings = opened.campaign.loaded.readings_files;
  out["readings_file"] = readings.empty() ? "" : readings.front();
  return out;
}

Json write(const Json& request) {
  Json out;
  out["text"] = toml_of(request.at("tree"));
  return out;
}

}  // namespace arris::page
