// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "json.hpp"
#include "sim/ask/ask.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/input/files.hpp"

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
/// Fit, comparison and forecast by `options` as the command line has them.
[[nodiscard]] Json fit(const Json& request, const Progress& progress);
[[nodiscard]] Json answer(const std::string& study, const Json& request, const FittedDraws* draws,
                          const Progress& progress);

}  // namespace arris::page
