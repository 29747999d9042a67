// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <utility>
#include <vector>

/// The form in which every study answers: a plain sentence first, then what it rests on and the tables behind it. The
/// terminal, JSON, CSV, HDF5, Python and reports are all made from it, so that none of them says something else.
namespace arris {

/// One column of a table: numbers or texts, one per row.
struct AnswerColumn {
  std::string              name;             ///< with its unit: "passes", "reading_gf"
  std::string              units;            ///< "gf", "1" for a pure number, empty for texts
  std::string              says;             ///< one clause
  std::string              head;             ///< over the column on a terminal; empty: not shown there
  std::vector<double>      numbers;          ///< NaN where there is none
  std::vector<std::string> texts;            ///< instead of numbers
  int                      significant = 3;  ///< digits on a terminal
  int places = -1;  ///< decimals there instead, where 0 or more: for columns to be compared downwards

  [[nodiscard]] bool        is_text() const { return units.empty(); }
  [[nodiscard]] std::size_t size() const { return is_text() ? texts.size() : numbers.size(); }
};

struct AnswerTable {
  std::string               name;  ///< of the group in HDF5 and the key in JSON: "routes"
  std::string               says;  ///< what it shows, a title
  std::string               axis;  ///< what a row is: "route"
  std::vector<AnswerColumn> columns;
  bool                      on_terminal = true;  ///< curves are for files only

  [[nodiscard]] std::size_t rows() const { return columns.empty() ? 0 : columns.front().size(); }

  /// Adds a column of numbers, or of texts.
  void number(std::string column, std::string unit, std::string head, std::string meaning,
              std::vector<double> values, int significant = 3);
  void text(std::string column, std::string head, std::string meaning, std::vector<std::string> values);
};

/// What a remark is about: how sure the answer is, what to do next, or more on the answer itself.
enum class About { more, certainty, next };

/// "more", "certainty" or "next".
[[nodiscard]] const char* name_of(About about);

struct Answer {
  std::string              kind;      ///< "forecast", "compare", …
  std::string              headline;  ///< the answer, one to three sentences
  std::vector<std::string> remarks;   ///< sentences behind it, each a paragraph
  std::vector<About>       about;     ///< of each remark; those beyond its end say more on the answer
  std::string              rests_on;  ///< "Rests on …": defaults, a fit, how many edges
  std::vector<std::string> cautions;  ///< where something is to be done
  std::vector<AnswerTable> tables;    ///< the first is the one that goes into a CSV file
  std::vector<std::pair<std::string, double>>
      settings;  ///< numbers that were asked for, with their units in the name

  /// Adds a remark.
  void remark(About of, std::string text);

  /// The table of that name. Throws std::out_of_range.
  [[nodiscard]] const AnswerTable& table(const std::string& name) const;
};

/// The column of that name. Throws std::out_of_range.
[[nodiscard]] const AnswerColumn& column(const AnswerTable& table, const std::string& name);

/// The usual sentence where someone is told to do something with edges, media or wood.
[[nodiscard]] const std::string& usual_caution();

/// To two figures: nobody counts passes closer than that.
[[nodiscard]] double rounded_passes(double passes);

/// "210", or "more than 5000" where an edge outlasts the `horizon` that was looked at.
[[nodiscard]] std::string passes_text(double passes, double horizon);

}  // namespace arris
