// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <exception>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// What is reported when something is wrong: what, where, what would be allowed, the likely cause, one next step.
namespace arris {

/// Exit codes of the program, stable across versions.
enum class Exit {
  done          = 0,
  usage         = 2,
  data          = 3,
  integration   = 4,
  not_converged = 5,
  hung_up       = 129,  ///< the terminal went away
  interrupted   = 130,
  terminated    = 143
};

struct Diagnostic {
  std::string code{};     ///< stable identifier, such as "unknown-key"
  std::string what{};     ///< the fact, with value and unit
  std::string allowed{};  ///< range or choices; may be empty
  std::string cause{};    ///< likely cause, a sentence; may be empty
  std::string next{};     ///< one next step, a sentence; may be empty
  std::string file{};
  int         line   = 0;   ///< from 1; 0: no position
  int         column = 0;   ///< from 1, in characters
  int         width  = 1;   ///< characters to underline
  std::string line_text{};  ///< the offending line, or the part of it around the column where it is very long
  int         caret = 0;    ///< first character of `line_text` to underline, from 1; 0: that of `column`
  std::string key{};        ///< configuration path, if there is one

  /// Shows `whole`, which is printable, under the message; of a line that is longer than a screen the part that matters.
  void show_line(std::string_view whole) {
    constexpr int most = 160, before = 60;
    const auto    starts_character = [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; };
    // the byte at which the character `n` characters behind the one at byte `at` begins
    const auto behind = [&](std::size_t at, int n) {
      while (at < whole.size() && n > 0) {
        ++at;
        if (at == whole.size() || starts_character(whole[at])) --n;
      }
      return at;
    };
    if (std::count_if(whole.begin(), whole.end(), starts_character) <= most) {
      line_text = whole;
      return;
    }
    const int  first = std::max(1, column - before);
    const auto begin = behind(0, first - 1), end = behind(begin, most);
    line_text = (first > 1 ? "…" : "") + std::string(whole.substr(begin, end - begin)) +
                (end < whole.size() ? "…" : "");
    caret = column - first + (first > 1 ? 2 : 1);
    width = std::min(width, most - (column - first));
  }

  /// `file:line:column: what (allowed: …)`, the line with a caret under it, cause and next step.
  [[nodiscard]] std::string text() const {
    std::string out;
    if (!file.empty()) {
      out += file + ":";
      if (line > 0) out += std::to_string(line) + ":" + std::to_string(column) + ":";
      out += " ";
    }
    out += shortened(what);
    if (!allowed.empty()) out += " (allowed: " + allowed + ")";
    out += " [" + code + "]\n";
    if (line > 0 && !line_text.empty()) {
      const std::string number = std::to_string(line);
      out += "  " + number + " | " + line_text + "\n";
      out += "  " + std::string(number.size(), ' ') + " | " +
             std::string(static_cast<std::size_t>(std::max(0, (caret > 0 ? caret : column) - 1)), ' ') +
             std::string(static_cast<std::size_t>(width > 0 ? width : 1), '^') + "\n";
    }
    if (!cause.empty()) out += "  " + cause + "\n";
    if (!next.empty()) out += "  " + shortened(next) + "\n";
    return out;
  }

 private:
  // without the middle of a name of thousands of letters
  [[nodiscard]] static std::string shortened(const std::string& text) {
    constexpr std::size_t most = 1500, kept = 200;
    if (text.size() <= most) return text;
    const auto inside = [&](std::size_t at) { return (static_cast<unsigned char>(text[at]) & 0xC0) == 0x80; };
    std::size_t from = kept, to = text.size() - kept;
    while (inside(from)) --from;
    while (inside(to)) ++to;
    return text.substr(0, from) + " … " + text.substr(to);
  }
};

/// One or more diagnostics that stop the work.
class Error : public std::exception {
 public:
  Error(Exit exit, std::vector<Diagnostic> diagnostics) : exit_(exit), diagnostics_(std::move(diagnostics)) {
    for (const auto& d : diagnostics_) text_ += d.text();
  }
  Error(Exit exit, Diagnostic diagnostic) : Error(exit, std::vector<Diagnostic>{std::move(diagnostic)}) {}

  [[nodiscard]] const char*                    what() const noexcept override { return text_.c_str(); }
  [[nodiscard]] Exit                           exit() const { return exit_; }
  [[nodiscard]] const std::vector<Diagnostic>& diagnostics() const { return diagnostics_; }

 private:
  Exit                    exit_;
  std::vector<Diagnostic> diagnostics_;
  std::string             text_;
};

}  // namespace arris
