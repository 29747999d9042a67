// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <string>
#include <string_view>
#include <type_traits>

#include "sim/laws/field.hpp"

/// Wear of specimens that are no blades: pins, inserts, scars. A wear law (sim/laws/wear) is met as by an edge, in another state.
///
///     dw/dx = S·f(w₀ + w, x),   w(0) = 0,   S = c·(F/F₀)^n
///
/// | symbol | C++                 | meaning                                                     | unit | range        | default |
/// |--------|---------------------|-------------------------------------------------------------|------|--------------|---------|
/// | w      | –                   | wear: depth, land or scar that has been worn                | µm   | ≥ 0          | –       |
/// | x      | –                   | metres, minutes or passes (`per`)                           | m, min, 1 | ≥ 0     | –       |
/// | f      | –                   | rate of the wear law, whose radius is w₀ + w and whose metre is one of x | µm per x | ≥ 0 | – |
/// | w₀     | `start_um`          | wear that the law begins with, beside what is measured      | µm   | 1e-6 … 1e5   | 1       |
/// | F, F₀  | `reference_load_N`  | load; that at which the numbers of the law are stated       | N    | 1e-6 … 1e6   | –       |
/// | n      | `load_exponent`     | how the rate grows with the load (1: Archard)               | –    | 0 … 6        | 1       |
/// | c      | `wear_factor`       | of the counterface or lubricant (`[counterface.NAME]`)      | –    | 1e-6 … 1e6   | 1       |
///
/// With the law `constant-rate` that is Archard's, w = k·c·(F/F₀)^n·x, where w₀ says nothing. Under laws that slow with the state a small w₀ is a
/// fast run-in. Neither collapse of a tip, burr nor chips act on a specimen.
/// Source: Archard 1953 for n = 1; other exponents are empirical. w₀ is an estimate. Throws nothing.
///
///     Specimen<double> pin;            // n = 1
///     pin.reference_load_N = 10.0;
///     pin.severity(20.0, 0.5);         // 1: twice the load, on a counterface that wears it half as fast
namespace arris {

template <class T>
struct Specimen {
  bool        in_use           = false;  ///< whether the configuration is of specimens; no key of it
  std::string quantity         = "wear";
  std::string unit             = "um";
  std::string per              = "metre";
  std::string noise            = "log";
  T           load_exponent    = T(1.0);
  T           reference_load_N = T(not_given);
  T           start_um         = T(1.0);
  T           detection_um     = T(not_given);
  T           reading_sd_um    = T(not_given);
  /// What readings show on average, once they are known; 0 before. No keys of it: by them wear laws are compared (fit/law_growth.hpp).
  double typical_way = 0.0, typical_um = 0.0;

  [[nodiscard]] bool is_additive() const { return in_use && noise == "additive"; }
  /// S.
  [[nodiscard]] T severity(double load_N, const T& wear_factor) const {
    using std::pow;
    if (std::isnan(load_N)) return wear_factor;  // no load is stated of any
    return wear_factor * pow(T(load_N) / reference_load_N, load_exponent);
  }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("quantity").says("what is measured of a specimen, in your own words: flank wear, depth of the scar"), s.quantity...);
    v(field("unit").says("in what results tell it: um or mm"), s.unit...);
    v(field("per").says("in what the way of a specimen counts: metre, minute or pass"), s.per...);
    v(field("noise").says("how readings scatter about the wear: log, by so many per cent, or additive, by so many micrometres"), s.noise...);
    v(field("load_exponent").between(0, 6).estimate().prior(1.5).says("how the rate of wear grows with the load; 1 is Archard's"),
      s.load_exponent...);
    v(field("reference_load_N").between(1e-6, 1e6).optional().says("load at which the numbers of the wear law are stated; needed where steps state theirs"),
      s.reference_load_N...);
    v(field("start_um").between(1e-6, 1e5).estimate().prior(3).says("wear that the law begins with, beside what is measured: the smaller, the faster the run-in of a law that slows"),
      s.start_um...);
    v(field("detection_um").between(1e-6, 1e5).optional().says("wear that the instrument just sees: a reading below it, or of 0, says no more than that"),
      s.detection_um...);
    v(field("reading_sd_um").between(1e-6, 1e5).optional().says("standard deviation of a reading where noise is additive; a fit finds it"),
      s.reading_sd_um...);
    // clang-format on
  }
};

/// `[counterface.NAME]`: what specimens wear on, with what lies between.
template <class T>
struct Counterface {
  std::string name;
  T           wear_factor = T(1.0);
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("wear_factor").between(1e-6, 1e6).estimate().prior(3).says("how many times as fast as by the law a specimen wears on it"),
      s.wear_factor...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// How a length of wear is told, and what its way counts in.
struct WearUnits {
  std::string quantity;    ///< "flank wear"
  const char* symbol;      ///< "µm" or "mm"
  const char* suffix;      ///< "um" or "mm", of columns
  double      per_um;      ///< a µm in that unit
  const char* way;         ///< "metres", "minutes" or "passes", of columns and people
  const char* way_symbol;  ///< "m", "min" or "1"
  const char* per_way;     ///< "/m", "/min" or "/pass", behind the unit of a rate
};

template <class T>
[[nodiscard]] WearUnits wear_units(const Specimen<T>& s) {
  const bool mm = s.unit == "mm", minutes = s.per == "minute", passes = s.per == "pass";
  return {s.quantity,
          mm ? "mm" : "µm",
          mm ? "mm" : "um",
          mm ? 1e-3 : 1.0,
          minutes  ? "minutes"
          : passes ? "passes"
                   : "metres",
          minutes  ? "min"
          : passes ? "1"
                   : "m",
          minutes  ? "/min"
          : passes ? "/pass"
                   : "/m"};
}

/// The field of a number of a wear law as specimens have it: rates may be far from those of blades in wood, and are per minute or pass
/// where the way counts in these.
template <class T>
[[nodiscard]] Field wear_field(const Field& of_law, const Specimen<T>& s) {
  if (!s.in_use) return of_law;
  constexpr double wider = 1e6;
  Field            f     = of_law;
  const auto       unit  = of_law.unit_symbol();
  if (unit.empty()) {
    f.doc = "shape of the wear law";
    return f;
  }
  f.high = of_law.high * wider;
  if (f.prior_factor > 0.0) f.prior_factor = 10.0;
  if (of_law.low > 0.0) f.low = of_law.low / wider;
  const bool minutes = s.per == "minute", passes = s.per == "pass";
  if (unit == "µm/m") f.own_unit = minutes ? "µm/min" : passes ? "µm/pass" : unit;
  if (unit == "µm²/m") f.own_unit = minutes ? "µm²/min" : passes ? "µm²/pass" : unit;
  if (unit == "m") f.own_unit = minutes ? "min" : passes ? "passes" : unit;
  const bool rate = unit == "µm/m" || unit == "µm²/m";
  f.doc           = rate ? "rate of the wear law at the reference load, per metre, minute or pass"
                         : "number of the wear law";
  return f;
}

}  // namespace arris
