// SPDX-License-Identifier: MIT
#include <chrono>
#include <filesystem>
#include <map>
#include <thread>

#include <fmt/chrono.h>
#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/delivery.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/notes.hpp"
#include "sim/cli/output_files.hpp"
#include "sim/input/dates.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/input/readings_log.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/stop.hpp"

namespace arris::cli {
namespace {

namespace fs = std::filesystem;

// the options of a reading, and the columns they go into
constexpr std::pair<const char*, const char*> log_values[] = {
    {"edge", "edge"},         {"code", "code"},        {"step", "step"}, {"passes", "passes"},
    {"operator", "operator"}, {"lot", "filament_lot"}, {"date", "date"}, {"test-day", "test_day"},
    {"note", "note"},         {"excluded", "excluded"}};

std::map<std::string, std::string> row_of(const Arguments& arguments) {
  std::map<std::string, std::string> row;
  for (const auto& [option, column] : log_values) {
    if (const auto text = arguments.text(option)) row[column] = *text;
  }
  if (!arguments.has("reading"))
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = "no reading is given",
                              .next = "Say --reading 176, and --unit N where it is in newtons."});
  (void)arguments.number("reading", 0.0, 1e-6, 1e7);
  if (arguments.has("passes")) (void)arguments.number("passes", 0.0, 0.0, 1e9);
  if (const auto date = arguments.text("date"); date && !is_iso_date(*date))
    throw Error(Exit::usage, {.code    = "bad-option",
                              .what    = fmt::format("--date {} is no date that there is", printable(*date)),
                              .allowed = "year, month and day, such as 2025-06-03"});
  if (arguments.has("replicate"))
    row["replicate"] = std::to_string(arguments.integer("replicate", 1, 1, 1'000'000));
  const std::string unit = arguments.text("unit").value_or("gf");
  if (unit != "gf" && unit != "N")
    throw Error(Exit::usage, {.code    = "bad-option",
                              .what    = fmt::format("--unit {} is no unit of readings", printable(unit)),
                              .allowed = "gf or N"});
  row["reading_" + unit] = *arguments.text("reading");
  return row;
}

std::string today() {
  return fmt::format("{:%Y-%m-%d}",
                     fmt::localtime(std::chrono::system_clock::to_time_t(std::chrono::system_clock::now())));
}

// several people may write down readings at once: each waits for a moment until the other is done
FileLock lock_log(const std::string& file, const std::string& who) {
  constexpr int tries = 200;
  for (int i = 0;; ++i) {
    try {
      return FileLock(file, who);
    } catch (const Error& error) {
      if (i == tries || error.diagnostics().front().code != "in-use") throw;
    }
    stop_if_wished();
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  }
}

// the log is read again as the programs of a campaign would read it
void check_log(const std::string& file, const std::string& text, const Loaded* loaded) {
  if (loaded == nullptr) return;
  const ReadingsForm& form = loaded->readings_form;
  (void)parse_readings(file, without_check_edge(import_readings({{file, text}}, form).table, form),
                       loaded->scenario);
}

std::string last_line(const std::string& text) {
  const std::size_t end   = text.find_last_not_of("\r\n") + 1;
  const std::size_t begin = text.rfind('\n', end - 1) + 1;
  return text.substr(begin, end - begin);
}

Exit add_to_log(const Arguments& arguments) {
  const std::vector<std::string> files = arguments.texts("FILE");
  if (files.size() != 1)
    throw Error(Exit::usage,
                {.code = "bad-option", .what = "a reading goes into one log", .next = "Name one file."});
  const std::string&                 file = files.front();
  std::map<std::string, std::string> row  = row_of(arguments);
  std::optional<Loaded>              loaded;
  if (const auto config = arguments.text("config"))
    loaded = load_scenario_file(*config, {}, reach_of(arguments));
  const FileLock  held = lock_log(file, arguments.line);
  std::error_code error;
  const bool      is_new =
      !fs::exists(file, error) || (fs::is_regular_file(file, error) && fs::file_size(file, error) == 0);
  const std::string before =
      is_new ? new_log(row.count("reading_N") > 0 ? "N" : "gf") : read_text(file, Exit::data);
  // the day is known without being said, where the log has a column for it
  const bool says_date = row.count("date") > 0;
  if (!says_date) row["date"] = today();
  std::string after;
  try {
    after = with_row(file, before, row);
  } catch (const Error& fault) {
    if (says_date || fault.diagnostics().front().code != "no-column") throw;
    row.erase("date");
    after = with_row(file, before, row);
  }
  check_log(file, after, loaded ? &*loaded : nullptr);
  write_text(file, after);
  if (!arguments.has("quiet")) fmt::print("{}\n", printable(last_line(after)));
  return Exit::done;
}

Exit check_tester(const Arguments& arguments) {
  const std::vector<std::string> files = arguments.texts("FILE");
  Campaign                       campaign;
  std::vector<std::string>       alone;
  if (files.size() == 1 && !ask::is_csv(files.front())) {
    Arguments one      = arguments;
    one.values["FILE"] = files.front();
    campaign           = load_within_limits(one);
    ask::require_readings(campaign, files.front());
  } else {
    alone = files;
    for (const std::string& file : files) campaign.readings_files.push_back({file, {}});
  }
  const auto held = hold_outputs(arguments, campaign, {"out", "csv", "json"});
  if (!alone.empty()) campaign.readings_files.clear();
  const auto [answer, seed] = ask::log_check(arguments, campaign, alone, ask::form_of(arguments, {}));
  if (!alone.empty()) tell_said(arguments, campaign.readings_said);
  deliver_answer(arguments, campaign, answer, seed);
  return Exit::done;
}

}  // namespace

Exit reading_log(const Arguments& arguments) {
  const std::string action = *arguments.text("ACTION");
  if (action == "add") return add_to_log(arguments);
  if (action == "check") return check_tester(arguments);
  throw Error(Exit::usage, {.code    = "bad-option",
                            .what    = fmt::format("a log knows no \"{}\"", printable(action)),
                            .allowed = "add or check"});
}

}  // namespace arris::cli
