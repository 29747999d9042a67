// SPDX-License-Identifier: MIT
#include <functional>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/delivery.hpp"
#include "sim/cli/earlier_fit.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/notes.hpp"
#include "sim/cli/output_files.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/report/picture.hpp"
#include "sim/report/plan_sheets.hpp"
#include "sim/studies/forecast/forecast.hpp"

/// The commands that answer a question: load a configuration, ask a study (sim/ask), deliver its answer.
namespace arris::cli {
namespace {

using Ask = std::function<ask::Answered(const Campaign& campaign, const ask::Progress& progress)>;

/// `doing` stands beside the progress bar; "sheet" and "paper" are among the files of a plan.
void answer(const Arguments& arguments, const Campaign& campaign, const char* doing, const Ask& ask,
            const std::vector<std::string>& files = {"out", "csv", "json"}) {
  const auto    held = hold_outputs(arguments, campaign, files);
  ask::Answered answered;
  {
    Progress bar(doing, arguments.has("quiet"));
    answered = ask(campaign, [&](std::size_t done, std::size_t all) { bar.show(done, all); });
  }
  deliver_answer(arguments, campaign, answered.answer, answered.seed);
}

}  // namespace

Exit weigh(const Arguments& arguments) {
  Campaign campaign = load_within_limits(arguments);
  ask::require_readings(campaign, *arguments.text("FILE"));
  take_earlier(arguments, campaign);
  bool              usable = false;
  const char* const doing  = arguments.has("forward") ? "forecasting" : "weighing";
  answer(arguments, campaign, doing, [&](const Campaign& c, const ask::Progress& progress) {
    return ask::weigh(arguments, c, progress, &usable);
  });
  if (!usable)
    tell(arguments.has("forward")
             ? "error: no edge could be forecast; the answer says for each why [no-convergence]\n"
             : "error: none of the laws could be fitted; the answer says for each why [no-convergence]\n");
  return usable ? Exit::done : Exit::not_converged;
}

Exit forecast(const Arguments& arguments) {
  std::optional<Forecast> nobody_asks;
  return forecast(arguments, nobody_asks);
}

Exit forecast(const Arguments& arguments, std::optional<Forecast>& made) {
  const Campaign campaign = load_within_limits(arguments);
  note_unused_fit(arguments, campaign);
  answer(arguments, campaign, "forecasting", [&](const Campaign& c, const ask::Progress& progress) {
    return ask::forecast(arguments, c, fit_of(arguments), progress, &made);
  });
  return Exit::done;
}

Exit compare(const Arguments& arguments) { return compare(arguments, std::nullopt); }

Exit compare(const Arguments& arguments, const std::optional<Forecast>& known) {
  const Campaign campaign = load_within_limits(arguments);
  note_unused_fit(arguments, campaign);
  answer(arguments, campaign, "comparing", [&](const Campaign& c, const ask::Progress& progress) {
    return ask::compare(arguments, c, fit_of(arguments), progress, known ? &*known : nullptr);
  });
  return Exit::done;
}

Exit readings(const Arguments& arguments) {
  const std::string file     = *arguments.text("FILE");
  const Campaign    campaign = load_within_limits(arguments);
  ask::require_readings(campaign, file);
  note_unused_fit(arguments, campaign);
  answer(arguments, campaign, "looking at the readings", [&](const Campaign& c, const ask::Progress&) {
    return ask::readings(arguments, c, fit_of(arguments));
  });
  return Exit::done;
}

Exit sensitivity(const Arguments& arguments) {
  const Campaign campaign =
      at_earlier_fit(arguments, load_within_limits(arguments, materials_in(arguments.texts("over"))));
  answer(arguments, campaign, "trying inputs", [&](const Campaign& c, const ask::Progress& progress) {
    return ask::sensitivity(arguments, c, progress);
  });
  return Exit::done;
}

Exit upkeep(const Arguments& arguments) {
  const Campaign campaign = load_within_limits(arguments);
  note_unused_fit(arguments, campaign);
  tell_warnings(arguments, campaign.loaded);
  answer(arguments, campaign, "searching", [&](const Campaign& c, const ask::Progress&) {
    return ask::upkeep(arguments, c, fit_of(arguments));
  });
  return Exit::done;
}

Exit plan(const Arguments& arguments) {
  const std::string file     = *arguments.text("FILE");
  Campaign          campaign = load_within_limits(arguments);
  const auto        paper    = arguments.text("paper");
  const auto        fit      = fit_of_plan(arguments, campaign);
  const auto        print    = [&](const Plan& found) {
    if (paper) write_text(*paper, report::pdf_of(report::sheets_of(found), "Planned readings"));
  };
  answer(arguments, campaign, "planning",
         [&](const Campaign& c, const ask::Progress&) { return ask::plan(arguments, c, file, fit, print); },
         {"out", "csv", "json", "sheet", "paper"});
  return Exit::done;
}

Exit gauge(const Arguments& arguments) {
  const std::string          file = *arguments.text("FILE");
  Campaign                   campaign;
  std::optional<std::string> csv;
  if (ask::is_csv(file)) {
    csv                     = file;
    campaign.readings_files = {{file, {}}};  // which no result may take the place of
  } else {
    campaign = load_within_limits(arguments);
    ask::require_readings(campaign, file);
  }
  answer(arguments, campaign, "judging the tester", [&](const Campaign&, const ask::Progress&) {
    if (csv) campaign.readings_files.clear();
    return ask::gauge(arguments, campaign, csv);
  });
  if (csv) tell_said(arguments, campaign.readings_said);
  return Exit::done;
}

}  // namespace arris::cli
