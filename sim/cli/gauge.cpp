// SPDX-License-Identifier: MIT
#include "sim/studies/gauge.hpp"

#include <algorithm>
#include <cctype>
#include <filesystem>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/input/document.hpp"
#include "sim/input/files.hpp"
#include "sim/input/gauge_csv.hpp"

namespace arris::cli {
namespace {

bool is_csv(const std::string& file) {
  std::string ending = std::filesystem::path(file).extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(),
                 [](unsigned char c) { return std::tolower(c); });
  return ending == ".csv";
}

GaugeSettings settings_from(const Arguments& arguments) {
  GaugeSettings settings;
  const auto    scale = arguments.text("scale").value_or("log");
  if (scale != "log" && scale != "linear") {
    throw Error(Exit::usage, {.code    = "bad-option",
                              .what    = fmt::format("--scale {} is not known", printable(scale)),
                              .allowed = "log or linear"});
  }
  settings.scale              = scale == "log" ? GaugeScale::logarithm : GaugeScale::linear;
  settings.repeatability_only = arguments.has("repeatability");
  settings.pool_above         = arguments.number("pool", settings.pool_above, 0.0, 1.0);
  settings.difference_pct     = arguments.number("difference", settings.difference_pct, 0.1, 1000.0);
  settings.reference          = arguments.text("reference").value_or("");
  settings.reference_gf       = arguments.number("value", not_given, 0.001, 1e6);
  if (arguments.has("reference") != arguments.has("value")) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = arguments.has("value") ? "--value is given without --reference"
                                                             : "--reference is given without --value",
                              .next = "Give both: which edge, and what it truly reads in gram-force."});
  }
  return settings;
}

}  // namespace

Exit gauge(const Arguments& arguments) {
  const std::string         file     = *arguments.text("FILE");
  GaugeSettings             settings = settings_from(arguments);
  Campaign                  campaign;
  std::vector<GaugeReading> readings;
  if (is_csv(file)) {  // readings alone, no model
    campaign.readings_path = file;
    campaign.readings_text = read_text(file, Exit::data);
    readings = parse_gauge_readings(file, campaign.readings_text, settings.scale == GaugeScale::linear);
  } else {
    campaign = load_campaign_file(file);
    require_readings(campaign, file);
    readings = gauge_readings(campaign.loaded.scenario, campaign.readings);
  }
  check_outputs(arguments, campaign, {"out", "csv", "json"});
  settings.source          = printable(campaign.readings_path);
  const GaugeResult result = arris::gauge(readings, settings);
  deliver(arguments, campaign, gauge_answer(readings, settings, result), std::to_string(GaugeSettings::seed));
  return Exit::done;
}

}  // namespace arris::cli
