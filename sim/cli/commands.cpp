// SPDX-License-Identifier: MIT
#include "sim/cli/commands.hpp"

#include <filesystem>
#include <map>
#include <system_error>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/options.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/input/files.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/output/file_lock.hpp"
#include "sim/output/fit_reader.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/wording.hpp"

namespace arris::cli {

std::vector<FileLock> hold_output(const Arguments& arguments, const std::string& path) {
  std::vector<FileLock> held;
  std::error_code       error;
  if (path != "-" && !std::filesystem::is_other(path, error)) held.emplace_back(path, arguments.line);
  return held;
}

std::vector<FileLock> hold_outputs(const Arguments& arguments, const Campaign& campaign,
                                   const std::vector<std::string>& options) {
  namespace fs = std::filesystem;
  std::vector<std::string> inputs{campaign.readings_path};
  for (const auto& [name, text] : campaign.loaded.texts) inputs.push_back(name);
  if (const auto fit = arguments.text("fit")) inputs.push_back(*fit);
  std::map<fs::path, std::string> outputs;  // and the option that names each
  for (const std::string& option : options) {
    const auto path = arguments.text(option);
    if (!path) continue;
    for (const std::string& input : inputs) {
      std::error_code error;
      if (*path == "-" || !fs::equivalent(*path, input, error) || error) continue;
      throw Error(Exit::usage, {.code = "would-overwrite",
                                .what = fmt::format("--{} would overwrite a file that is read here", option),
                                .next = "Give the result another name.",
                                .file = *path});
    }
    const auto [other, is_new] = outputs.emplace(fs::path(*path).lexically_normal(), option);
    if (!is_new) {
      throw Error(Exit::usage,
                  {.code = "would-overwrite",
                   .what = fmt::format("--{} and --{} name the same file", other->second, option),
                   .file = *path});
    }
  }
  std::vector<FileLock> held;
  for (const auto& [path, option] : outputs) {
    for (FileLock& lock : hold_output(arguments, path.string())) held.push_back(std::move(lock));
  }
  return held;
}

Campaign load_within_limits(const std::string& file) { return load_within_limits(file, {}); }

Campaign load_within_limits(const std::string& file, const std::vector<NamedMaterial>& also) {
  Campaign campaign = load_campaign_file(file, also);
  // a study loads once for each stage, and its time is that of all of them
  static const bool first = [&] {
    limit_memory(campaign.loaded.computer.max_memory_MB);
    stop_after_hours(campaign.loaded.computer.max_time_h);
    return true;
  }();
  (void)first;
  return campaign;
}

ask::ReadFit fit_of(const Arguments& arguments) {
  const auto path = arguments.text("fit");
  if (!path) return {};
  return [file = *path](const Scenario& scenario, int members) {
    return read_ensemble(file, scenario, members);
  };
}

void deliver(const Arguments& arguments, const Campaign& campaign, const Answer& answer,
             const std::string& seed) {
  Provenance origin = provenance(campaign, arguments.line, seed);
  if (const auto fit = arguments.text("fit"))
    origin.inputs.emplace_back(*fit, sha1(read_text(*fit, Exit::data)));
  const std::string& title = campaign.loaded.scenario.title;
  if (const auto path = arguments.text("out")) write_answer_hdf5(*path, answer, title, origin);
  print_answer(arguments, title, origin, answer);
}

void print_answer(const Arguments& arguments, const std::string& title, const Provenance& origin,
                  const Answer& answer) {
  if (const auto path = arguments.text("csv")) write_text(*path, answer_csv(answer));
  if (const auto path = arguments.text("json")) write_text(*path, answer_json(answer, title, origin));
  const bool piped = arguments.text("csv").value_or("") == "-" || arguments.text("json").value_or("") == "-";
  if (arguments.has("quiet") || !arguments.prints || piped) return;
  if (!title.empty()) fmt::print("{}\n\n", printable(title));
  fmt::print("{}", answer_text(answer));
}

Exit check(const Arguments& arguments) {
  const Campaign campaign = load_within_limits(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  if (!arguments.has("quiet")) fmt::print("{}\n", resolved_toml(loaded, true));
  for (const Diagnostic& warning : loaded.warnings) fmt::print(stderr, "note: {}", warning.text());
  std::size_t steps = 0;
  for (const EdgePlan& plan : loaded.scenario.edges) steps += plan.steps.size();
  const auto count = [](std::size_t n, const char* what) { return counted(static_cast<long long>(n), what); };
  std::string verdict = fmt::format("{} is right: {} with {}", printable(*arguments.text("FILE")),
                                    count(loaded.scenario.edges.size(), "edge"), count(steps, "step"));
  if (!campaign.readings_path.empty())
    verdict += fmt::format(", {} in {}", count(campaign.readings.size(), "reading"),
                           printable(campaign.readings_path));
  if (!loaded.warnings.empty())
    verdict += fmt::format("; {} to look at, above", count(loaded.warnings.size(), "note"));
  // as a remark, so that the output stays a configuration
  fmt::print("{}{}.\n", arguments.has("quiet") ? "" : "# ", verdict);
  return Exit::done;
}

Exit write_documents(const Arguments& arguments) {
  const std::filesystem::path folder = *arguments.text("FOLDER");
  write_text((folder / "arris.1").string(), man_page());
  write_text((folder / "arris.bash").string(), bash_completion());
  write_text((folder / "_arris").string(), zsh_completion());
  write_text((folder / "arris.fish").string(), fish_completion());
  return Exit::done;
}

}  // namespace arris::cli
