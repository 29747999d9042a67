// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/studies/compare/compare.hpp"

/// Which materials are worth keeping, and whether a strop is worth its price: by readings ready for work, and by what a sharpening
/// costs.
namespace arris {

/// Readings ready for work of two plans, over the members that ran both.
struct MemberRatio {
  std::size_t members = 0;
  Band        ratio;         ///< own over other
  double      below  = 0.0;  ///< share of members in which the own reads less
  double      within = 0.0;  ///< share in which they differ by no more than the margin
  double      above  = 0.0;  ///< share in which the own reads more than the margin above the other
};

[[nodiscard]] MemberRatio member_ratio(const EdgeForecast& own, const EdgeForecast& other,
                                       const CompareSettings& settings);

/// A strop of a way, and the plan that has something else in its place.
struct StropPair {
  std::string strop, instead;
  std::size_t way = 0, other = 0;  ///< indices among the ways with the `others` behind them
};

struct StropPairs {
  std::vector<StropPair> pairs;
  std::vector<Way>       others;  ///< plans that no edge follows, in the order of their indices
};

/// Each strop (backing and compound) in the first way that uses it: against the same steps without it, and with the hone and back steps of
/// the finest medium of all ways in its place, where that is finer than any the way uses. Ways that do both are not made twice.
[[nodiscard]] StropPairs strop_pairs(const Model<double>& model, const std::vector<Way>& ways);

/// Whether a price says minutes that depend on the medium.
[[nodiscard]] bool states_minutes(const Workshop& workshop);

class ReadyReadings;

/// `run`: the ways, and the others of the pairs behind them, with their readings and costs; `lives` in the same order. No more certainty is
/// claimed than `read` allows (by_readings.hpp).
[[nodiscard]] std::vector<StropWorth> worth_of_strops(const ReadyReadings& read, const StropPairs& pairs,
                                                      const std::vector<Way>&          run,
                                                      const std::vector<EdgeForecast>& lives,
                                                      const CompareSettings&           settings);

[[nodiscard]] std::vector<MaterialWorth> worth_of_materials(const ReadyReadings&             read,
                                                            const std::vector<Way>&          ways,
                                                            const std::vector<EdgeForecast>& lives,
                                                            const CompareSettings&           settings);

/// Why nothing is claimed of two ways: "the readings cannot tell, as the two were read by different operators"; empty where something is.
[[nodiscard]] std::string why_not_known(const Claim& claim);

/// In words: "18 % sharper, likely (72 %)".
[[nodiscard]] std::string strop_verdict(const StropWorth& worth, bool has_spread, double margin);

/// "worth keeping, likely (72 %)", "could go, …", "not known" or "every way uses it".
[[nodiscard]] std::string keeping_verdict(const MaterialWorth& worth, bool has_spread, double margin);

}  // namespace arris
