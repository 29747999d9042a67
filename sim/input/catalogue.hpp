// SPDX-License-Identifier: MIT
#pragma once

#include <deque>
#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/input/document.hpp"

/// The named entries of all documents at hand: the shipped material tables first, then included files, then the
/// configuration itself. A later document may add entries, or state some keys of an earlier entry anew.
namespace arris {

struct Entry {
  std::string name;  ///< as the first document spells it
  /// The tables that state it, earliest first.
  std::vector<std::pair<const Document*, const toml::table*>> layers;
};

class Catalogue {
 public:
  /// Tables of each `kind` that a document holds become entries; malformed ones go to the findings.
  void add(const Document& document, Findings& findings);

  /// By name or by another name of it (`also`), whatever the case of its letters; nullptr when there is none.
  [[nodiscard]] const Entry*             find(std::string_view kind, std::string_view name) const;
  [[nodiscard]] const std::deque<Entry>& entries(const std::string& kind) const;
  [[nodiscard]] std::vector<std::string> names(const std::string& kind) const;
  /// Names, in quotes, of entries that share a word of three letters or more with `name` in one of their names.
  [[nodiscard]] std::vector<std::string> with_a_word_of(const std::string& kind,
                                                        const std::string& name) const;

  /// The kinds of table that hold named entries.
  static const std::vector<std::string>& kinds();

 private:
  void add_entry(const Document& document, const std::string& kind, const toml::key& key,
                 const toml::table& table, Findings& findings);

  std::map<std::string, std::deque<Entry>, std::less<>>                  entries_;
  std::map<std::string, std::map<std::string, std::size_t>, std::less<>> index_;  ///< lower-cased names
};

/// Lower case, with the micro sign in one form; for comparing names.
[[nodiscard]] std::string folded(std::string_view name);

/// The material tables built into the program (configs/materials), parsed once.
[[nodiscard]] const std::deque<Document>& shipped_materials();

/// Their entries, put together once: where every catalogue begins.
[[nodiscard]] const Catalogue& shipped_catalogue();

/// A grit, in micrometres.
struct GritSize {
  double      size_um = 0.0;
  std::string standard;  ///< empty for micrometres given directly
  std::string status;
  std::string source;
};

/// Reads "P800", "F800", "JIS #1000", "CAMI 400", "D46", "9 µm". Throws Error (Exit::usage): "grit-without-standard" for
/// a bare number, listing what it could mean, "unknown-grit" for a number that the standard does not have.
[[nodiscard]] GritSize parse_grit(const Catalogue& catalogue, std::string_view text);

/// Indentation hardness in GPa of a Rockwell C hardness of 40 … 68, by linear interpolation in ASTM E140 (HV·9.80665e-3).
[[nodiscard]] double hardness_GPa(double hrc);

}  // namespace arris
