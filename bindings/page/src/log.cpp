// SPDX-License-Identifier: MIT
#include <optional>
#include <set>

#include <fmt/format.h>

#include "page.hpp"
#include "sim/input/readings_columns.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/input/readings_import.hpp"
#include "sim/report/plan_sheets.hpp"

/// What the log of readings asks of the model: which moments of an edge there are to read, files that become rows, rows that become a
/// file, and sheets to print.
namespace arris::page {
namespace {

/// The moments of an edge in their order: each of its `read` steps, the ends of its cuts that no such step follows, and, where nothing
/// is read before the first cut, the edge as it goes to work.
Json moments_of(const EdgePlan& plan) {
  Json       out    = Json::array();
  double     passes = 0.0;
  const auto read   = [&](std::size_t i) {
    return i < plan.steps.size() ? std::get_if<ReadStep>(&plan.steps[i]) : nullptr;
  };
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const auto* cut = std::get_if<CutStep>(&plan.steps[i]);
    if (const ReadStep* moment = read(i)) {
      out.push_back({{"step", moment->read},
                     {"passes", passes},
                     {"replicates", moment->replicates},
                     {"after", static_cast<int>(i) - 1}});
    }
    if (cut == nullptr) continue;
    if (passes == 0.0 && (i == 0 || read(i - 1) == nullptr))
      out.push_back({{"step", ""}, {"passes", 0.0}, {"replicates", 1}, {"after", static_cast<int>(i) - 1}});
    passes += cut->passes;
    if (read(i + 1) == nullptr)
      out.push_back({{"step", ""}, {"passes", passes}, {"replicates", 1}, {"after", static_cast<int>(i)}});
  }
  return out;
}

}  // namespace

Json moments(const Json& request) {
  Json asked = request;
  asked.erase("readings");
  const Opened opened = open_campaign(asked);
  Json         out    = Json::array();
  for (const EdgePlan& plan : opened.campaign.loaded.scenario.edges) {
    Json steps = Json::array();
    for (const Step& step : plan.steps) {
      Json item    = std::visit([](const auto& s) { return fields_json(s); }, step);
      item["verb"] = verb_of(step);
      steps.push_back(std::move(item));
    }
    out.push_back({{"edge", plan.name},
                   {"code", plan.code},
                   {"tool", plan.tool_name},
                   {"moments", moments_of(plan)},
                   {"steps", std::move(steps)}});
  }
  return out;
}

namespace {

std::vector<ReadingsBytes> sources_of(const Json& request) {
  std::vector<ReadingsBytes> files;
  for (const Json& file : request.at("sources"))
    files.push_back({file.at("name").get<std::string>(), file.at("text").get<std::string>()});
  return files;
}

// what a request says of the form, over what is in it already
void take_form(const Json& request, ReadingsForm& form) {
  const Json said = request.value("form", Json::object());
  ReadingsForm::fields(
      [&](const Field& field, std::string& value) { value = said.value(std::string(field.key), value); },
      form);
  const auto pairs = [&](const char* key, auto& list) {
    const Json named = said.value(key, Json::object());
    for (const auto& [name, is] : named.items()) list.emplace_back(name, is.template get<std::string>());
  };
  pairs("columns", form.columns);
  pairs("moments", form.moments);
}

}  // namespace

Json heads(const Json& request) {
  ReadingsForm form;
  take_form(request, form);
  return heads_of(sources_of(request), form);
}

Json import_files(const Json& request) {
  const std::vector<ReadingsBytes> files = sources_of(request);
  // a configuration says how its files are written; what is said beside it counts more
  std::optional<Opened> opened;
  ReadingsForm          form;
  if (request.contains("tree")) {
    Json asked = request;
    asked.erase("readings");
    opened = open_campaign(asked);
    form   = opened->campaign.loaded.readings_form;
  }
  take_form(request, form);
  const ImportedReadings read = import_readings(files, form);
  Json                   rows = Json::array();
  for (const CsvRow& row : read.table.rows) {
    Json item = Json::object();
    for (std::size_t i = 0; i < row.cells.size() && i < read.table.header.cells.size(); ++i) {
      if (!row.cells[i].text.empty()) item[read.table.header.cells[i].text] = row.cells[i].text;
    }
    rows.push_back(std::move(item));
  }
  // rows of edges that the configuration does not have are no fault of a log, which is asked without one
  if (opened)
    (void)parse_readings(files.front().name, without_check_edge(read.table, form),
                         opened->campaign.loaded.scenario);
  return {{"rows", rows}, {"said", read.said}};
}

Json export_rows(const Json& request) {
  std::set<std::string> used;
  for (const Json& row : request.at("rows")) {
    for (const auto& [name, value] : row.items()) used.insert(name);
  }
  // a log has these from its first day on
  for (const char* always : {"edge", "step", "passes", "reading_gf", "replicate", "operator", "date", "note"})
    used.insert(always);
  std::vector<std::string> heads;
  Json                     columns = Json::array();
  for (const ReadingsColumn& column : readings_column_list()) {
    if (used.erase(std::string(column.name)) == 0) continue;
    heads.emplace_back(column.name);
    columns.push_back({{"name", column.name},
                       {"unit", unit_in_words(column)},
                       {"says", column.says},
                       {"is_number", column.is_number}});
  }
  if (!used.empty()) {
    throw Error(Exit::data, {.code = "unknown-column",
                             .what = fmt::format("a readings file has no column \"{}\"", *used.begin())});
  }
  std::string text = csv_row(heads);
  for (const Json& row : request.at("rows")) {
    std::vector<std::string> cells;
    for (const std::string& head : heads) cells.push_back(row.value(head, std::string()));
    text += csv_row(cells);
  }
  return {{"text", text}, {"columns", columns}};
}

Json sheets(const Json& request) {
  if (request.contains("codes"))
    return {{"html",
             report::printable_html(
                 report::label_sheets_of(request.at("codes").get<std::vector<std::string>>()), "Labels")}};
  Json asked = request;
  asked.erase("readings");
  const Opened      opened = open_campaign(asked);
  const std::string name   = request.at("edge").get<std::string>();
  for (const EdgePlan& plan : opened.campaign.loaded.scenario.edges) {
    if (plan.name == name) return {{"html", report::printable_html(report::wall_sheets_of(plan), name)}};
  }
  throw Error(Exit::usage, {.code = "unknown-edge", .what = "there is no edge \"" + name + "\""});
}

}  // namespace arris::page
