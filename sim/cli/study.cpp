// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <filesystem>
#include <functional>
#include <initializer_list>
#include <map>
#include <optional>
#include <set>
#include <system_error>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/study_record.hpp"
#include "sim/input/files.hpp"
#include "sim/output/file_lock.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/report/page.hpp"
#include "sim/sha1.hpp"
#include "sim/simulate/slips_of_unit.hpp"
#include "sim/stop.hpp"
#include "sim/studies/forecast/forecast.hpp"

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
    "readings.h5", "simulate.h5",   "gauge.h5",  "fit.h5",      "fitted.toml",         "forecast.h5",
    "compare.h5",  "soft-strop.h5", "upkeep.h5", "report.html", StudyRecord::file_name};

/// One command of a study.
struct Stage {
  const char*                           name;  ///< of the command
  const char*                           says;
  std::function<Exit(const Arguments&)> command;
  std::string                           configuration;
  std::map<std::string, std::string>    files;  ///< what it makes, by the option that names it; always "out"
  std::map<std::string, std::string>    options;  ///< beside these
  std::map<std::string, std::vector<std::string>> lists{};
  std::vector<std::string>                        reads{};  ///< files of earlier stages that it reads
  /// What is asked instead where this has no answer.
  std::optional<std::map<std::string, std::string>> otherwise{};

  [[nodiscard]] std::vector<std::string> file_names() const {
    std::vector<std::string> out;
    for (const auto& [option, file] : files) out.push_back(file);
    return out;
  }
};

/// Tells on standard error how a study goes on, unless it is quiet.
class StudyProgress {
 public:
  using Clock = std::chrono::steady_clock;

  explicit StudyProgress(bool quiet) : quiet_(quiet) {}

  /// The next stage begins. Give what it returns to `end`.
  [[nodiscard]] Clock::time_point begin(const std::string& says) {
    ++stage_;
    if (!quiet_) tell(fmt::format("[{}/{}] {}\n", stage_, all_stages, says));
    return Clock::now();
  }
  void end(Clock::time_point begun, const std::string& answer) const {
    const double seconds = std::chrono::duration<double>(Clock::now() - begun).count();
    note(fmt::format("{} ({:.1f} s)", answer, seconds));
  }
  void note(const std::string& text) const {
    if (!quiet_) tell(wrapped(text, text_width(), 6));
  }
  [[nodiscard]] bool is_quiet() const { return quiet_; }

 private:
  static constexpr int all_stages = 10;  // the check, eight commands and the report

  bool quiet_;
  int  stage_ = 0;
};

// One stage after the other, each announced on standard error as it begins and ends. A stage is made under names of its own, which
// tell what it rests on, and gets its place when it is whole; so what stood there before stays until then, and a stage that was
// stopped half way is gone on with by the next run where its command can do that.
class Stages {
 public:
  /// Sections and notes of the stages go to `page`.
  Stages(const Arguments& arguments, fs::path folder, const Campaign& campaign, StudyProgress& progress,
         report::Page& page)
      : arguments_(arguments),
        folder_(std::move(folder)),
        campaign_(campaign),
        record_(folder_),
        progress_(progress),
        page_(page) {}

  [[nodiscard]] std::string path(const std::string& file) const { return (folder_ / file).string(); }

  /// Runs a command as if it had been given by itself, or takes over what an earlier run made in the same way; what it answers
  /// becomes a section. Returns whether there is a result.
  bool run(const Stage& stage) { return run(stage, progress_.begin(stage.says)); }

 private:
  bool run(const Stage& stage, StudyProgress::Clock::time_point begun) {
    const Arguments       command = command_of(stage);
    std::vector<fs::path> reads;
    for (const std::string& file : stage.reads) reads.push_back(folder_ / file);
    const StageBasis basis = basis_of(campaign_, command.line, reads);
    std::string      why;
    const auto*      earlier = record_.find(stage.name, basis, why);
    if (earlier != nullptr && !arguments_.has("anew")) {
      progress_.end(begun, fmt::format("Taken over, made {}: {}", earlier->made, take(stage, earlier->exit)));
      return true;
    }
    const auto note_why = [&] {
      if (!why.empty()) progress_.note("made anew: " + why);
    };
    // what stands may be the answer to what is asked instead: then it is known only afterwards that it is made anew
    if (!stage.otherwise) note_why();
    const auto exit = make(stage, command, basis);
    if (exit && stage.otherwise) note_why();
    if (!exit && !stage.otherwise) {
      // a result of an earlier study that cannot be made now must not pass for one of this
      record_.drop(stage.name, stage.file_names());
      return false;
    }
    if (!exit) {
      Stage instead   = stage;
      instead.options = *stage.otherwise;
      instead.otherwise.reset();
      return run(instead, begun);
    }
    progress_.end(begun, take(stage, *exit));
    return true;
  }

 public:
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

  /// The first edge of the way that reads lowest; nothing where no ways were compared.
  [[nodiscard]] std::optional<std::string> edge_of_lowest_way() const {
    if (!stands("compare.h5")) return std::nullopt;
    return report::edge_of_lowest_way(read_result(path("compare.h5")));
  }

  /// Of the ways that were compared and of the routine; nothing without them.
  [[nodiscard]] std::optional<report::Verdict> verdict() const {
    if (!stands("compare.h5")) return std::nullopt;
    std::optional<StoredResult> upkeep;
    if (stands("upkeep.h5")) upkeep = read_result(path("upkeep.h5"));
    return report::verdict_of(read_result(path("compare.h5")), upkeep ? &*upkeep : nullptr);
  }

  /// What was read comes before what was made of it.
  void put_last_section_first() {
    std::rotate(page_.sections.begin(), page_.sections.end() - 1, page_.sections.end());
  }

  /// The worst that a command ended with.
  [[nodiscard]] Exit worst() const { return worst_; }
  /// Names of the results that stand.
  [[nodiscard]] const std::vector<std::string>& finished() const { return finished_; }

 private:
  [[nodiscard]] bool stands(const char* file) const {
    return std::find(finished_.begin(), finished_.end(), file) != finished_.end();
  }

  // as if its files went to their places at once
  [[nodiscard]] Arguments command_of(const Stage& stage) const {
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
    if (progress_.is_quiet()) a.values["quiet"] = "yes";
    return a;
  }

  // runs the command and puts its files into their places; nothing, and a note, where there is no result
  std::optional<Exit> make(const Stage& stage, Arguments command, const StageBasis& basis) {
    std::string text;
    for (const auto& [part, value] : basis) text += part + " " + value + "\n";
    const std::string making = fmt::format("making-{}-", sha1(text).substr(0, 12));
    for (const auto& [option, file] : stage.files) command.values[option] = path("." + making + file);
    remove_unfinished(making);
    try {
      const Exit exit = stage.command(command);
      check_unchanged(campaign_);
      if (fs::exists(command.values["out"])) {
        for (const auto& [option, file] : stage.files) fs::rename(command.values[option], folder_ / file);
        record_.put(stage.name, basis, exit, stage.file_names());
        return exit;
      }
      leave_out(stage.says,
                exit == Exit::not_converged ? "the fit did not converge." : "it could not be worked out.");
      worst_ = std::max(worst_, exit);
    } catch (const Error& error) {
      if (!does_not_apply(error)) throw Error(error.exit(), in_place(error.diagnostics(), making));
      leave_out(stage.says, sentence_of(error));
    }
    return std::nullopt;
  }

  void leave_out(const std::string& says, const std::string& why) {
    page_.notes.push_back(fmt::format("Left out: {}: {}", says, why));
    progress_.note("left out: " + why);
  }

  // a result that stands becomes a section; its answer
  std::string take(const Stage& stage, Exit exit) {
    const std::string& file = stage.files.at("out");
    page_.sections.push_back(arris::report::section_of(read_result(path(file))));
    arris::report::say_misses_once(page_);
    finished_.push_back(file);
    worst_ = std::max(worst_, exit);
    return page_.sections.back().answer;
  }

  // faults of a file as whoever asked for the study knows it
  [[nodiscard]] static std::vector<Diagnostic> in_place(std::vector<Diagnostic> all,
                                                        const std::string&      making) {
    for (Diagnostic& d : all) {
      const auto at = d.file.find("." + making);
      if (at != std::string::npos) d.file.erase(at, making.size() + 1);
    }
    return all;
  }

  const Arguments&         arguments_;
  fs::path                 folder_;
  const Campaign&          campaign_;
  StudyRecord              record_;
  StudyProgress&           progress_;
  report::Page&            page_;
  Exit                     worst_ = Exit::done;
  std::vector<std::string> finished_;
};

using StageOptions = std::map<std::string, std::string>;

// those of the study that a stage takes as well, beside `options`
StageOptions passed_on(const Arguments& arguments, std::initializer_list<const char*> names,
                       StageOptions options = {}) {
  for (const char* name : names) {
    if (const auto value = arguments.text(name)) options[name] = *value;
  }
  return options;
}

// the title, and what there is to say of the configuration
report::Page begin_page(const Campaign& campaign, const std::string& file, StudyProgress& progress) {
  const auto      begun    = progress.begin("checking the configuration");
  const Scenario& scenario = campaign.loaded.scenario;
  report::Page    page;
  page.title = scenario.title.empty() ? fs::path(file).filename().string() : scenario.title;
  for (const Diagnostic& warning : campaign.loaded.warnings) {
    page.notes.push_back("To look at: " + warning.what + ".");
    if (!progress.is_quiet()) tell("note: " + warning.text());
  }
  std::size_t steps = 0;
  for (const EdgePlan& plan : scenario.edges) steps += plan.steps.size();
  progress.end(begun, fmt::format("It is right: {} edges, {} steps, {} readings.", scenario.edges.size(),
                                  steps, campaign.readings.size()));
  return page;
}

/// What the fit of a study leaves to the stages after it.
struct StudyFit {
  bool has_values = false;  ///< fitted.toml
  bool has_draws  = false;  ///< in fit.h5
};

StudyFit fit_readings(Stages& stages, const Arguments& arguments, const std::string& file,
                      const std::string& draws, report::Page& page) {
  StudyFit out;
  out.has_values = stages.run({"fit",
                               "fitting the model to the readings",
                               &fit,
                               file,
                               {{"out", "fit.h5"}, {"fitted", "fitted.toml"}},
                               passed_on(arguments, {"seed"}, {{"draws", draws}})});
  out.has_draws  = out.has_values && Hdf5Reader(stages.path("fit.h5")).has("/draws/value");
  if (out.has_values && !out.has_draws)
    page.notes.emplace_back(
        "The posterior draws did not converge: what follows rests on the priors, not on the fit.");
  return out;
}

// what rests on the fit, where there is one
void go_on_from(const StudyFit& fitted, Stages& stages, const Arguments& arguments, const std::string& file) {
  const auto read_if = [](bool there, const char* made) {
    return there ? std::vector<std::string>{made} : std::vector<std::string>{};
  };
  const auto         draws = read_if(fitted.has_draws, "fit.h5");
  const auto         one   = [](const char* out) { return StageOptions{{"out", out}}; };
  const StageOptions fit   = fitted.has_draws ? StageOptions{{"fit", stages.path("fit.h5")}} : StageOptions{};
  const StageOptions options = passed_on(arguments, {"limit", "seed"}, fit);
  if (stages.run({"readings",
                  "setting the readings side by side",
                  &readings,
                  file,
                  one("readings.h5"),
                  fit,
                  {},
                  draws}))
    stages.put_last_section_first();
  stages.run({"simulate", "simulating every step", &simulate, file, one("simulate.h5"), fit, {}, draws});
  std::optional<Forecast> lives;  // none where the forecast is taken over from an earlier study
  stages.run({"forecast",
              "forecasting how long edges last",
              [&](const Arguments& a) { return forecast(a, lives); },
              file,
              one("forecast.h5"),
              options,
              {},
              draws});
  stages.run({"compare",
              "comparing ways of sharpening",
              [&](const Arguments& a) { return compare(a, lives); },
              file,
              one("compare.h5"),
              options,
              {},
              draws});
  StageOptions with_question = fit;
  with_question["question"]  = "soft-strop";
  stages.run({"sweep",
              "mapping stiffness of the strop against laps",
              &sweep,
              file,
              one("soft-strop.h5"),
              with_question,
              {},
              draws});
  // of an edge that the verdict speaks of
  StageOptions                of_sharpest = options;
  std::optional<StageOptions> of_any;
  if (const auto edge = stages.edge_of_lowest_way()) {
    of_sharpest["edge"] = *edge;
    of_any              = options;
  }
  stages.run({"upkeep",
              "looking for the routine of upkeep",
              &upkeep,
              file,
              one("upkeep.h5"),
              of_sharpest,
              {},
              draws,
              of_any});
}

void write_page(const report::Page& page, const std::string& path, StudyProgress& progress) {
  const auto        begun = progress.begin("writing the report");
  const std::string html  = report::html_of(page);
  write_text(path, html);
  const std::string in_short = page.verdict ? "In short: " + page.verdict->sentence + " " : std::string();
  progress.end(begun, fmt::format("{}{} sections, {:.0f} kB.", in_short, page.sections.size(),
                                  static_cast<double>(html.size()) / 1000.0));
}

void make_folder(const fs::path& folder) {
  std::error_code failed;
  fs::create_directories(folder, failed);
  if (failed || !fs::is_directory(folder))
    throw Error(Exit::usage,
                {.code = "cannot-write",
                 .what = "the folder cannot be made" + (failed ? ": " + failed.message() : std::string{}),
                 .next = "Give --out a folder that can be written.",
                 .file = folder.string()});
}

// what a study leaves in its folder, held for it alone
std::vector<FileLock> hold_results(const Arguments& arguments, const Campaign& campaign,
                                   const fs::path& folder) {
  std::vector<std::string> inputs;
  for (const ReadingsBytes& file : campaign.readings_files) inputs.push_back(file.name);
  for (const auto& [name, text] : campaign.loaded.texts) inputs.push_back(name);
  for (const std::string& input : inputs) {
    for (const char* made : results) {
      std::error_code failed;
      if (fs::equivalent(input, folder / made, failed) && !failed)
        throw Error(Exit::usage, {.code = "would-overwrite",
                                  .what = "the study would overwrite a file that is read here",
                                  .next = "Give --out another folder.",
                                  .file = input});
    }
  }
  std::vector<FileLock> held;
  for (const char* made : results) held.emplace_back(folder / made, arguments.line);
  return held;
}

// a stage that cannot be run at what was fitted to readings in two units: they are the cause
Error with_slips(const Error& error, const Campaign& campaign) {
  const auto slips = slips_of_unit(campaign.loaded.scenario, campaign.readings);
  if (slips.empty() || error.diagnostics().empty()) return error;
  Diagnostic first = error.diagnostics().front();
  first.cause      = slips.front();
  first.next       = "Correct the readings; the same command then makes the study anew.";
  return Error(error.exit(), first);
}

}  // namespace

Exit study(const Arguments& arguments) {
  const std::string file   = *arguments.text("FILE");
  const fs::path    folder = arguments.text("out").value_or(fs::path(file).stem().string() + "-study");
  const auto        draws  = arguments.integer("draws", 1000, 1, 1'000'000);
  make_folder(folder);
  const Campaign campaign = load_within_limits(arguments);
  ask::require_reduced(campaign.loaded.scenario, "a study");
  ask::require_blades(campaign.loaded.scenario, "a study", "Most of its stages are of blades and a tester.");
  const std::vector<FileLock> held = hold_results(arguments, campaign, folder);
  StudyProgress               progress(arguments.has("quiet"));
  report::Page                page = begin_page(campaign, file, progress);
  Stages                      stages(arguments, folder, campaign, progress, page);
  try {
    stages.run({"gauge", "judging the tester", &gauge, file, {{"out", "gauge.h5"}}, {}});
    const StudyFit fitted = fit_readings(stages, arguments, file, std::to_string(draws), page);
    go_on_from(fitted, stages, arguments, file);
    page.verdict = stages.verdict();
    report::say_misses_once(page);
    write_page(page, stages.path("report.html"), progress);
  } catch (const Stopped&) {
    std::string kept;
    for (const std::string& name : stages.finished()) kept += (kept.empty() ? "" : ", ") + name;
    throw Stopped(fmt::format("{} in {}; the same command takes them over and goes on.",
                              kept.empty() ? "no stage is finished yet" : kept + " stand",
                              printable(folder.string())));
  } catch (const Error& error) {
    throw with_slips(error, campaign);
  }
  stages.remove_unfinished("");
  fmt::print("{}\n", printable(stages.path("report.html")));
  return stages.worst();
}

}  // namespace arris::cli
