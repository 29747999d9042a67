// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "json.hpp"
#include "sim/ask/ask.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/input/files.hpp"
#include "sim/report/stored_result.hpp"

/// What the page asks of the model, each a function from JSON to JSON. They throw arris::Error as the library does.
///
/// A request that concerns a campaign has `name` and `text` of its configuration, or `tree` in the place of the text, `files`
/// (a list of name and text: what the configuration may include), and `readings` (name and text) where there are any.
namespace arris::page {

using Progress = std::function<void(const std::string& stage, std::size_t done, std::size_t all)>;

/// A campaign from the texts of a request; nothing is read from disk. `is_lacking_readings` where the configuration names a file of
/// readings that is not among the texts.
struct Opened {
  Campaign    campaign;
  std::string text;  ///< of the configuration
  bool        is_lacking_readings = false;
};
[[nodiscard]] Opened open_campaign(const Json& request);

/// Draws of a fit's normal approximation, out of the result that `fit` gave.
[[nodiscard]] FittedDraws draws_of(const Json& fit);

/// Version, tables with their fields, units, materials and grits that come with the program, the usual caution.
[[nodiscard]] Json describe();

/// The styles of figures and the colours of the page.
[[nodiscard]] std::string style();

/// {name, text}: the tree of the text, after all of it was found right. {tree}: its text.
[[nodiscard]] Json read(const Json& request);
[[nodiscard]] Json write(const Json& request);

/// What the bench shows for up to two ways (names of edges): see bench.cpp for what it holds. `draws` may be null, and count only
/// where the request has `use_fit`.
[[nodiscard]] Json bench(const Json& request, const FittedDraws* draws);

/// All of a simulation, as the groups of its HDF5 file.
[[nodiscard]] Json simulate(const Json& request);
/// A study's answer for the page, and the same as its file would hold it, of which reports are made; none of a fit that did not
/// converge.
struct Result {
  Json                        answer;
  std::optional<StoredResult> stored;
};
/// Studies by `options` as the command line has them: the fit; "readings", "check" (of the tester, by the readings file `log`),
/// "forecast", "compare", "upkeep", "plan". Figures are drawn `figure_width` wide. A plan has `papers`: the run `sheet`, its `key`, a
/// configuration, and all of it to `print`, a page.
[[nodiscard]] Result fit(const Json& request, const Progress& progress);
[[nodiscard]] Result study(const std::string& name, const Json& request, const FittedDraws* draws,
                           const Progress& progress);
/// {title, html}: one page of several results.
[[nodiscard]] Json report_of(const std::vector<const StoredResult*>& results);

/// Of every edge: its code, its steps, and its moments to be read in their order, each {step, passes, replicates, after (a step's index)}.
[[nodiscard]] Json moments(const Json& request);
/// {sources, form}: the heads of their columns, each once.
[[nodiscard]] Json heads(const Json& request);
/// {sources, form}: rows of a readings file as {column: text}, and what was taken for what. Where the request has a configuration,
/// rows that do not suit it are faults. A form has fields of ReadingsForm as texts, and `columns` and `moments` as {head: text}.
[[nodiscard]] Json import_files(const Json& request);
/// {rows}: their text as a readings file, and its columns, each {name, unit, says, is_number}.
[[nodiscard]] Json export_rows(const Json& request);
/// {codes}: labels to cut out; {edge} of a configuration: its steps for the wall. {html}, a page to print.
[[nodiscard]] Json sheets(const Json& request);

}  // namespace arris::page
