// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "sim/input/document.hpp"
#include "sim/input/given_fields.hpp"
#include "sim/laws/field.hpp"

/// Fills the structs of a configuration from TOML tables, by their `fields`: types, units, ranges, unknown keys.
namespace arris {

using Origins = std::map<std::string, Origin>;  ///< by path, such as "wood.white oak.silica_pct"

/// Where a table is being read from, and what is known about it.
struct Place {
  const Document*          document = nullptr;
  const toml::table*       table    = nullptr;
  std::string              path;   ///< "wood.white oak."
  std::vector<std::string> extra;  ///< further keys that the caller reads itself
};

class TableReader {
 public:
  /// What a text becomes whose fault is reported already; no name can be this, and nothing need be said of it again.
  static constexpr const char* unreadable = "\x01";

  TableReader(Findings& findings, Origins& origins) : findings_(findings), origins_(origins) {}

  /// Reads what `place` states into `target`; what it does not state is left alone. All faults go to the findings.
  template <class S>
  void read(const Place& place, S& target) {
    std::set<std::string>    used(place.extra.begin(), place.extra.end());
    std::vector<std::string> known(place.extra.begin(), place.extra.end());
    S::fields([&](const Field& field, auto&) { known.emplace_back(field.key); }, target);
    S::fields(
        [&](const Field& field, auto& member) {
          if (const Match match = find(place, field, known, used); match.node != nullptr) {
            store(place, field, match, member);
          }
        },
        target);
    report_unknown(place, used, known);
  }

  /// Reports every field of `target` that has neither a value nor a default.
  template <class S>
  void require(const Place& place, const S& target) {
    S::fields(
        [&](const Field& field, const auto& member) {
          if (field.is_derived || field.is_optional || is_given(member)) return;
          if (place.table->contains(without_unit(field.key)))
            return;  // reported already: it is there, without its unit
          findings_.add(*place.document, place.table->source(), 1,
                        {.code = "missing-key",
                         .what = fmt::format("{} has no {}: {}", describe(place.path), field.key, field.doc),
                         .allowed = range(field),
                         .next    = place.document->is_shipped
                                        ? fmt::format("No source gives it. State your own: {} with {} = …",
                                                      describe(place.path), field.key)
                                        : fmt::format("Add {} = …", field.key),
                         .key     = place.path + std::string(field.key)});
        },
        target);
  }

  /// "0.1 … 500 N"
  [[nodiscard]] static std::string range(const Field& field);
  /// "width" of "width_mm"
  [[nodiscard]] static std::string without_unit(std::string_view key);
  /// "tool.jack plane." as [tool."jack plane"]
  [[nodiscard]] static std::string describe(const std::string& path);

 private:
  struct Match {
    const toml::key*  key   = nullptr;
    const toml::node* node  = nullptr;
    double            scale = 1.0;  ///< from the unit written to the unit of the field
  };

  [[nodiscard]] Match find(const Place& place, const Field& field, const std::vector<std::string>& known,
                           std::set<std::string>& used);
  void                report_unknown(const Place& place, const std::set<std::string>& used,
                                     const std::vector<std::string>& known);

  void store(const Place& place, const Field& field, const Match& match, double& member);
  void store(const Place& place, const Field& field, const Match& match, int& member);
  void store(const Place& place, const Field& field, const Match& match, bool& member);
  void store(const Place& place, const Field& field, const Match& match, std::string& member);

  /// The value itself, out of `{ value = …, status = …, source = … }` where it is written so; notes the origin.
  const toml::node& unwrap(const Place& place, const Field& field, const Match& match);
  /// Number in the unit of the field, NaN after a fault.
  double number(const Place& place, const Field& field, const Match& match);

  Findings& findings_;
  Origins&  origins_;
};

}  // namespace arris
