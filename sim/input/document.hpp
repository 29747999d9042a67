// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

#include "sim/diagnostic.hpp"
#include "sim/input/names.hpp"
#include "sim/text.hpp"

/// One TOML text with its positions, and the collector of everything found wrong with it.
namespace arris {

/// Where a value came from.
struct Origin {
  std::string file;
  int         line = 0;  ///< 0: a default or derived
  std::string status;    ///< verified, from memory, estimate, …; empty where the user stated the value bare
  std::string source;    ///< citation, if there is one
};

struct Document {
  std::string              file;
  std::vector<std::string> lines;
  toml::table              root;
  bool                     is_shipped = false;  ///< built into the program
};

/// Parses `text`. Throws Error (Exit::usage, "syntax") with position and caret.
[[nodiscard]] Document parse_document(std::string file, std::string_view text);

/// The text of [source.ID] in a document; `id` itself where there is no such table.
[[nodiscard]] std::string cited(const Document& document, const std::string& id);

/// A number of TOML, whole or not, as it stands; it may be infinite or NaN.
[[nodiscard]] double as_double(const toml::node& number);

/// The list of texts that a node is; nullptr where it is none.
[[nodiscard]] const toml::array* as_texts(const toml::node& node);

/// Collects diagnostics of several documents, so that all are reported together, each once, and no more than can be read.
class Findings {
 public:
  static constexpr std::size_t most_told = 200;  ///< faults, and as many warnings

  void add(const Document& document, const toml::source_region& where, int width, Diagnostic diagnostic);
  void add(const Document& document, const toml::node& node, Diagnostic diagnostic);
  void add(const Document& document, const toml::key& key, Diagnostic diagnostic);
  void warn(const Document& document, const toml::node& node, Diagnostic diagnostic);

  [[nodiscard]] bool any() const { return !errors_.empty(); }
  /// How often a fault was added, the same one again too: tells whether what was just read had any.
  [[nodiscard]] std::size_t count() const { return added_; }
  /// Whether a fault was reported for the key with this path, such as "tool.my smoother.width_mm".
  [[nodiscard]] bool                           has_fault_at(std::string_view path) const;
  [[nodiscard]] const std::vector<Diagnostic>& warnings() const { return warnings_; }
  /// Throws all that was found, in the order of the files, as one Error (Exit::usage).
  void throw_if_any();

 private:
  void add_once(std::vector<Diagnostic>& list, Diagnostic diagnostic);

  std::vector<Diagnostic> errors_;
  std::vector<Diagnostic> warnings_;
  std::set<std::string>   told_;
  std::size_t             added_ = 0;
};

}  // namespace arris
