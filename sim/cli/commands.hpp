// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/diagnostic.hpp"

namespace arris {
struct Answer;
struct Arguments;
struct Campaign;
struct Ensemble;
struct NamedMaterial;
struct Provenance;
struct Scenario;
class FileLock;
}  // namespace arris

/// A function for each row of the option table (options.cpp), and what several of them share.
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
Exit report(const Arguments& arguments);
Exit study(const Arguments& arguments);
Exit write_documents(const Arguments& arguments);

/// As load_campaign_file, and from now on the program keeps to `[computer]` of that configuration. `also` are materials beside
/// those that its steps name.
[[nodiscard]] Campaign load_within_limits(const std::string& file);
[[nodiscard]] Campaign load_within_limits(const std::string& file, const std::vector<NamedMaterial>& also);

/// Reads the file of --fit (ask::ReadFit); empty where it is not given.
[[nodiscard]] std::function<Ensemble(const Scenario&, int members)> fit_of(const Arguments& arguments);

/// Before the work: can the files that these options name be written, and by this process alone? Hold what it returns as long
/// as they may be. Throws Error (Exit::usage): "would-overwrite" when one is a file that the campaign was read from, or two are
/// the same; "in-use" when another process writes one; "cannot-write".
[[nodiscard]] std::vector<FileLock> hold_outputs(const Arguments& arguments, const Campaign& campaign,
                                                 const std::vector<std::string>& options);
/// One file; nothing is held for standard output, a pipe or a device.
[[nodiscard]] std::vector<FileLock> hold_output(const Arguments& arguments, const std::string& path);

/// Writes an answer where --out, --csv and --json say, and prints it unless --quiet is set or JSON or CSV goes to standard
/// output. `seed` is empty when nothing was drawn.
void deliver(const Arguments& arguments, const Campaign& campaign, const Answer& answer,
             const std::string& seed);

/// The same without --out: where the answer stands in a file of its own kind.
void print_answer(const Arguments& arguments, const std::string& title, const Provenance& origin,
                  const Answer& answer);

}  // namespace arris::cli
