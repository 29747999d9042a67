// SPDX-License-Identifier: MIT
#include "sim/studies/weigh.hpp"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/cli/commands.hpp"
#include "sim/input/files.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {
namespace {

std::string answer(const std::vector<WeighedLaw>& laws) {
  if (!laws.front().usable) return "None of the laws could be fitted.";
  std::vector<std::string> equal;
  for (const WeighedLaw& law : laws) {
    if (law.usable && law.name != laws.front().name && std::abs(law.difference) < 2.0 * law.difference_se)
      equal.push_back(law.name);
  }
  if (laws.size() == 1)
    return fmt::format("{} was fitted alone; name a second law to weigh it against.", laws.front().name);
  if (equal.empty())
    return fmt::format(
        "{} predicts edges that it has not seen better than the others, by more than twice the standard "
        "error.",
        laws.front().name);
  return fmt::format(
      "{} predicts edges that it has not seen best, but these readings cannot tell it from {}.",
      laws.front().name, listed(equal));
}

}  // namespace

Exit weigh(const Arguments& arguments) {
  const bool     quiet    = arguments.has("quiet");
  const int      threads  = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  const Campaign campaign = load_campaign_file(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  require_readings(campaign, *arguments.text("FILE"));
  check_outputs(arguments, campaign, {"json"});
  const auto names = arguments.has("law") ? names_in(*arguments.text("law")) : wear_law_names();

  FitSettings settings = loaded.fit;
  settings.starts      = static_cast<int>(arguments.integer("starts", 4, 1, 10000));
  if (settings.free.empty()) settings.free = usual_parameters(loaded.scenario);
  std::vector<WeighedLaw> laws;
  {
    Progress progress("weighing", quiet);
    laws = arris::weigh(loaded.scenario, campaign.readings, settings, names, threads,
                        [&](std::size_t done, std::size_t all) { progress.show(done, all); });
  }
  const Provenance origin = provenance(campaign, arguments.line, std::to_string(settings.seed));
  if (const auto path = arguments.text("json")) {
    nlohmann::ordered_json out{{"kind", "weigh"}, {"schema_version", 1}};
    for (const WeighedLaw& law : laws) {
      nlohmann::ordered_json row{{"law", law.name}, {"usable", law.usable}};
      if (law.usable) {
        row.update({{"parameters", law.parameters},
                    {"log_likelihood", law.log_likelihood},
                    {"aicc", law.aicc},
                    {"bic", law.bic},
                    {"elpd", law.elpd},
                    {"elpd_se", law.elpd_se},
                    {"difference", law.difference},
                    {"difference_se", law.difference_se}});
        for (const Misfit& m : law.misfits)
          row["misfits"].push_back({{"moment", m.moment}, {"count", m.count}, {"mean_log_ratio", m.mean}});
      } else {
        row["failure"] = law.failure;
      }
      out["laws"].push_back(row);
    }
    for (const auto& [name, text] : arris::listed(origin)) out["provenance"][name] = text;
    write_text(*path, out.dump(1) + "\n");
  }
  if (!quiet && arguments.text("json").value_or("") != "-") {
    if (!loaded.scenario.title.empty()) fmt::print("{}\n\n", printable(loaded.scenario.title));
    fmt::print("{}\n", wrapped(answer(laws)));
    TextTable table(
        {"wear law", "parameters", "log L", "AICc", "BIC", "elpd", "± s.e.", "below the best", "± s.e."},
        {false, true, true, true, true, true, true, true, true});
    for (const WeighedLaw& law : laws) {
      if (!law.usable) {
        table.add({law.name, "failed: " + law.failure, "", "", "", "", "", "", ""});
        continue;
      }
      table.add({law.name, std::to_string(law.parameters), decimals(law.log_likelihood, 1),
                 decimals(law.aicc, 1), decimals(law.bic, 1), decimals(law.elpd, 1), decimals(law.elpd_se, 1),
                 decimals(law.difference, 1), decimals(law.difference_se, 1)});
    }
    fmt::print("{}\n", table.text(2));
    fmt::print("{}", wrapped("AICc and BIC: smaller is better. elpd: log density of the readings of each "
                             "edge, predicted from all others; larger is better, and only a difference "
                             "beyond twice its standard error is evidence.",
                             100, 2));
    for (const WeighedLaw& law : laws) {
      if (!law.usable) continue;
      std::string text = fmt::format("{} misses most", law.name);
      for (std::size_t i = 0; i < std::min<std::size_t>(3, law.misfits.size()); ++i) {
        const Misfit& m = law.misfits[i];
        text +=
            fmt::format("{} {} (measured {:+.0f} % against predicted, {} measurement{})", i > 0 ? "," : "",
                        m.moment, 100.0 * std::expm1(m.mean), m.count, m.count == 1 ? "" : "s");
      }
      fmt::print("\n{}", wrapped(text + ".", 100, 2));
    }
    fmt::print("\n{}", wrapped(fmt::format("Rests on: {} and the priors of the parameters.",
                                           printable(campaign.readings_path))));
  }
  return laws.front().usable ? Exit::done : Exit::not_converged;
}

}  // namespace arris::cli
