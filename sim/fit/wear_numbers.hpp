// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/history/scenario.hpp"

/// A wear law as its name and the numbers in it, by the paths that a configuration writes: "wear.exponent".
namespace arris {

inline constexpr std::string_view wear_prefix = "wear.";

[[nodiscard]] inline bool is_wear_path(std::string_view path) {
  return path.substr(0, wear_prefix.size()) == wear_prefix;
}

struct WearNumbers {
  std::vector<std::string> paths;
  std::vector<double>      values;
};

[[nodiscard]] WearNumbers wear_numbers(laws::HeldWearLaw<double> law);

/// The law with these numbers at these paths; paths that are none of it change nothing.
[[nodiscard]] laws::HeldWearLaw<double> with_wear_numbers(laws::HeldWearLaw<double>       law,
                                                          const std::vector<std::string>& paths,
                                                          const std::vector<double>&      values);

/// "power"; of a formula "formula: TEXT".
[[nodiscard]] std::string wear_law_text(const laws::HeldWearLaw<double>& law);

/// The law that has this text, with its default numbers: a built-in one, or a formula of the scenario. Nothing where there is none.
[[nodiscard]] std::optional<laws::HeldWearLaw<double>> wear_law_of_text(const std::string& text,
                                                                        const Scenario&    scenario);

/// Whether "wear.LAW.KEY" names a number of a law that the program has, or of one of these formulas.
[[nodiscard]] bool is_rival_path(const std::string& path, const std::vector<NamedFormula>& formulas);

}  // namespace arris
