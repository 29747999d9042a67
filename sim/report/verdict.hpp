// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/report/section.hpp"

namespace arris::report {

/// What a page of several results says first: the question, one sentence, one picture, how sure it is and what to do.
struct Verdict {
  std::string              question, sentence;
  std::optional<Figure>    figure;
  std::vector<std::string> certainty, next;
};

/// Made of the numbers that the results hold, and of nothing else. Nothing where no ways of sharpening were compared. `compared` and
/// `upkeep` are results of these commands; the second may be null.
[[nodiscard]] std::optional<Verdict> verdict_of(const StoredResult& compared, const StoredResult* upkeep);

/// The first of the edges that follow the way which reads lowest; nothing where no ways were compared.
[[nodiscard]] std::optional<std::string> edge_of_lowest_way(const StoredResult& compared);

}  // namespace arris::report
