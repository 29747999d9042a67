// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <filesystem>
#include <functional>
#include <set>
#include <system_error>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/report/page.hpp"

namespace arris::cli {
namespace {

namespace fs = std::filesystem;

// faults that only say that a question has no place in this campaign
bool does_not_apply(const Error& error) {
  static const std::set<std::string> codes = {"no-readings",
                                              "one-part",
                                              "missing-operator",
                                              "one-operator",
                                              "one-replicate",
                                              "no-scatter",
                                              "no-cut",
                                              "no-honing",
                                              "no-ways",
                                              "question-does-not-apply",
                                              "no-draws",
                                              "limit-never-reached",
                                              "limit-out-of-reach",
                                              "no-strop"};
  const auto&                        all   = error.diagnostics();
  return std::all_of(all.begin(), all.end(), [](const Diagnostic& d) { return codes.count(d.code) > 0; });
}

std::string sentence_of(const Error& error) {
  const Diagnostic& d = error.diagnostics().front();
  return d.what + "." + (d.cause.empty() ? "" : " " + d.cause) + (d.next.empty() ? "" : " " + d.next);
}

// what a study leaves in its folder
constexpr const char* results[] = {"simulate.h5", "gauge.h5",      "fit.h5",    "fitted.toml", "forecast.h5",
                                   "compare.h5",  "soft-strop.h5", "upkeep.h5", "report.html"};

// One stage after the other, each told on standard error as it begins and ends.
class Stages {
 public:
  Stages(const Arguments& arguments, fs::path folder)
      : arguments_(arguments), folder_(std::move(folder)), quiet_(arguments.has("quiet")) {}

  [[nodiscard]] std::string path(const char* file) const { return (folder_ / file).string(); }

  /// Runs a command as if it had been given by itself, its result in `file`; what it answers becomes a section. Returns whether
  /// there is a result.
  bool run(const char* name, const char* says, Exit (*command)(const Arguments&),
           const std::string& configuration, const char* file, std::map<std::string, std::string> options,
           std::map<std::string, std::vector<std::string>> lists = {}) {
    Arguments a;
    a.command      = name;
    a.tells        = false;
    a.line         = fmt::format("arris {} {}", name, shell_word(configuration));
    a.values       = {{"FILE", configuration}};
    options["out"] = path(file);
    for (const auto& [option, value] : options) a.line += fmt::format(" --{} {}", option, shell_word(value));
    a.values.insert(options.begin(), options.end());
    a.lists = std::move(lists);
    if (const auto threads = arguments_.text("threads")) a.values["threads"] = *threads;
    if (quiet_) a.values["quiet"] = "yes";

    begin(says);
    try {
      const Exit exit = command(a);
      if (exit == Exit::done || fs::exists(path(file))) {
        const StoredResult result = read_result(path(file));
        if (page.title.empty()) page.title = result.title;
        page.sections.push_back(arris::report::section_of(result));
        end(page.sections.back().answer);
        worst = std::max(worst, exit);
        return true;
      }
      leave_out(says,
                exit == Exit::not_converged ? "the fit did not converge." : "it could not be worked out.");
      worst = std::max(worst, exit);
    } catch (const Error& error) {
      if (!does_not_apply(error)) throw;
      leave_out(says, sentence_of(error));
    }
    return false;
  }

  void begin(const std::string& says) {
    ++stage_;
    started_ = std::chrono::steady_clock::now();
    if (!quiet_) fmt::print(stderr, "[{}/{}] {}\n", stage_, all_stages, says);
  }

  void end(const std::string& answer) const {
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - started_).count();
    if (!quiet_) fmt::print(stderr, "{}", wrapped(fmt::format("{} ({:.1f} s)", answer, seconds), 100, 6));
  }

  void leave_out(const std::string& says, const std::string& why) {
    page.notes.push_back(fmt::format("Left out: {}: {}", says, why));
    if (!quiet_) fmt::print(stderr, "{}", wrapped("left out: " + why, 100, 6));
  }

  report::Page page;
  Exit         worst = Exit::done;

 private:
  static constexpr int all_stages = 9;

  const Arguments&                      arguments_;
  fs::path                              folder_;
  bool                                  quiet_;
  int                                   stage_ = 0;
  std::chrono::steady_clock::time_point started_;
};

}  // namespace

Exit study(const Arguments& arguments) {
  const std::string file   = *arguments.text("FILE");
  const fs::path    folder = arguments.text("out").value_or(fs::path(file).stem().string() + "-study");
  const auto        draws  = arguments.integer("draws", 1000, 1, 1'000'000);
  std::error_code   failed;
  fs::create_directories(folder, failed);
  if (failed || !fs::is_directory(folder))
    throw Error(Exit::usage,
                {.code = "cannot-write",
                 .what = "the folder cannot be made" + (failed ? ": " + failed.message() : std::string{}),
                 .next = "Give --out a folder that can be written.",
                 .file = folder.string()});
  Stages stages(arguments, folder);

  stages.begin("checking the configuration");
  {
    const Campaign campaign = load_campaign_file(file);
    std::size_t    steps    = 0;
    for (const EdgePlan& plan : campaign.loaded.scenario.edges) steps += plan.steps.size();
    std::vector<std::string> inputs{campaign.readings_path};
    for (const auto& [name, text] : campaign.loaded.texts) inputs.push_back(name);
    for (const std::string& input : inputs) {
      for (const char* made : results) {
        if (fs::equivalent(input, folder / made, failed) && !failed)
          throw Error(Exit::usage, {.code = "would-overwrite",
                                    .what = "the study would overwrite a file that is read here",
                                    .next = "Give --out another folder.",
                                    .file = input});
      }
    }
    stages.page.title = campaign.loaded.scenario.title.empty() ? fs::path(file).filename().string()
                                                               : campaign.loaded.scenario.title;
    for (const Diagnostic& warning : campaign.loaded.warnings) {
      stages.page.notes.push_back("To look at: " + warning.what + ".");
      if (!arguments.has("quiet")) fmt::print(stderr, "note: {}", warning.text());
    }
    stages.end(fmt::format("It is right: {} edges, {} steps, {} readings.",
                           campaign.loaded.scenario.edges.size(), steps, campaign.readings.size()));
  }

  using Options   = std::map<std::string, std::string>;
  const auto with = [&](Options options, std::initializer_list<const char*> passed_on) {
    for (const char* name : passed_on) {
      if (const auto value = arguments.text(name)) options[name] = *value;
    }
    return options;
  };
  // a result of an earlier study that cannot be made now must not pass for one of this
  for (const char* made : results) fs::remove(folder / made, failed);

  stages.run("simulate", "simulating every step", &simulate, file, "simulate.h5", {});
  stages.run("gauge", "judging the tester", &gauge, file, "gauge.h5", {});
  const std::string fitted    = stages.path("fitted.toml");
  const bool        has_fit   = stages.run("fit", "fitting the model to the readings", &fit, file, "fit.h5",
                                           with({{"draws", std::to_string(draws)}, {"fitted", fitted}}, {"seed"}));
  const bool        has_draws = has_fit && Hdf5Reader(stages.path("fit.h5")).has("/draws/value");
  if (has_fit && !has_draws)
    stages.page.notes.emplace_back(
        "The posterior draws did not converge: what follows rests on the priors, not on the fit.");
  const Options fit_option = has_draws ? Options{{"fit", stages.path("fit.h5")}} : Options{};
  stages.run("forecast", "forecasting how long edges last", &forecast, file, "forecast.h5",
             with(fit_option, {"limit", "seed"}));
  stages.run("compare", "comparing ways of sharpening", &compare, file, "compare.h5",
             with(fit_option, {"limit", "seed"}));
  stages.run("sweep", "mapping stiffness of the strop against laps", &sweep, has_fit ? fitted : file,
             "soft-strop.h5", {{"question", "soft-strop"}});
  stages.run("upkeep", "looking for the routine of upkeep", &upkeep, file, "upkeep.h5",
             with(fit_option, {"limit", "seed"}));

  stages.begin("writing the report");
  const std::string path = stages.path("report.html"), html = report::html_of(stages.page);
  write_text(path, html);
  stages.end(fmt::format("{} sections, {:.0f} kB.", stages.page.sections.size(),
                         static_cast<double>(html.size()) / 1000.0));
  fmt::print("{}\n", printable(path));
  return stages.worst;
}

}  // namespace arris::cli
