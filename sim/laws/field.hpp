// SPDX-License-Identifier: MIT
#pragma once

#include <limits>
#include <string_view>

#include "sim/numbers.hpp"

/// Description of one value of a configuration table: its key with the unit in it, its range, what it means and on
/// what its default rests. A table lists its members once, in a static function `fields`; loading, defaults,
/// checking, printing, documentation and bindings all read that list.
///
///     struct Tester {
///       double slope_N_per_um = 4.0;
///       template <class V, class... S> static void fields(V&& v, S&... s) {
///         v(field("slope_N_per_um").between(0.1, 50).estimate().prior(2).says("force per apex radius"), s.slope_N_per_um...);
///       }
///     };
///
/// `fields` takes several objects so that one table can be copied into the same table over another number type.
/// A member that is NaN by default has no default: it is required, or derived from others where `derived()` says so.
namespace arris {

/// A unit that may end a key, its physical kind, and what one of it is in the first unit of that kind.
struct Unit {
  std::string_view suffix;  ///< as written at the end of a key
  std::string_view symbol;  ///< as printed
  std::string_view kind;    ///< units of one kind can stand for each other; empty: only for itself
  double           scale;   ///< in the base unit of the kind
};

inline constexpr Unit known_units[] = {
    {"N_per_um", "N/µm", "", 1},
    {"N_per_m", "N/m", "", 1},
    {"um2_per_m", "µm²/m", "", 1},
    {"um_per_m", "µm/m", "", 1},
    {"per_pct", "1/%", "", 1},
    {"nm", "nm", "length", 1e-9},
    {"um", "µm", "length", 1e-6},
    {"mm", "mm", "length", 1e-3},
    {"cm", "cm", "length", 1e-2},
    {"m", "m", "length", 1},
    {"in", "in", "length", 0.0254},
    {"N", "N", "force", 1},
    {"gf", "gf", "force", 9.80665e-3},
    {"kgf", "kgf", "force", 9.80665},
    {"lbf", "lbf", "force", 4.4482216152605},
    {"Pa", "Pa", "pressure", 1},
    {"kPa", "kPa", "pressure", 1e3},
    {"MPa", "MPa", "pressure", 1e6},
    {"GPa", "GPa", "pressure", 1e9},
    {"deg", "°", "angle", 0.017453292519943295},
    {"rad", "rad", "angle", 1},
    {"pct", "%", "", 1},
    {"hrc", "HRC", "", 1},
    {"s", "s", "time", 1},
    {"min", "min", "time", 60},
    {"h", "h", "time", 3600},
};

/// The unit at the end of `key`, or nullptr when it carries none ("cutting_rate").
[[nodiscard]] constexpr const Unit* unit_of(std::string_view key) {
  const Unit* found = nullptr;
  for (const Unit& unit : known_units) {
    const auto size = unit.suffix.size();
    if (key.size() > size + 1 && key.substr(key.size() - size) == unit.suffix &&
        key[key.size() - size - 1] == '_' && (found == nullptr || size > found->suffix.size())) {
      found = &unit;
    }
  }
  return found;
}

struct Field {
  std::string_view key;
  double           low          = -std::numeric_limits<double>::infinity();
  double           high         = std::numeric_limits<double>::infinity();
  std::string_view status       = "";     ///< on what the default rests
  std::string_view doc          = "";     ///< one clause, lower case, no full stop
  double           prior_factor = 0.0;    ///< geometric standard deviation of the log-normal prior; 0: none
  bool             is_derived   = false;  ///< filled in from other values when it is not given
  bool             is_optional  = false;  ///< may stay empty (NaN, empty text)
  std::string_view own_unit     = "";     ///< symbol of its unit where the key does not end with it

  [[nodiscard]] constexpr Field between(double least, double most) const {
    Field f = *this;
    f.low   = least;
    f.high  = most;
    return f;
  }
  [[nodiscard]] constexpr Field says(std::string_view text) const {
    Field f = *this;
    f.doc   = text;
    return f;
  }
  [[nodiscard]] constexpr Field rests_on(std::string_view text) const {
    Field f  = *this;
    f.status = text;
    return f;
  }
  [[nodiscard]] constexpr Field estimate() const { return rests_on("estimate"); }
  [[nodiscard]] constexpr Field common_practice() const { return rests_on("common practice, no source"); }
  /// The default comes out of the calibration in configs/calibration.
  [[nodiscard]] constexpr Field calibrated() const { return rests_on("fitted to facts of the trade"); }
  [[nodiscard]] constexpr Field prior(double factor) const {
    Field f        = *this;
    f.prior_factor = factor;
    return f;
  }
  [[nodiscard]] constexpr Field derived() const {
    Field f      = *this;
    f.is_derived = true;
    return f;
  }
  [[nodiscard]] constexpr Field optional() const {
    Field f       = *this;
    f.is_optional = true;
    return f;
  }
  [[nodiscard]] constexpr std::string_view unit_symbol() const {
    const Unit* unit = unit_of(key);
    return !own_unit.empty() ? own_unit : unit != nullptr ? unit->symbol : std::string_view{};
  }
};

[[nodiscard]] constexpr Field field(std::string_view key) { return Field{key}; }

}  // namespace arris
