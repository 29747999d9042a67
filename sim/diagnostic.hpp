// SPDX-License-Identifier: MIT
#pragma once

#include <exception>
#include <string>
#include <utility>
#include <vector>

/// What is told when something is wrong: what, where, what would be allowed, the likely cause, one next step.
namespace arris {

/// Exit codes of the program, stable across versions.
enum class Exit { done = 0, usage = 2, data = 3, integration = 4, not_converged = 5, interrupted = 130 };

struct Diagnostic {
  std::string code{};     ///< stable identifier, such as "unknown-key"
  std::string what{};     ///< the fact, with value and unit
  std::string allowed{};  ///< range or choices; may be empty
  std::string cause{};    ///< likely cause, a sentence; may be empty
  std::string next{};     ///< one next step, a sentence; may be empty
  std::string file{};
  int         line      = 0;  ///< from 1; 0: no position
  int         column    = 0;  ///< from 1, in characters
  int         width     = 1;  ///< characters to underline
  std::string line_text{};      ///< the offending line
  std::string key{};            ///< configuration path, if there is one

  /// `file:line:column: what (allowed: …)`, the line with a caret under it, cause and next step.
  [[nodiscard]] std::string text() const {
    std::string out;
    if (!file.empty()) {
      out += file + ":";
      if (line > 0) out += std::to_string(line) + ":" + std::to_string(column) + ":";
      out += " ";
    }
    out += what;
    if (!allowed.empty()) out += " (allowed: " + allowed + ")";
    out += " [" + code + "]\n";
    if (line > 0 && !line_text.empty()) {
      const std::string number = std::to_string(line);
      out += "  " + number + " | " + line_text + "\n";
      out += "  " + std::string(number.size(), ' ') + " | " +
             std::string(static_cast<std::size_t>(column > 0 ? column - 1 : 0), ' ') +
             std::string(static_cast<std::size_t>(width > 0 ? width : 1), '^') + "\n";
    }
    if (!cause.empty()) out += "  " + cause + "\n";
    if (!next.empty()) out += "  " + next + "\n";
    return out;
  }
};

/// One or more diagnostics that stop the work.
class Error : public std::exception {
 public:
  Error(Exit exit, std::vector<Diagnostic> diagnostics) : exit_(exit), diagnostics_(std::move(diagnostics)) {
    for (const auto& d : diagnostics_) text_ += d.text();
  }
  Error(Exit exit, Diagnostic diagnostic) : Error(exit, std::vector<Diagnostic>{std::move(diagnostic)}) {}

  [[nodiscard]] const char* what() const noexcept override { return text_.c_str(); }
  [[nodiscard]] Exit        exit() const { return exit_; }
  [[nodiscard]] const std::vector<Diagnostic>& diagnostics() const { return diagnostics_; }

 private:
  Exit                    exit_;
  std::vector<Diagnostic> diagnostics_;
  std::string             text_;
};

}  // namespace arris
