// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <memory>
#include <string_view>
#include <vector>

#include "sim/laws/field.hpp"
#include "sim/laws/number.hpp"
#include "sim/laws/wear/conditions.hpp"
#include "sim/laws/wear/formula_program.hpp"

/// Wear in wood by a formula of the user's own, stated in the configuration.
///
///     dr/dx = f(r, x, conditions; parameters)   in µm per metre
///
/// | symbol     | C++          | meaning                                          | unit     | range    | default |
/// |------------|--------------|--------------------------------------------------|----------|----------|---------|
/// | f          | `program`    | the formula (formula_program.hpp: what it knows) | µm/m     | ≥ 0      | –       |
/// | parameters | `values`     | numbers it declares, in the order of the program | declared | declared | –       |
/// | conditions | `conditions` | wood, steel and angle (conditions.hpp)           | –        | –        | reference |
///
/// Unlike the other laws it is not scaled by the severity of a wood: the formula says where that enters. Numbers with
/// derivatives get those of f by differences (FormulaProgram::slope), about 1e-12 from exact where f is smooth.
/// Source: the user's. Throws nothing; without a program its rate is NaN.
///
///     FormulaFault fault;
///     Formula<double> law{compile_formula("k*severity/r^q", {{.name = "k"}, {.name = "q"}}, fault), {1.8e-3, 1.0}};
///     law.rate(0.5, 0.0);     // 3.6e-3 µm per metre
namespace arris::laws {

template <class T>
struct Formula {
  static constexpr std::string_view law_name = "formula";

  std::shared_ptr<const FormulaProgram> program;
  std::vector<T>                        values;  ///< one per parameter of the program
  WearConditions<T>                     conditions;

  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& apex_radius_um, const T& path_m) const {
    if (program == nullptr) return T(not_given);
    const std::array<const T*, formula_inputs.size()> inputs{&apex_radius_um,
                                                             &path_m,
                                                             &conditions.severity,
                                                             &conditions.hardness_GPa,
                                                             &conditions.wear_ratio,
                                                             &conditions.half_angle,
                                                             &conditions.side_hardness_N,
                                                             &conditions.side_hardness_N,  // load, below
                                                             &conditions.silica_pct,
                                                             &conditions.extractive_factor};
    constexpr std::size_t                             load = 7;
    static_assert(formula_inputs[load].name == "load");
    const auto number = [&](std::size_t i) -> const T& {
      return i < inputs.size() ? *inputs[i] : values[i - inputs.size()];
    };
    constexpr double                        per_load = 0.01;  // N over 100 mm², in MPa
    std::array<double, most_formula_values> plain;
    for (std::size_t i = 0; i < program->size(); ++i) plain[i] = Number<T>::value(number(i));
    plain[load] *= per_load;
    T out(program->rate(plain.data()));
    for (std::size_t i = 0; i < program->size(); ++i) {
      const T& x = number(i);
      if (!program->uses(i) || !Number<T>::varies(x)) continue;
      const double slope = program->slope(plain.data(), i) * (i == load ? per_load : 1.0);
      out += slope * (x - Number<T>::value(x));  // the derivatives of x alone
    }
    return out;
  }
  /// Whether the rate depends on the radius alone, not on the path: a stage of it is then an integral.
  [[nodiscard]] bool by_radius_alone() const { return program != nullptr && !program->uses(path_input); }
  /// The same law where wood, steel and angle are these.
  [[nodiscard]] Formula under(const WearConditions<T>& now) const { return {program, values, now}; }
  [[nodiscard]] Formula times(const T& severity) const {
    Formula out             = *this;
    out.conditions.severity = out.conditions.severity * severity;
    return out;
  }

  /// Takes over the formula of another, so that `fields` sees the same parameters in both.
  template <class From>
  void shape_like(const Formula<From>& other) {
    program = other.program;
    values.assign(other.values.size(), T(0.0));
  }

  template <class V, class First, class... S>
  static void fields(V&& v, First& first, S&... s) {
    for (std::size_t i = 0; i < first.values.size(); ++i)
      v(first.program->parameters()[i].field(), first.values[i], s.values[i]...);
  }
};

}  // namespace arris::laws
