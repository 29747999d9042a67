// SPDX-License-Identifier: MIT
#pragma once

#include "sim/cli/options.hpp"
#include "sim/diagnostic.hpp"
#include "sim/input/files.hpp"
#include "sim/output/provenance.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/ensemble.hpp"

namespace arris::cli {

/// Each command takes what was said and returns an exit code; faults come as Error.
Exit simulate(const Arguments& arguments);
Exit check(const Arguments& arguments);
Exit fit(const Arguments& arguments);
Exit weigh(const Arguments& arguments);
Exit forecast(const Arguments& arguments);
Exit compare(const Arguments& arguments);
Exit upkeep(const Arguments& arguments);
Exit plan(const Arguments& arguments);
Exit gauge(const Arguments& arguments);
Exit sweep(const Arguments& arguments);
Exit merge(const Arguments& arguments);
Exit materials(const Arguments& arguments);
Exit write_documents(const Arguments& arguments);

/// The names in a list with commas between them, without blanks around them.
[[nodiscard]] std::vector<std::string> names_in(const std::string& list);

/// The edges of --edge (names with commas between them), or all. Throws Error (Exit::usage, "unknown-edge").
[[nodiscard]] std::vector<std::size_t> edges_of(const Arguments& arguments, const Scenario& scenario);

/// The draws of --fit, or else draws from the priors; --members of them. One member without a fit is the configuration itself. Throws as read_ensemble does.
[[nodiscard]] Ensemble ensemble_of(const Arguments& arguments, const Loaded& loaded);

/// The limit of --limit, a task of the configuration or a number of gram-force; without it [output] reading_limit_gf, or else
/// that of bench work. What it is called, and newton. Throws Error (Exit::usage, "unknown-limit").
[[nodiscard]] std::pair<std::string, double> limit_of(const Arguments& arguments, const Loaded& loaded);

/// Throws Error (Exit::usage, "would-overwrite") when one of these options names a file that the campaign was read from,
/// or two of them name the same file.
void check_outputs(const Arguments& arguments, const Campaign& campaign,
                   const std::vector<std::string>& options);

/// What every command that answers a question can be told beside its own options.
[[nodiscard]] std::vector<Option> answer_options();

/// Writes an answer where --out, --csv and --json say, and prints it unless --quiet is set or JSON or CSV goes to standard
/// output. `seed` is empty when nothing was drawn.
void deliver(const Arguments& arguments, const Campaign& campaign, const Answer& answer,
             const std::string& seed);

/// The same without --out: where the answer stands in a file of its own kind.
void tell(const Arguments& arguments, const std::string& title, const Provenance& origin,
          const Answer& answer);

/// Throws Error (Exit::usage, "no-readings") when the configuration names none.
void require_readings(const Campaign& campaign, const std::string& file);

}  // namespace arris::cli
