// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

#include "sim/studies/answer.hpp"

/// A simulation as text for a terminal: an answer in a sentence, a line per edge, and each step of each edge.
namespace arris {

struct Comparison;
struct EdgeResult;
struct Loaded;
struct SimulationResult;

/// On what results of a configuration rest, in sentences.
[[nodiscard]] std::string rests_on(const Loaded& loaded);

/// A step in a line: "hone on soft waterstone, JIS #1000".
[[nodiscard]] std::string step_said(const std::string& verb, const std::string& subject);

/// What readings are taken from where that is not the reduced law; empty where it is.
[[nodiscard]] std::string outline_sentence(const SimulationResult& result);

/// What was asked and what came out, one or two sentences.
[[nodiscard]] std::string simulation_answer(const Loaded& loaded, const SimulationResult& result);

/// A line per edge: its reading off the stones, ready for work, and after work, and how long it lasts.
[[nodiscard]] std::string simulation_overview(const Loaded& loaded, const SimulationResult& result);

/// Every step of one edge.
[[nodiscard]] std::string edge_text(const Loaded& loaded, const EdgeResult& edge);

/// What is said in files: the answer, a sentence on how well readings are met where there are any, what failed.
[[nodiscard]] Answer simulation_sentences(const Loaded& loaded, const SimulationResult& result,
                                          const std::optional<Comparison>& comparison);

/// Measured beside predicted.
[[nodiscard]] std::string comparison_text(const Comparison& comparison);

}  // namespace arris
