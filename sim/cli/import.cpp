// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/notes.hpp"
#include "sim/cli/output_files.hpp"
#include "sim/output/readings_workbook.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/wording.hpp"

namespace arris::cli {
namespace {

bool is_xlsx(const std::string& path) {
  std::string ending = std::filesystem::path(path).extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(),
                 [](unsigned char c) { return std::tolower(c); });
  return ending == ".xlsx";
}

}  // namespace

Exit import_files(const Arguments& arguments) {
  Campaign              campaign;
  std::optional<Loaded> loaded;
  if (const auto file = arguments.text("config")) loaded = load_scenario_file(*file, {}, reach_of(arguments));
  const ReadingsForm form = ask::form_of(arguments, loaded ? loaded->readings_form : ReadingsForm{});
  for (const std::string& file : arguments.texts("FILE")) campaign.readings_files.push_back({file, {}});
  const auto             held     = hold_outputs(arguments, campaign, {"out"});
  const ImportedReadings imported = ask::imported(arguments.texts("FILE"), form, loaded ? &*loaded : nullptr);
  tell_said(arguments, imported.said);
  const std::string out = arguments.text("out").value_or("-");
  if (is_xlsx(out))
    write_readings_workbook(out, imported.table, imported.said);
  else
    write_text(out, csv_text(imported.table));
  if (out != "-" && !arguments.has("quiet"))
    fmt::print("{} of {} in {}\n", counted(static_cast<long long>(imported.table.rows.size()), "row"),
               counted(static_cast<long long>(campaign.readings_files.size()), "file"), printable(out));
  return Exit::done;
}

}  // namespace arris::cli
