// SPDX-License-Identifier: MIT
#include "sim/studies/fit.hpp"

#include <algorithm>
#include <filesystem>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/input/files.hpp"
#include "sim/output/fit_files.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

void require_readings(const Campaign& campaign, const std::string& file) {
  if (!campaign.readings.empty()) return;
  throw Error(Exit::usage, {.code = "no-readings",
                            .what = "the configuration names no readings, so there is nothing to fit to",
                            .next = "Add [readings] with file = \"readings.csv\".",
                            .file = file});
}

namespace {

std::vector<FreeParameter> free_parameters(const Arguments& arguments, const Loaded& loaded) {
  std::vector<std::string> paths = loaded.fit.free;
  if (const auto list = arguments.text("free")) {
    paths            = names_in(*list);
    const auto known = fittable_parameters(loaded.scenario.model);
    for (const std::string& path : paths) {
      if (std::find(known.begin(), known.end(), path) != known.end() || loaded.fit.priors.count(path) > 0)
        continue;
      const std::string close = nearest(path, known);
      throw Error(Exit::usage, {.code  = "unknown-parameter",
                                .what  = fmt::format("\"{}\" cannot be free", printable(path)),
                                .cause = "It is not a parameter of this configuration, or has no prior.",
                                .next  = (close.empty() ? "" : fmt::format("Did you mean \"{}\"? ", close)) +
                                        "`arris check` prints all: TABLE.KEY, or TABLE.NAME.KEY."});
    }
  }
  if (paths.empty()) paths = usual_parameters(loaded.scenario);
  std::vector<FreeParameter> out;
  for (const std::string& path : paths)
    out.push_back(free_parameter(loaded.scenario.model, path, loaded.fit.priors));
  return out;
}

}  // namespace

Exit fit(const Arguments& arguments) {
  const bool quiet    = arguments.has("quiet");
  const int  threads  = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  Campaign   campaign = load_campaign_file(*arguments.text("FILE"));
  Loaded&    loaded   = campaign.loaded;
  require_readings(campaign, *arguments.text("FILE"));
  check_outputs(arguments, campaign, {"out", "fitted", "residuals", "json"});
  FitSettings settings = loaded.fit;
  settings.starts      = static_cast<int>(arguments.integer("starts", settings.starts, 1, 10000));
  settings.seed        = static_cast<int>(arguments.integer("seed", settings.seed, 0, 2'000'000'000));
  settings.draws       = static_cast<int>(arguments.integer("draws", 0, 0, 10'000'000));
  const CampaignModel model(loaded.scenario, campaign.readings, free_parameters(arguments, loaded), settings);
  const Provenance    origin = provenance(campaign, arguments.line, std::to_string(settings.seed));

  if (arguments.has("check-gradient")) {
    const GradientCheck check = check_gradient(model, Eigen::VectorXd::Zero(model.parameter_count()));
    fmt::print("{}", gradient_text(check));
    return check.passed() ? Exit::done : Exit::integration;
  }

  FitReport report;
  {
    std::string               stage;
    std::unique_ptr<Progress> bar;
    report = fit_report(
        model, {.profiles = !arguments.has("no-profiles"), .draws = settings.draws, .threads = threads},
        [&](const std::string& name, std::size_t done, std::size_t all) {
          if (name != stage) {
            bar   = std::make_unique<Progress>(name, quiet);
            stage = name;
          }
          bar->show(done, all);
        });
  }
  if (report.fit.converged) {
    if (const auto path = arguments.text("out")) write_fit_hdf5(*path, model, report, origin);
    if (const auto path = arguments.text("residuals")) write_text(*path, residuals_csv(model, report));
    if (const auto path = arguments.text("fitted"))
      write_text(*path, fitted_toml(campaign, model, report, std::filesystem::path(*path).parent_path()));
  }
  const bool json_to_stdout =
      arguments.text("json").value_or("") == "-" || arguments.text("residuals").value_or("") == "-";
  if (const auto path = arguments.text("json")) write_text(*path, fit_json(model, report, origin));
  if (!quiet && !json_to_stdout) {
    if (!loaded.scenario.title.empty()) fmt::print("{}\n\n", printable(loaded.scenario.title));
    fmt::print("{}\n", wrapped(fit_line(model, report)));
    fmt::print("{}\n", fit_page(model, report, arguments.has("full")));
    if (report.fit.converged) {
      fmt::print(
          "{}",
          wrapped(fmt::format(
              "Rests on: {} and the priors of the parameters. A fitted value is an estimate, not a promise{}",
              origin.inputs.empty() ? "the readings" : printable(campaign.readings_path),
              arguments.has("fitted")
                  ? fmt::format("; the configuration with these values is {}.", *arguments.text("fitted"))
                  : "; --fitted FILE writes a configuration with these values.")));
    }
  }
  if (report.fit.converged) return Exit::done;
  fmt::print(stderr, "error: {}\n", fit_line(model, report));
  return Exit::not_converged;
}

}  // namespace arris::cli
