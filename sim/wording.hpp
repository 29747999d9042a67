// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

/// Numbers, lists and suggestions as sentences have them: one rounding, one way to join and one way to ask what was meant for every
/// answer, message and report.
namespace arris {

/// "a, b and c".
[[nodiscard]] std::string and_list(const std::vector<std::string>& items);

/// "a, b or c", at most `most` of them: "a, b … and 7 more".
[[nodiscard]] std::string or_list(const std::vector<std::string>& items, std::size_t most = 12);

/// `Did you mean "…"?` with the known name nearest to `word` (text.hpp), then what else there is to do; that alone where no name is
/// near enough. `written` is how the name stands in the question, with {} in its place: "--{}".
[[nodiscard]] std::string did_you_mean(std::string_view word, const std::vector<std::string>& known,
                                       std::string_view else_do = {}, std::string_view written = "\"{}\"");

/// "1 edge", "3 edges"; `many` where an s does not make the plural: counted(2, "pass", "passes").
[[nodiscard]] std::string counted(long long n, std::string_view one, std::string_view many = {});

/// So many significant digits without an exponent and without zeros behind them: 0.0657, 37, 1234. Whole digits are never rounded
/// away. Empty for NaN.
[[nodiscard]] std::string plain(double value, int significant = 3);

/// As one says a reading or a per cent: two digits below 10, else whole, save that 99.5 is not 100. Empty for NaN.
[[nodiscard]] std::string short_number(double value);

/// A share in per cent: 0.084 → "8.4 %", 0.37 → "37 %", 0.995 → "99.5 %".
[[nodiscard]] std::string percent(double share);

}  // namespace arris
