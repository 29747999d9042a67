// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "sim/report/stored_result.hpp"

/// What a page says of one result: sentences, figures and the tables behind them. Made from what the file holds; nothing is
/// simulated.
namespace arris::report {

/// One line of an interactive chart, with a band where there is one.
struct LiveLine {
  std::string         name;  ///< "A1": what the reader chooses
  std::string         x_label;
  std::vector<double> x, y, low, high;
  std::vector<double> point_x, point_y;
};

/// Curves to be looked at closely: numbers under the pointer, parts enlarged.
struct LiveChart {
  std::string           y_label;
  std::vector<LiveLine> lines;
  double                limit = 0.0;  ///< 0: none
};

/// A moment of a history that is drawn moment by moment.
struct Frame {
  std::string says;             ///< "after hone: soft waterstone, JIS #1000"
  bool        on_paper = true;  ///< false: only where a reader moves through the history
};

struct Figure {
  std::string name;     ///< by which it is asked for: "curves"
  std::string title;    ///< over it
  std::string caption;  ///< below it: how to read it
  /// The picture for a width, under an id of its own.
  std::function<std::string(double width, const std::string& id)> draw;
  /// The same in pieces of one width that a page sets side by side; empty: there are none.
  std::function<std::vector<std::string>(const std::string& id)> pieces{};
  std::vector<Frame>
      frames{};  ///< of each of the pieces, where they follow one another; a page moves through them
  std::vector<AnswerTable> tables{};  ///< the numbers it shows
  std::vector<LiveChart>   live{};
  bool                     folded  = false;  ///< of less weight: shown when it is opened
  bool                     on_page = true;   ///< false: only drawn by its name
};

/// How much of a result a page shows.
struct Extent {
  bool                     whole = false;  ///< all of it, however large the page gets
  std::vector<std::string> edges{};        ///< of a simulation: those to be drawn in any case
};

struct Section {
  Extent                                           extent;
  std::string                                      kind;
  std::string                                      file;     ///< the result it was made from
  std::string                                      heading;  ///< "How long each edge lasts"
  std::string                                      answer;
  std::vector<Figure>                              figures;  ///< the one that shows the answer first
  std::vector<std::string>                         certainty, more, next, cautions;
  std::string                                      rests_on;
  std::vector<AnswerTable>                         tables;  ///< those behind no figure
  std::vector<std::pair<std::string, std::string>> provenance;
};

/// Throws Error (Exit::usage, "unknown-edge") for an edge of the extent that a simulation does not have; Exit::data, "old-result" where the file holds no sentences, as those of schema version 1 did not, save those of
/// studies.
[[nodiscard]] Section section_of(const StoredResult& result, const Extent& extent = {});

/// A figure of that name. Throws Error (Exit::usage, "unknown-figure") with the names there are.
[[nodiscard]] const Figure& figure_named(const std::vector<Section>& sections, const std::string& name);

}  // namespace arris::report
