// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include "sim/simulate/readings.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/compare/worth.hpp"
#include "sim/studies/readings/read_campaign.hpp"

namespace arris {

inline constexpr double likely_from = 0.66;  ///< a share from which something is likely (certainty.hpp)

/// Readings of two ways, ready for work, on the log scale: as they were taken, or as they would be if they came out as the model says.
struct ReadPair {
  double apart = 0.0;  ///< m_first − m_second
  double se    = 0.0;
  double dof   = 0.0;

  /// Share of |difference| up to `wide`, and of a difference above it.
  [[nodiscard]] double within(double wide) const;
  [[nodiscard]] double above(double wide) const;
};

/// `share` no farther from "as likely as not" than `allowed`, and not beyond it on the other side.
[[nodiscard]] double held_to(double share, double allowed);

/// What readings allow to be said of ways that are compared on one tool, ready for work. With means m of the logs of edges that were read so on
/// that tool, and s between edges of one way (read_campaign.hpp; where no two edges were treated alike, that of the fit, or the one stated),
///
///     P(less) = P( T > (m_way − m_other) / (s·√(1/n_way + 1/n_other)) )
///
/// A model is a guess about how edges come about; where the edges themselves were read it can hardly be surer than they are. Of a pair that was
/// not read it is no surer than readings of one edge of each would be if they came out as it says.
class ReadyReadings {
 public:
  /// Keeps references to the scenario and the readings. A difference of logs up to `margin` does not matter.
  ReadyReadings(const Scenario& scenario, const std::vector<Reading>& readings, const Ensemble& ensemble,
                double margin);

  /// Geometric mean of the edges of a way as they were read on the tool that it is compared on; NaN where none was.
  [[nodiscard]] double read_gf(const Way& way) const;

  /// What may be claimed of `first` against `second` where the model says this.
  [[nodiscard]] Claim claim(const Way& first, const Way& second, const MemberRatio& model) const;

  /// One standard deviation of the logs between edges of one way; NaN where that is not known.
  [[nodiscard]] double edge_sd() const { return edge_sd_; }

 private:
  struct Edges {
    double                   mean = 0.0;  ///< of the logs of their means
    std::vector<std::string> names;
  };
  [[nodiscard]] Edges                   edges_of(const Way& way) const;
  [[nodiscard]] bool                    was_ready(const Reading& r) const;
  [[nodiscard]] std::optional<ReadPair> pair_of(double apart, std::size_t first, std::size_t second) const;
  void                                  hold(Claim& claim, const ReadPair& pair) const;

  const Scenario&             scenario_;
  const std::vector<Reading>& readings_;
  bool                        is_fitted_;
  ReadCampaign                read_;
  double                      edge_sd_ = not_given, dof_ = 0.0;
  double                      margin_;
};

}  // namespace arris
