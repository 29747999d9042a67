// SPDX-License-Identifier: MIT
#include "sim/studies/control/control.hpp"

#include <algorithm>
#include <filesystem>

#include "sim/ask/ask.hpp"
#include "sim/input/gauge_csv.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/text.hpp"

namespace arris::ask {

Answered log_check(const Arguments& arguments, Campaign& campaign, const std::vector<std::string>& files,
                   const ReadingsForm& form) {
  require_blades(campaign.loaded.scenario, "a check of the tester", "Specimens are not read on one.");
  if (!files.empty()) {
    const auto readings = readings_alone(campaign, files, form, false);
    return check_tester(arguments, readings, campaign.readings_path);
  }
  // no edge of the configuration has to have the name of the check edge
  const ReadingsForm& own = campaign.loaded.readings_form;
  if (own.check_edge.empty() || arguments.text("edge").value_or(own.check_edge) != own.check_edge)
    return check_tester(arguments, gauge_readings(campaign.loaded.scenario, campaign.readings),
                        campaign.readings_path);
  Arguments of_check       = arguments;
  of_check.values["edge"]  = own.check_edge;
  ImportedReadings written = import_readings(campaign.readings_files, own);
  return check_tester(of_check, parse_gauge_readings(campaign.readings_path, std::move(written.table)),
                      campaign.readings_path);
}

Answered check_tester(const Arguments& arguments, const std::vector<GaugeReading>& readings,
                      const std::string& source) {
  ControlSettings settings;
  settings.edge              = arguments.text("edge").value_or("");
  settings.moment            = arguments.text("moment").value_or("");
  settings.base              = static_cast<int>(arguments.integer("base", 0, 0, 1'000'000));
  settings.source            = printable(source);
  const ControlResult result = control(readings, settings);
  return {control_answer(result, settings), {}};
}

ImportedReadings imported(const std::vector<std::string>& files, const ReadingsForm& form,
                          const Loaded* loaded) {
  std::vector<ReadingsBytes> all;
  std::string                names;
  for (const std::string& file : files) {
    for (const ReadingsBytes& other : all) {
      std::error_code error;
      if (std::filesystem::equivalent(file, other.name, error) && !error)
        throw Error(Exit::usage, {.code = "given-twice", .what = "the file is named twice", .file = file});
    }
    all.push_back({file, read_text(file, Exit::data)});
    names += (names.empty() ? "" : ", ") + file;
  }
  ImportedReadings out = import_readings(all, form);
  const auto       has = [&](const std::vector<std::string>& columns) {
    return std::any_of(out.table.header.cells.begin(), out.table.header.cells.end(),
                             [&](const CsvCell& head) {
                         return std::find(columns.begin(), columns.end(), head.text) != columns.end();
                       });
  };
  if (loaded != nullptr)
    (void)parse_readings(names, without_check_edge(out.table, form), loaded->scenario);
  else if (has({"reading_gf", "reading_N"}))
    (void)parse_gauge_readings(names, out.table);
  else if (!has({"apex_radius_um", "recession_um", "mass_loss_mg", "wear_um", "wear_mm"}))
    throw Error(Exit::data, {.code    = "missing-column",
                             .what    = "there is no column of readings",
                             .allowed = "reading_gf or reading_N",
                             .file    = names});
  return out;
}

ReadingsForm form_of(const Arguments& arguments, ReadingsForm form) {
  ReadingsForm::fields(
      [&](const Field& field, std::string& value) {
        if (const auto given = arguments.text(std::string(field.key))) value = *given;
      },
      form);
  const auto pairs = [&](const char* option, auto& list) {
    for (const std::string& text : arguments.texts(option)) {
      const std::size_t at = text.rfind('=');
      if (at == std::string::npos || at == 0 || at + 1 == text.size())
        throw Error(Exit::usage, {.code = "bad-option",
                                  .what = fmt::format("{} {} names no column and what it is",
                                                      arguments.shown(option), printable(text)),
                                  .next = fmt::format("Write {} \"name in the file=what it is\".",
                                                      arguments.shown(option))});
      list.emplace_back(text.substr(0, at), text.substr(at + 1));
    }
  };
  pairs("column", form.columns);
  pairs("moment", form.moments);
  return form;
}

}  // namespace arris::ask
