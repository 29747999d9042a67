// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/fit/fit_settings.hpp"
#include "sim/history/computer.hpp"
#include "sim/history/scenario.hpp"
#include "sim/input/readings_form.hpp"
#include "sim/input/table_reader.hpp"
#include "sim/laws/wear/formula_program.hpp"
#include "sim/studies/workshop.hpp"

/// From the text of a configuration to a scenario.
namespace arris {

/// A material that no step needs to name: a study may put it in the place of another.
struct NamedMaterial {
  std::string kind;  ///< "medium", "backing", "compound" or "wood"
  std::string name;  ///< as in a step; empty: all of that kind
  int index = -1;    ///< into the table of that kind in the model, once loaded; −1 where `name` is empty
};

/// A scenario with everything known about where its values came from.
struct Loaded {
  Scenario                 scenario;
  Origins                  origins;
  FitSettings              fit;
  Workshop                 workshop;
  Computer                 computer;
  std::vector<Diagnostic>  warnings;
  std::vector<std::string> readings_files;                 ///< of [readings], relative to the first file
  ReadingsForm             readings_form;                  ///< how they are written
  std::vector<std::pair<std::string, std::string>> texts;  ///< name and text of the files it was read from
  /// The filament and families that were used, for printing; their numbers are already in the model.
  std::vector<Filament<double>> filaments;
  /// Materials that were asked for beside those that steps name, in the order asked for.
  std::vector<NamedMaterial> also;
  /// Plans of nothing but a route that no edge follows, for printing.
  std::vector<EdgePlan> unused_routes;
};

/// Gives the text of an included file, or nothing when it cannot be read. The name is as written in `include`, relative
/// to the file that includes it (`from`); the second of the pair is the name to use in messages.
using Include = std::function<std::optional<std::pair<std::string, std::string>>(const std::string& from,
                                                                                 const std::string& name)>;

/// Loads a configuration, and the materials in `also` beside those that its steps name. `functions` are those of the host program
/// that `[wear] function = "NAME"` may name. Every fault found is reported in one Error (Exit::usage), with file, line, column and
/// caret.
[[nodiscard]] Loaded load_scenario(const std::string& file, std::string_view text,
                                   const Include& include = {}, const std::vector<NamedMaterial>& also = {},
                                   const std::vector<laws::ForeignRate>& functions = {});

/// The resolved configuration as TOML that loads to the same scenario; with `origins`, each line says where its value
/// came from, and [computer] and routes that no edge follows are among them, which decide nothing about results.
[[nodiscard]] std::string resolved_toml(const Loaded& loaded, bool origins);

/// The table `[edge.NAME]` of a plan as TOML; with `by_route` it names the route it follows first in the place of that
/// route's steps, which the configuration must then have.
[[nodiscard]] std::string edge_toml(const EdgePlan& plan, bool by_route);

}  // namespace arris
