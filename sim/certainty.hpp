// SPDX-License-Identifier: MIT
#pragma once

#include <string>

/// One scale of words for how likely something is, for every sentence that the program prints.
///
/// The words and their bounds are those of calibrated likelihood in the assessment reports on climate: Mastrandrea et al. 2010,
/// Guidance Note for Lead Authors of the IPCC Fifth Assessment Report on Consistent Treatment of Uncertainties, table 1 (bounds from
/// memory; where two words hold, the stronger one is taken).
namespace arris {

/// `share` in 0 … 1: "virtually certain" from 0.99, "very likely" from 0.90, "likely" from 0.66, "about as likely as not" from 0.33,
/// "unlikely" from 0.10, "very unlikely" from 0.01, below that "exceptionally unlikely".
[[nodiscard]] std::string likelihood_word(double share);

/// The word with its number: "very likely (93 %)"; beyond what so many versions of a model can tell "virtually certain (over 99 %)".
[[nodiscard]] std::string likelihood(double share);

/// A probability value in words: "by chance once in 40 times", "by chance less than once in 1000 times".
[[nodiscard]] std::string by_chance(double p);

/// The scale in one sentence, to be printed once where its words are used.
[[nodiscard]] const std::string& likelihood_scale();

}  // namespace arris
