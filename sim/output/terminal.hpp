// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

/// Plain text for a terminal: tables, wrapped sentences, a progress bar.
namespace arris {

/// Characters across the terminal that standard output is (or standard error, where the output goes elsewhere), at least 20; 0 where
/// neither is one, so that what goes into a file or a pipe is the same on every screen.
[[nodiscard]] int terminal_width();
/// The width that sentences have: that of the terminal, 100 at most and where there is none.
[[nodiscard]] int text_width();

/// Writes to standard error. What that cannot take (it is closed, or its disk is full) is lost: there is nowhere to say so.
void tell(std::string_view text);

/// A table with a rule under its head. Numbers are aligned right, text left; a cell that is empty stays empty. Cells are made printable().
class TextTable {
 public:
  explicit TextTable(std::vector<std::string> head, std::vector<bool> right_aligned);
  void add(std::vector<std::string> cells);
  /// A blank line.
  void gap() { rows_.emplace_back(); }
  /// Lines no wider than their content; two blanks between columns, `indent` before. Where that is wider than `width` (0: any width
  /// will do), the columns stand in several tables one below the other, each with the first column; where not even two columns fit,
  /// each row is a list of its cells.
  [[nodiscard]] std::string text(int indent = 0, int width = terminal_width()) const;

 private:
  [[nodiscard]] std::vector<int> widths() const;
  [[nodiscard]] std::string      columns_text(const std::vector<std::size_t>& columns,
                                              const std::vector<int>& width, int indent) const;
  [[nodiscard]] std::string      list_text(int indent, int width) const;

  std::vector<std::string>              head_;
  std::vector<bool>                     right_;
  std::vector<std::vector<std::string>> rows_;
};

/// `text`, made printable(), broken at blanks and ends of lines into lines of at most `width` characters.
[[nodiscard]] std::string wrapped(const std::string& text, int width = text_width(), int indent = 0);

/// Significant digits, without an exponent where it can be helped; empty for NaN.
[[nodiscard]] std::string digits(double value, int significant = 3);
/// Fixed decimals; empty for NaN.
[[nodiscard]] std::string decimals(double value, int places = 0);

/// A bar on standard error, when that is a terminal and the work takes longer than half a second.
class Progress {
 public:
  explicit Progress(std::string what, bool quiet);
  ~Progress();
  Progress(const Progress&)            = delete;
  Progress& operator=(const Progress&) = delete;
  void      show(std::size_t done, std::size_t all);

 private:
  std::string what_;
  bool        active_;
  bool        drawn_ = false;
  double      started_;
  double      last_ = 0.0;
};

}  // namespace arris
