// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <filesystem>
#include <functional>
#include <set>
#include <system_error>

#include <fmt/format.h>

#include "sim/ask/arguments.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/cli/study_record.hpp"
#include "sim/input/files.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
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
constexpr const char* results[] = {
    "simulate.h5", "gauge.h5",      "fit.h5",    "fitted.toml", "forecast.h5",
    "compare.h5",  "soft-strop.h5", "upkeep.h5", "report.html", StudyRecord::file_name};

/// One command of a study.
struct Stage {
  const char* name;  ///< of the command
  const char* says;
  Exit (*command)(const Arguments&);
  std::string                        configuration;
  std::map<std::string, std::string> files;    ///< what it makes, by the option that names it; always "out"
  std::map<std::string, std::string> options;  ///< beside these
  std::map<std::string, std::vector<std::string>> lists{};
  std::vector<std::string>                        reads{};  ///< files of earlier stages that it reads
};

// One stage after the other, each told on standard error as it begins and ends. A stage is made under names of its own, which
// tell what it rests on, and gets its place when it is whole; so what stood there before stays until then, and a stage that was
// stopped half way is gone on with by the next run where its command can do that.
class Stages {
 public:
  Stages(const Arguments& arguments, fs::path folder, const Campaign& campaign)
      : arguments_(arguments),
        folder_(std::move(folder)),
        campaign_(campaign),
        record_(folder_),
        quiet_(arguments.has("quiet")) {}

  [[nodiscard]] std::string path(const std::string& file) const { return (folder_ / file).string(); }

  /// Runs a command as if it had been given by itself, or takes over what an earlier run made in the same way; what it answers
  /// becomes a section. Returns whether there is a result.
  bool run(const Stage& stage) {
    auto said = stage.options;
    for (const auto& [option, file] : stage.files) said[option] = path(file);
    Arguments a;
    a.command = stage.name;
    a.prints  = false;
    a.line    = fmt::format("arris {} {}", stage.name, shell_word(stage.configuration));
    for (const auto& [option, value] : said) a.line += fmt::format(" --{} {}", option, shell_word(value));
    a.lists          = stage.lists;
    a.values         = std::move(said);
    a.values["FILE"] = stage.configuration;
    if (const auto threads = arguments_.text("threads")) a.values["threads"] = *threads;
    if (quiet_) a.values["quiet"] = "yes";

    begin(stage.says);
    std::vector<fs::path> reads;
    for (const std::string& file : stage.reads) reads.push_back(folder_ / file);
    const StageBasis basis = basis_of(campaign_, a.line, reads);
    std::string      why;
    const auto*      earlier = record_.find(stage.name, basis, why);
    if (earlier != nullptr && !arguments_.has("anew")) {
      take(stage, earlier->exit, fmt::format("Taken over, made {}: ", earlier->made));
      return true;
    }
    if (!why.empty() && !quiet_) fmt::print(stderr, "{}", wrapped("made anew: " + why, 100, 6));

    std::string text;
    for (const auto& [part, value] : basis) text += part + " " + value + "\n";
    const std::string        making = fmt::format("making-{}-", sha1(text).substr(0, 12));
    std::vector<std::string> files;
    for (const auto& [option, file] : stage.files) {
      a.values[option] = path("." + making + file);
      files.push_back(file);
    }
    remove_unfinished(making);
    try {
      const Exit exit = stage.command(a);
      check_unchanged(campaign_);
      if (fs::exists(a.values["out"])) {
        for (const auto& [option, file] : stage.files) fs::rename(a.values[option], folder_ / file);
        record_.put(stage.name, basis, exit, files);
        take(stage, exit, "");
        return true;
      }
      leave_out(stage.says,
                exit == Exit::not_converged ? "the fit did not converge." : "it could not be worked out.");
      worst = std::max(worst, exit);
    } catch (const Error& error) {
      if (!does_not_apply(error)) throw Error(error.exit(), in_place(error.diagnostics(), making));
      leave_out(stage.says, sentence_of(error));
    }
    // a result of an earlier study that cannot be made now must not pass for one of this
    record_.drop(stage.name, files);
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

  /// Deletes what runs that were killed left half made, but what begins with `keep`; all of it where that is empty.
  void remove_unfinished(const std::string& keep) const {
    std::error_code error;
    for (const auto& entry : fs::directory_iterator(folder_, error)) {
      const std::string name  = entry.path().filename().string();
      const auto        first = name.find_first_not_of('.');
      if (first == 0 || first == std::string::npos || name.compare(first, 7, "making-") != 0) continue;
      if (!keep.empty() && name.compare(first, keep.size(), keep) == 0) continue;
      fs::remove(entry.path(), error);
    }
  }

  report::Page             page;
  Exit                     worst = Exit::done;
  std::vector<std::string> finished;  ///< files that stand

 private:
  static constexpr int all_stages = 9;

  void take(const Stage& stage, Exit exit, const std::string& how) {
    const StoredResult result = read_result(path(stage.files.at("out")));
    page.sections.push_back(arris::report::section_of(result));
    finished.push_back(stage.files.at("out"));
    worst = std::max(worst, exit);
    end(how + page.sections.back().answer);
  }

  // faults of a file as whoever asked for the study knows it
  [[nodiscard]] std::vector<Diagnostic> in_place(std::vector<Diagnostic> all,
                                                 const std::string&      making) const {
    for (Diagnostic& d : all) {
      const auto at = d.file.find("." + making);
      if (at != std::string::npos) d.file.erase(at, making.size() + 1);
    }
    return all;
  }

  const Arguments&                      arguments_;
  fs::path                              folder_;
  const Campaign&                       campaign_;
  StudyRecord                           record_;
  bool                                  quiet_;
  int                                   stage_ = 0;
  std::chrono::steady_clock::time_point started_;
};

void go_through(Stages& stages, const Arguments& arguments, const Campaign& campaign, const std::string& file,
                const std::string& draws) {
  stages.begin("checking the configuration");
  std::size_t steps = 0;
  for (const EdgePlan& plan : campaign.loaded.scenario.edges) steps += plan.steps.size();
  stages.page.title = campaign.loaded.scenario.title.empty() ? fs::path(file).filename().string()
                                                             : campaign.loaded.scenario.title;
  for (const Diagnostic& warning : campaign.loaded.warnings) {
    stages.page.notes.push_back("To look at: " + warning.what + ".");
    if (!arguments.has("quiet")) fmt::print(stderr, "note: {}", warning.text());
  }
  stages.end(fmt::format("It is right: {} edges, {} steps, {} readings.",
                         campaign.loaded.scenario.edges.size(), steps, campaign.readings.size()));

  using Options   = std::map<std::string, std::string>;
  const auto with = [&](Options options, std::initializer_list<const char*> passed_on) {
    for (const char* name : passed_on) {
      if (const auto value = arguments.text(name)) options[name] = *value;
    }
    return options;
  };
  stages.run({"simulate", "simulating every step", &simulate, file, {{"out", "simulate.h5"}}, {}});
  stages.run({"gauge", "judging the tester", &gauge, file, {{"out", "gauge.h5"}}, {}});
  const bool has_fit   = stages.run({"fit",
                                     "fitting the model to the readings",
                                     &fit,
                                     file,
                                     {{"out", "fit.h5"}, {"fitted", "fitted.toml"}},
                                     with({{"draws", draws}}, {"seed"})});
  const bool has_draws = has_fit && Hdf5Reader(stages.path("fit.h5")).has("/draws/value");
  if (has_fit && !has_draws)
    stages.page.notes.emplace_back(
        "The posterior draws did not converge: what follows rests on the priors, not on the fit.");
  // what rests on the fit rests on whether there is one with draws
  const std::vector<std::string> fits =
      has_draws ? std::vector<std::string>{"fit.h5"} : std::vector<std::string>{};
  const auto on_fit =
      with(has_draws ? Options{{"fit", stages.path("fit.h5")}} : Options{}, {"limit", "seed"});
  const auto one = [](const char* out) { return Options{{"out", out}}; };
  stages.run(
      {"forecast", "forecasting how long edges last", &forecast, file, one("forecast.h5"), on_fit, {}, fits});
  stages.run(
      {"compare", "comparing ways of sharpening", &compare, file, one("compare.h5"), on_fit, {}, fits});
  stages.run({"sweep",
              "mapping stiffness of the strop against laps",
              &sweep,
              has_fit ? stages.path("fitted.toml") : file,
              one("soft-strop.h5"),
              {{"question", "soft-strop"}},
              {},
              has_fit ? std::vector<std::string>{"fitted.toml"} : std::vector<std::string>{}});
  stages.run(
      {"upkeep", "looking for the routine of upkeep", &upkeep, file, one("upkeep.h5"), on_fit, {}, fits});

  stages.begin("writing the report");
  const std::string html = report::html_of(stages.page);
  write_text(stages.path("report.html"), html);
  stages.end(fmt::format("{} sections, {:.0f} kB.", stages.page.sections.size(),
                         static_cast<double>(html.size()) / 1000.0));
}

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
  const Campaign        campaign = load_within_limits(file);
  std::vector<FileLock> held;
  {
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
    for (const char* made : results) held.emplace_back(folder / made, arguments.line);
  }
  Stages stages(arguments, folder, campaign);
  try {
    go_through(stages, arguments, campaign, file, std::to_string(draws));
  } catch (const Stopped&) {
    std::string kept;
    for (const std::string& name : stages.finished) kept += (kept.empty() ? "" : ", ") + name;
    return stopped(fmt::format("{} in {}; the same command takes them over and goes on.",
                               kept.empty() ? "no stage is finished yet" : kept + " stand",
                               printable(folder.string())));
  }
  stages.remove_unfinished("");
  fmt::print("{}\n", printable(stages.path("report.html")));
  return stages.worst;
}

}  // namespace arris::cli
