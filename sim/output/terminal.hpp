// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

/// Plain text for a terminal: tables, wrapped sentences, a progress bar.
namespace arris {

/// A table with a rule under its head. Numbers are aligned right, text left; a cell that is empty stays empty.
class TextTable {
 public:
  explicit TextTable(std::vector<std::string> head, std::vector<bool> right_aligned);
  void add(std::vector<std::string> cells);
  /// A blank line.
  void gap() { rows_.emplace_back(); }
  /// Lines no wider than their content; two blanks between columns, `indent` before.
  [[nodiscard]] std::string text(int indent = 0) const;

 private:
  std::vector<std::string>              head_;
  std::vector<bool>                     right_;
  std::vector<std::vector<std::string>> rows_;
};

/// `text` broken at blanks into lines of at most `width` characters.
[[nodiscard]] std::string wrapped(const std::string& text, int width = 100, int indent = 0);

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
