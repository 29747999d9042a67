// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/studies/sweep/sweep.hpp"

/// Questions that are asked again and again, as sweeps of an edge of one's own: inputs, ranges and outputs are chosen for
/// them, and the answer is put in their own words (sweep_answer).
///
/// Ranges are common practice, no source: wide enough that what is best lies inside for usual blades and strops.
namespace arris {

/// How the label of a step ends whose strokes are counted once it has raised a burr: none of them is not none at all.
inline constexpr std::string_view from_the_burr = ", from the burr on";

struct SweepQuestion {
  const char*                      name;
  const char*                      asks;      ///< the question, as a sentence
  const char*                      needs;     ///< the kind of step that an edge must have for it
  std::function<bool(const Step&)> is_about;  ///< steps that it can be asked about
};

[[nodiscard]] const std::vector<SweepQuestion>& sweep_questions();

/// The question of that name. Throws Error (Exit::usage, "unknown-question").
[[nodiscard]] const SweepQuestion& sweep_question(const std::string& name);

/// The sweep that answers a question about `plan`. `step` (from 0) is the step it is about, by default the first that fits;
/// `output_of` gives an output by its name. For "wood" every wood of the model is taken.
/// Throws Error (Exit::usage): "question-does-not-apply" where the edge, or that step, has nothing it could be about.
[[nodiscard]] SweepDefinition define_question(
    const SweepQuestion& question, const Scenario& scenario, const EdgePlan& plan, std::optional<int> step,
    const std::function<SweepOutput(const std::string&)>& output_of);

}  // namespace arris
