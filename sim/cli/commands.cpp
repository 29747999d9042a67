// SPDX-License-Identifier: MIT
#include "sim/cli/commands.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <map>
#include <system_error>

#include <fmt/format.h>

#include "sim/input/files.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/output/fit_reader.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

std::vector<std::string> names_in(const std::string& list) {
  std::vector<std::string> names;
  std::size_t              at = 0;
  while (at <= list.size()) {
    const std::size_t end  = std::min(list.find(',', at), list.size());
    std::string       name = list.substr(at, end - at);
    name.erase(0, name.find_first_not_of(' '));
    name.erase(name.find_last_not_of(' ') + 1);
    if (!name.empty()) names.push_back(std::move(name));
    at = end + 1;
  }
  return names;
}

void check_outputs(const Arguments& arguments, const Campaign& campaign,
                   const std::vector<std::string>& options) {
  namespace fs = std::filesystem;
  std::vector<std::string> inputs{campaign.readings_path};
  for (const auto& [name, text] : campaign.loaded.texts) inputs.push_back(name);
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
}

std::vector<std::size_t> edges_of(const Arguments& arguments, const Scenario& scenario) {
  std::vector<std::size_t> chosen;
  if (!arguments.has("edge")) {
    for (std::size_t i = 0; i < scenario.edges.size(); ++i) chosen.push_back(i);
    return chosen;
  }
  std::vector<std::string> known;
  for (const EdgePlan& plan : scenario.edges) known.push_back(plan.name);
  for (const std::string& name : names_in(*arguments.text("edge"))) {
    const auto found = std::find(known.begin(), known.end(), name);
    if (found == known.end()) {
      const std::string close = nearest(name, known);
      throw Error(Exit::usage, {.code    = "unknown-edge",
                                .what    = fmt::format("there is no edge \"{}\"", printable(name)),
                                .allowed = listed(known),
                                .next    = close.empty() ? "" : fmt::format("Did you mean \"{}\"?", close)});
    }
    chosen.push_back(static_cast<std::size_t>(found - known.begin()));
  }
  return chosen;
}

Ensemble ensemble_of(const Arguments& arguments, const Loaded& loaded) {
  const auto members = static_cast<int>(arguments.integer("members", 1000, 1, 1'000'000));
  if (const auto path = arguments.text("fit")) return read_ensemble(*path, loaded.scenario, members);
  if (members == 1) return single_member(loaded.scenario);
  const auto seed = static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 2'000'000'000));
  return prior_ensemble(loaded.scenario, loaded.fit.priors, members, seed);
}

std::pair<std::string, double> limit_of(const Arguments& arguments, const Loaded& loaded) {
  const auto newton = [](double gf) { return gf * 1e-3 * laws::standard_gravity; };
  const auto given  = arguments.text("limit");
  if (!given) {
    if (!std::isnan(loaded.scenario.output.reading_limit_gf))
      return {"reading_limit_gf of the configuration", newton(loaded.scenario.output.reading_limit_gf)};
    const Limit* bench = loaded.workshop.limit_named("bench work");
    return {bench->name, newton(bench->reading_gf)};
  }
  if (const Limit* limit = loaded.workshop.limit_named(*given))
    return {limit->name, newton(limit->reading_gf)};
  double value            = 0.0;
  const auto [end, error] = std::from_chars(given->data(), given->data() + given->size(), value);
  if (error == std::errc{} && end == given->data() + given->size() && value >= 1.0 && value <= 1e5)
    return {"as asked", newton(value)};
  std::vector<std::string> known;
  for (const Limit& limit : loaded.workshop.limits) known.push_back(limit.name);
  const std::string close = nearest(*given, known);
  throw Error(Exit::usage,
              {.code    = "unknown-limit",
               .what    = fmt::format("--limit {} is neither a task nor a reading", printable(*given)),
               .allowed = listed(known) + ", or 1 … 100000 gram-force",
               .next    = close.empty() ? "[limit.\"my task\"] with reading_gf adds one."
                                        : fmt::format("Did you mean \"{}\"?", close)});
}

std::vector<Option> answer_options() {
  return {{"out", 'o', "FILE", "write the answer as HDF5", Completes::files},
          {"csv", 0, "FILE", "write its first table as CSV; - is standard output", Completes::files},
          {"json", 0, "FILE", "write all of it as JSON; - is standard output", Completes::files},
          {"threads", 't', "N", "threads to use; 0 is all cores (0)"},
          {"quiet", 'q', "", "print nothing but errors"}};
}

void deliver(const Arguments& arguments, const Campaign& campaign, const Answer& answer,
             const std::string& seed) {
  const Provenance   origin = provenance(campaign, arguments.line, seed);
  const std::string& title  = campaign.loaded.scenario.title;
  if (const auto path = arguments.text("out")) write_answer_hdf5(*path, answer, title, origin);
  tell(arguments, title, origin, answer);
}

void tell(const Arguments& arguments, const std::string& title, const Provenance& origin,
          const Answer& answer) {
  if (const auto path = arguments.text("csv")) write_text(*path, answer_csv(answer));
  if (const auto path = arguments.text("json")) write_text(*path, answer_json(answer, title, origin));
  const bool piped = arguments.text("csv").value_or("") == "-" || arguments.text("json").value_or("") == "-";
  if (arguments.has("quiet") || piped) return;
  if (!title.empty()) fmt::print("{}\n\n", printable(title));
  fmt::print("{}", answer_text(answer));
}

Exit check(const Arguments& arguments) {
  const Campaign campaign = load_campaign_file(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  if (!arguments.has("quiet")) fmt::print("{}\n", resolved_toml(loaded, true));
  for (const Diagnostic& warning : loaded.warnings) fmt::print(stderr, "note: {}", warning.text());
  std::size_t steps = 0;
  for (const EdgePlan& plan : loaded.scenario.edges) steps += plan.steps.size();
  const auto count = [](std::size_t n, const char* what) {
    return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
  };
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
