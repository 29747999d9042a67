// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/ask/arguments.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/input/files.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/sweep/sweep.hpp"

/// Asking a study by options: settings are made of what was said, the study is run, and there is its answer. The commands and
/// the Python package call these, and add only where results go.
///
/// All throw Error (Exit::usage): "bad-option" for a value that an option cannot have, "unknown-edge", "unknown-limit" and the
/// like with a suggestion; beyond that what the study throws.
namespace arris {
struct Forecast;
struct ForecastSettings;
struct GaugeReading;
struct Plan;
}  // namespace arris

namespace arris::ask {

/// Gives draws of an earlier fit for a scenario, at most so many. Empty where no fit is given.
using ReadFit  = std::function<Ensemble(const Scenario& scenario, int members)>;
using Progress = std::function<void(std::size_t done, std::size_t all)>;  ///< may be empty

struct Answered {
  Answer      answer;
  std::string seed{};  ///< empty where nothing was drawn
};

/// The edges of the option `edge` (names with commas between them), or all.
[[nodiscard]] std::vector<std::size_t> edges_of(const Arguments& arguments, const Scenario& scenario);

/// The threads of the option `threads`; 0 is all cores.
[[nodiscard]] int threads_of(const Arguments& arguments);

/// The draws of a fit, or else draws from the priors; as many as `members` says. One member without a fit is the configuration
/// itself.
[[nodiscard]] Ensemble ensemble_of(const Arguments& arguments, const Loaded& loaded, const ReadFit& fit);

/// Adds to the first sentences of an answer what the fit misses that it rests on.
void name_misses(Answer& answer, const std::vector<std::string>& misses);

/// Says in an answer that rests on readings what these cannot tell from who or what read them (confounding.hpp).
void name_confounding(Answer& answer, const Campaign& campaign);

/// The limit of the option `limit`, a task of the configuration or a number of gram-force; without it [output] reading_limit_gf,
/// or else that of bench work. What it is called, and gram-force.
[[nodiscard]] std::pair<std::string, double> limit_of(const Arguments& arguments, const Loaded& loaded);

/// Throws Error (Exit::usage, "no-readings") when the configuration names none.
void require_readings(const Campaign& campaign, const std::string& file);

/// Throws Error (Exit::usage, "needs-reduced") where [numerics] fidelity asks for the outline: `study` ("a fit") needs slopes, or thousands
/// of histories.
void require_reduced(const Scenario& scenario, const std::string& study);
/// Throws Error (Exit::usage, "not-of-specimens") where the tools are specimens: `study` ("a comparison") asks something that they do not
/// have, which `because` says in a sentence.
void require_blades(const Scenario& scenario, const std::string& study, const std::string& because);
/// Throws Error (Exit::usage, "no-rate") where specimens wear by a law whose numbers nobody has stated or fitted: those that it has by default
/// are of blades in wood.
void require_rates(const Loaded& loaded, bool has_fit);

/// Throws where `[fit] from` names an earlier fit that was not read, "no-earlier-fit", or as check_earlier.
/// `laws` are those that are to be fitted; empty: that of the configuration.
void check_from(const Campaign& campaign, const std::vector<std::string>& laws);

/// The model that a fit of the campaign works on: `free`, `starts`, `seed` and `draws` over what [fit] says. Throws "no-readings",
/// "unknown-parameter".
[[nodiscard]] std::unique_ptr<CampaignModel> campaign_model(const Arguments& arguments,
                                                            const Campaign&  campaign);
/// What of a fit is asked for beside the optimum.
[[nodiscard]] FitReportOptions fit_options(const Arguments& arguments, const CampaignModel& model);

/// `usable` (may be null) is set to whether any law could be fitted; with the option `forward`, whether any edge could be forecast.
[[nodiscard]] Answered weigh(const Arguments& arguments, const Campaign& campaign, const Progress& progress,
                             bool* usable = nullptr);
/// `made` (may be null) is set to what the answer tells of; it stays as it is where one edge is looked at from now on.
[[nodiscard]] Answered forecast(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit,
                                const Progress& progress, std::optional<Forecast>* made = nullptr);
/// Of the one edge that `edge` names, from where it was last read; `limit` may be a length too. Throws "bad-option", "unknown-limit", and
/// as forecast_in_hand.
[[nodiscard]] Answer in_hand(const Arguments& arguments, const Campaign& campaign, const Ensemble& ensemble,
                             const ForecastSettings& life);
/// Whether a limit is one of a length: "0.6 µm".
[[nodiscard]] bool is_length(const std::string& limit);
/// `known` (may be null) is a forecast of the same campaign and fit: lives that it holds are not worked out again.
[[nodiscard]] Answered compare(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit,
                               const Progress& progress, const Forecast* known = nullptr);
/// What was read, before any model; beside it the values of the fit, where one is given.
[[nodiscard]] Answered readings(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit);
[[nodiscard]] Answered upkeep(const Arguments& arguments, const Campaign& campaign, const ReadFit& fit);

/// Writes the run sheet too, and the configuration that belongs to it, where `sheet` says; `file` is what the campaign was read
/// from, which that configuration includes. `see` (may be empty) gets the plan itself, for papers that are made of it.
using SeePlan = std::function<void(const Plan& plan)>;
[[nodiscard]] Answered plan(const Arguments& arguments, const Campaign& campaign, const std::string& file,
                            const ReadFit& fit, const SeePlan& see = {});
/// Readings invented with the scatter that the configuration states.
[[nodiscard]] std::vector<Reading> invented(const Arguments& arguments, const Loaded& loaded, int threads);

/// The readings of a campaign, or those of a CSV file alone, which becomes the readings file of an otherwise empty campaign.
[[nodiscard]] Answered gauge(const Arguments& arguments, Campaign& campaign,
                             const std::optional<std::string>& csv_file);
/// Whether a file is one of readings, by its ending.
[[nodiscard]] bool is_csv(const std::string& file);
/// Readings of files without a configuration, which become the readings of an otherwise empty campaign. Throws what import_readings and
/// parse_gauge_readings throw.
[[nodiscard]] std::vector<GaugeReading> readings_alone(Campaign&                       campaign,
                                                       const std::vector<std::string>& files,
                                                       const ReadingsForm& form, bool any_sign);

/// Has the tester changed? Of the readings of files, or where none are named of those of the campaign: of its check edge where it names
/// one. Throws what control() throws.
[[nodiscard]] Answered log_check(const Arguments& arguments, Campaign& campaign,
                                 const std::vector<std::string>& files, const ReadingsForm& form);
/// The same of readings that are at hand; `source` is where they stand.
[[nodiscard]] Answered check_tester(const Arguments& arguments, const std::vector<GaugeReading>& readings,
                                    const std::string& source);
/// The readings of files as one table, checked: against the edges of a configuration where one is given. Throws Error (Exit::usage,
/// "given-twice") for a file that is named twice, and what import_readings, parse_readings and parse_gauge_readings throw.
[[nodiscard]] ImportedReadings imported(const std::vector<std::string>& files, const ReadingsForm& form,
                                        const Loaded* loaded);
/// `form` with what options say of it: its fields by their names, `column` and `moment` as "name in the file=what it is".
[[nodiscard]] ReadingsForm form_of(const Arguments& arguments, ReadingsForm form);

/// The campaign with the best values of the fit in place of its own, marked as fitted; as it is where no fit is given.
[[nodiscard]] Campaign at_fit(Campaign campaign, const ReadFit& fit);

/// The materials that a sweep puts in the place of others: its campaign must be loaded with these. Throws "bad-sweep" and the like
/// for options that do not go together.
[[nodiscard]] std::vector<NamedMaterial>    sweep_materials(const Arguments& arguments);
[[nodiscard]] std::unique_ptr<arris::Sweep> sweep_study(const Arguments& arguments, const Campaign& campaign);
/// Which of the inputs of `over` matters how much; materials of the campaign as those of a sweep. Throws "bad-option", and as sensitivity().
[[nodiscard]] Answered sensitivity(const Arguments& arguments, const Campaign& campaign,
                                   const Progress& progress);
/// The share asked for; the whole, where none is.
[[nodiscard]] SweepShard share_of(const Arguments& arguments, const SweepGrid& grid);
/// Throws "too-many" where so large a share of a sweep cannot be kept in memory.
void check_fits_memory(const arris::Sweep& study, const SweepShard& shard, const std::string& next);

/// "Rests on …": whether values of the configuration were fitted.
[[nodiscard]] std::string rests_on_values(const Loaded& loaded);

/// One of the columns of a simulation, or "passes_to_limit". Throws "unknown-output" with a suggestion.
[[nodiscard]] SweepOutput output_of(const std::string& name);

}  // namespace arris::ask
