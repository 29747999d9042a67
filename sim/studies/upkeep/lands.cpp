// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/lands.hpp"

#include <algorithm>
#include <cmath>

namespace arris::upkeep_search {
namespace {

// of the depth after the first honing of the leading way: other routines differ
constexpr double narrowest_share = 0.6;
constexpr int    lands_looked_at = 6;  // beside the freshly ground one and the narrowest

/// Length of the curve of the reading over the depth, both from 0 to 1, from the second land of the leading way to each that
/// follows it.
std::vector<double> lengths_along(const Leading& leading) {
  const auto&  worn      = leading.worn;
  const auto&  honed_N   = leading.honed_N;
  const double deepest   = worn.back().bevel_depth_um;
  const auto [low, high] = std::minmax_element(honed_N.begin(), honed_N.end());
  std::vector<double> lengths{0.0};
  for (std::size_t j = 2; j < worn.size(); ++j) {
    const double x = (worn[j].bevel_depth_um - worn[j - 1].bevel_depth_um) / deepest;
    const double y = *high > *low ? (honed_N[j] - honed_N[j - 1]) / (*high - *low) : 0.0;
    lengths.push_back(lengths.back() + std::hypot(x, y));
  }
  return lengths;
}

/// Depth in µm at the length `at` of that curve.
double depth_at(const Leading& leading, const std::vector<double>& lengths, double at) {
  const auto beyond = std::upper_bound(lengths.begin(), lengths.end(), at) - lengths.begin();
  const auto j = static_cast<std::size_t>(std::min(beyond, static_cast<std::ptrdiff_t>(lengths.size()) - 1));
  const double above = leading.worn[j + 1].bevel_depth_um;
  if (j == 0) return above;
  const double share = (at - lengths[j - 1]) / (lengths[j] - lengths[j - 1]);
  const double below = leading.worn[j].bevel_depth_um;
  return below + share * (above - below);
}

std::vector<double> depths_of(const Task& task, const Leading& leading) {
  if (!task.rules.grinds) return {0.0};
  const bool          widens = leading.worn.size() > 1;
  const double        first  = widens ? leading.worn[1].bevel_depth_um : leading.depth_limit_um;
  std::vector<double> depths{0.0, narrowest_share * first};
  if (!widens) return depths;
  const auto lengths = lengths_along(leading);
  for (int i = 0; i < lands_looked_at; ++i) {
    const double depth = depth_at(leading, lengths, lengths.back() * i / (lands_looked_at - 1));
    if (depth > depths.back() * (1.0 + 1e-9)) depths.push_back(depth);
  }
  return depths;
}

/// The edge as it comes to the honing at a depth: the first land of the leading way that is as wide, for the rest of the state.
EdgeState<double> worn_at(const Leading& leading, double depth_um) {
  const auto        wider = std::find_if(leading.worn.begin(), leading.worn.end(),
                                         [&](const EdgeState<double>& e) { return e.bevel_depth_um >= depth_um; });
  EdgeState<double> worn  = wider == leading.worn.end() ? leading.worn.back() : *wider;
  if (worn.bevel_depth_um > 0.0) worn.back_depth_um *= depth_um / worn.bevel_depth_um;
  worn.bevel_depth_um = depth_um;
  return worn;
}

EdgeState<double> honed_from(const Task& task, EdgeState<double> worn) {
  Cycle c;
  if (const RunStatus status = task.quick.hone(worn, c); !status.usable()) honing_fails(task, status);
  return worn;
}

}  // namespace

Lands lands_of(const Task& task, const Leading& leading) {
  Lands out;
  out.depths_um = depths_of(task, leading);
  for (const double depth : out.depths_um) {
    out.worn.push_back(worn_at(leading, depth));
    out.honed.push_back(honed_from(task, out.worn.back()));
  }
  if (out.depths_um.back() > 0.0) out.back_per_depth = out.worn.back().back_depth_um / out.depths_um.back();
  out.rules                = task.rules;
  out.rules.depth_limit_um = leading.depth_limit_um;
  return out;
}

}  // namespace arris::upkeep_search
