// SPDX-License-Identifier: MIT
#include "sim/fit/fit.hpp"

#include <filesystem>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/earlier_fit.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/output_files.hpp"
#include "sim/fit/sensitivities.hpp"
#include "sim/fit/ways.hpp"
#include "sim/output/fit_files.hpp"
#include "sim/output/fit_tables.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

Exit fit(const Arguments& arguments) {
  const bool quiet    = arguments.has("quiet");
  Campaign   campaign = load_within_limits(arguments);
  Loaded&    loaded   = campaign.loaded;
  ask::require_readings(campaign, *arguments.text("FILE"));
  take_earlier(arguments, campaign);
  const auto held =
      hold_outputs(arguments, campaign, {"out", "fitted", "residuals", "json", "sensitivities"});
  const auto           found  = ask::campaign_model(arguments, campaign);
  const CampaignModel& asked  = *found;
  const Provenance     origin = provenance(campaign, arguments.line, std::to_string(asked.settings().seed));

  if (const auto path = arguments.text("sensitivities")) {
    write_text(*path, sensitivities_csv(sensitivities(loaded.scenario, campaign.readings, asked.settings()),
                                        loaded.scenario));
    return Exit::done;
  }
  if (arguments.has("check-gradient")) {
    const GradientCheck check = check_gradient(asked, Eigen::VectorXd::Zero(asked.parameter_count()));
    fmt::print("{}", gradient_text(check));
    return check.passed() ? Exit::done : Exit::integration;
  }

  FitReport report;
  {
    std::string               stage;
    std::unique_ptr<Progress> bar;
    report = fit_report(asked, ask::fit_options(arguments, asked),
                        [&](const std::string& name, std::size_t done, std::size_t all) {
                          if (name != stage) {
                            bar   = std::make_unique<Progress>(name, quiet);
                            stage = name;
                          }
                          bar->show(done, all);
                        });
  }
  const CampaignModel& model = *report.model;
  if (report.fit.converged) {
    if (const auto path = arguments.text("out"))
      write_fit_hdf5(*path, model, report, campaign.readings_path,
                     fitted_toml(campaign, model, report,
                                 std::filesystem::path(loaded.texts.front().first).parent_path()),
                     origin);
    if (const auto path = arguments.text("residuals")) write_text(*path, residuals_csv(model, report));
    if (const auto path = arguments.text("fitted"))
      write_text(*path, fitted_toml(campaign, model, report, std::filesystem::path(*path).parent_path()));
  }
  const bool json_to_stdout =
      arguments.text("json").value_or("") == "-" || arguments.text("residuals").value_or("") == "-";
  if (const auto path = arguments.text("json")) write_text(*path, fit_json(model, report, origin));
  if (!quiet && arguments.prints && !json_to_stdout) {
    if (!loaded.scenario.title.empty()) fmt::print("{}\n", wrapped(loaded.scenario.title));
    fmt::print("{}\n", wrapped(fit_line(model, report)));
    fmt::print("{}\n", fit_page(model, report, arguments.has("full")));
    if (report.fit.converged) {
      fmt::print(
          "{}",
          wrapped(fmt::format(
              "Rests on: {}{} and the priors of the parameters. A fitted value is an estimate, not a promise{}{}",
              origin.inputs.empty() ? "the readings" : printable(campaign.readings_path),
              loaded.fit.from.empty() ? "" : ", " + printable(loaded.fit.from),
              arguments.has("fitted")
                  ? fmt::format("; the configuration with these values is {}.", *arguments.text("fitted"))
                  : "; --fitted FILE writes a configuration with these values.",
              drawn_in(model).empty()
                  ? ""
                  : " Such a configuration has no place for what ways of sharpening and woods do beside the model, so that it may rank ways otherwise: answers with --fit have them.")));
    }
  }
  if (report.fit.converged) return Exit::done;
  if (arguments.prints) tell(fmt::format("error: {}\n", fit_line(model, report)));
  return Exit::not_converged;
}

}  // namespace arris::cli
