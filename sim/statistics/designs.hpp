// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

/// Points that fill a unit cube evenly: where to try a model of several inputs.
///
/// Sobol sequence: Sobol' 1967, with the direction numbers of Joe & Kuo 2008 (SIAM J. Sci. Comput. 30, 2635) as Boost.Random has them,
/// randomised by a digital shift: each coordinate's digits are changed by the same random ones (L'Ecuyer & Lemieux 2002), which keeps how
/// evenly points lie. Latin hypercube: McKay, Beckman & Conover 1979. Sources from memory.
namespace arris {

enum class DesignKind { sobol, latin_hypercube };

/// "sobol" or "latin-hypercube"; nothing for other names.
[[nodiscard]] std::optional<DesignKind> design_kind(std::string_view name);

/// Most inputs that a design can have.
inline constexpr std::size_t most_design_inputs = 200;

/// `count` points of `inputs` coordinates in [0, 1), point by point; inputs 1 … most_design_inputs. `seed` 0 gives the Sobol sequence
/// itself, which begins with the point at the origin. Of powers of two points a Sobol sequence is balanced. The same bits everywhere.
[[nodiscard]] std::vector<double> unit_design(DesignKind kind, std::size_t count, std::size_t inputs,
                                              unsigned long long seed);

/// A range of an input: equal steps, or equal ratios, are equally likely.
struct DesignRange {
  double low = 0.0, high = 1.0;
  bool   log = false;

  /// The value at `u` in [0, 1].
  [[nodiscard]] double at(double u) const;
};

}  // namespace arris
