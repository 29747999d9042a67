// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "sim/laws/field.hpp"

/// The text of a formula, parsed by muParser: numbers in, one number out, with derivatives by differences.
///
/// Operators + − * / ^, comparisons, `a ? b : c`; functions sqrt, exp, ln = log, log10, log2, sin, cos, tan and their kin,
/// abs, min, max, sign; the constant pi. `-2^2` is −4 and `2^3^2` is 2⁹, as usual.
///
/// A program can be used by several threads at a time: each keeps its own parser, since muParser's are not safe to share.
/// Built without ARRIS_WITH_FORMULA there is no muParser, and compile_formula says so.
///
/// In the place of a text there can be a function of the host program (foreign_formula), such as one written in Python: what holds
/// of a formula holds of it, derivatives by differences too.
namespace arris::laws {

/// What a formula can use without declaring it.
struct FormulaInput {
  std::string_view name;
  std::string_view unit;
  std::string_view says;
};

inline constexpr std::array<FormulaInput, 10> formula_inputs{{
    {"r", "µm", "apex radius"},
    {"x", "m", "path since the edge last met an abrasive"},
    {"severity", "1", "how many times as fast as the reference case the blade wears in this wood"},
    {"hardness", "GPa", "indentation hardness of the blade"},
    {"wear_ratio", "1", "wear of the steel relative to O1 at the same hardness"},
    {"half_angle", "rad", "half of the included angle"},
    {"side_hardness", "N", "Janka side hardness of the wood"},
    {"load", "MPa", "mean pressure that crushes the wood, side hardness over 100 mm²"},
    {"silica_pct", "%", "silica in the wood"},
    {"extractive_factor", "1", "wear in the wood beyond what hardness and silica give"},
}};

inline constexpr std::size_t path_input     = 1;  ///< x among the inputs
inline constexpr std::size_t formula_states = 2;  ///< of the inputs: r and x, which nothing can replace
inline constexpr std::size_t most_formula_parameters = 32;
inline constexpr std::size_t most_formula_values     = formula_inputs.size() + most_formula_parameters;

/// A number that a formula declares.
struct FormulaParameter {
  std::string name;
  std::string unit;  ///< as written; "1" for a pure number, empty where the name ends with the unit
  double      low    = -std::numeric_limits<double>::infinity();
  double      high   = std::numeric_limits<double>::infinity();
  double      factor = 0.0;  ///< geometric standard deviation of its prior; 0: none
  std::string says;          ///< one clause
  std::string status;        ///< on what its value rests

  /// Its description as of a key of a table; valid as long as the parameter is.
  [[nodiscard]] Field field() const;
};

/// Why a text is no formula.
struct FormulaFault {
  std::string              code;
  std::string              what;
  std::string              allowed;
  std::string              next;
  std::size_t              at   = std::string::npos;  ///< byte of the text; npos: all of it
  std::size_t              size = 1;                  ///< bytes
  std::string              unknown;                   ///< a name that nothing has
  std::vector<std::string> known;                     ///< the names there are, where one is unknown
};

/// A rate that the host program works out.
struct ForeignRate {
  std::string name;  ///< as a configuration names it
  std::vector<std::string>
      arguments;  ///< what it is given, in this order: inputs of formulas, and parameters
  std::function<double(const double*)>
      rate;  ///< µm/m; called from any thread, several at a time; throws nothing
};

class FormulaProgram {
 public:
  /// The formula, or the name of the function that stands in its place.
  [[nodiscard]] const std::string&                   text() const { return text_; }
  [[nodiscard]] bool                                 is_foreign() const { return foreign_ != nullptr; }
  [[nodiscard]] const std::vector<FormulaParameter>& parameters() const { return parameters_; }
  /// Numbers that an evaluation reads: the inputs, then the parameters.
  [[nodiscard]] std::size_t size() const { return formula_inputs.size() + parameters_.size(); }
  /// Whether the formula mentions value i. An input whose name a parameter takes is not mentioned.
  [[nodiscard]] bool uses(std::size_t i) const { return used_[i]; }

  /// The rate in µm/m at `values` (size() of them). Any thread; allocates at the first call of each only.
  [[nodiscard]] double rate(const double* values) const;

  /// d rate/d value i, by central differences of fourth order,
  ///     (8·(f(v + h) − f(v − h)) − (f(v + 2h) − f(v − 2h)))/(12·h),   h = step·|v|,  and step where v = 0,
  /// wrong by step⁴·v⁵·f⁽⁵⁾/(30·v): some 1e-12 for powers and exponentials. Where one of them has no value, as √v below 0,
  /// by forward differences of the same order. `values` is put back as it was.
  [[nodiscard]] double slope(double* values, std::size_t i, double step = 1e-3) const;

 private:
  friend std::shared_ptr<const FormulaProgram> compile_formula(const std::string&,
                                                               std::vector<FormulaParameter>, FormulaFault&);
  friend std::shared_ptr<const FormulaProgram> foreign_formula(const ForeignRate&,
                                                               std::vector<FormulaParameter>, FormulaFault&);
  class Evaluator;
  FormulaProgram(std::string text, std::vector<FormulaParameter> parameters);
  [[nodiscard]] Evaluator& evaluator() const;
  [[nodiscard]] double     foreign_rate(const double* values) const;

  std::string                           text_;
  std::vector<FormulaParameter>         parameters_;
  std::array<bool, most_formula_values> used_{};
  std::uint64_t                         id_;
  std::function<double(const double*)>  foreign_;
  std::vector<std::size_t>              order_;  ///< of the numbers that it is given, by its arguments
};

/// The formula `text` with the parameters it declares, or nothing and a fault: "formula-syntax" with the place,
/// "unknown-variable", "unused-parameter", "taken-name", "too-many", "no-formula" where the program has no muParser.
/// Parameters come in the order in which the formula mentions them.
[[nodiscard]] std::shared_ptr<const FormulaProgram> compile_formula(const std::string&            text,
                                                                    std::vector<FormulaParameter> parameters,
                                                                    FormulaFault&                 fault);

/// The same with a function of the host program in the place of a text; the faults are those of names and numbers.
[[nodiscard]] std::shared_ptr<const FormulaProgram> foreign_formula(const ForeignRate&            function,
                                                                    std::vector<FormulaParameter> parameters,
                                                                    FormulaFault&                 fault);

/// What is found where a formula is tried out.
struct FormulaProbe {
  bool   usable = true;             ///< finite and not negative everywhere
  double r_um = 0.0, path_m = 0.0;  ///< where it is not
  double rate = 0.0;                ///< its value there
  std::vector<double>
      kinks_r_um;  ///< radii near which derivatives at two step sizes disagree, one for each run of them
  std::vector<double> kinks_path_m;  ///< paths likewise
  std::string rough;  ///< name of a value, other than those, on which the formula does not depend smoothly
};

/// Tries a formula over apex radii of 0.02 to 20 µm and paths from 0 to `longest_path_m`, the other `values` as they are:
/// is it finite and not negative, and do its derivatives hold? Those are compared at steps of 1 % and 0.5 % on grids so fine
/// that a kink or a jump anywhere lies within a step of a point.
[[nodiscard]] FormulaProbe probe_formula(const FormulaProgram& program, std::vector<double> values,
                                         double longest_path_m);

}  // namespace arris::laws
