// SPDX-License-Identifier: MIT
#include "validation/closures/report.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>

namespace arris::closures {

namespace {

constexpr double radius_target = 0.15, other_target = 0.20, depth_target = 0.22;  // ln 1.25

/// Root of the mean square of the errors at ½, 1 and 2 µm and of h, from the fourth lap on.
class Spread {
 public:
  void add(const Miss& miss) {
    if (!miss.row->in_wood() && miss.row->laps < first_lap) return;
    for (std::size_t i = 0; i < squares_.size(); ++i) squares_[i] += miss.error[i] * miss.error[i];
    count_ += 1.0;
    if (!miss.row->in_wood()) depths_ += 1.0;
  }
  [[nodiscard]] double at(std::size_t i) const { return std::sqrt(squares_[i] / (i < 3 ? count_ : depths_)); }
  [[nodiscard]] double of_radii() const {
    return std::sqrt((squares_[0] + squares_[1] + squares_[2]) / (3.0 * count_));
  }
  [[nodiscard]] std::string text() const {
    return count_ > 0 ? fmt::format("{:.2f} / {:.2f} / {:.2f}; {:.2f}", at(0), at(1), at(2), at(3)) : "–";
  }

 private:
  std::array<double, 4> squares_{};
  double                count_ = 0.0, depths_ = 0.0;
};

template <class Key, class Of>
std::map<Key, Spread> spreads_by(const std::vector<Miss>& misses, const Of& of) {
  std::map<Key, Spread> out;
  for (const Miss& miss : misses) out[of(*miss.row)].add(miss);
  return out;
}

/// The pad a case begins on is the beginning of its name.
std::string pad_of(const Row& row) { return row.name.substr(0, row.name.find(',')); }

std::string constants_table(const Values& values) {
  std::string out = "| constant | symbol | value |\n|---|---|---|\n";
  for (std::size_t i = 0; i < values.size(); ++i)
    out += fmt::format("| {} | {} | {:.3g} |\n", constants[i].name, constants[i].symbol, values[i]);
  return out;
}

std::string groups_table(const std::vector<Miss>& misses) {
  std::vector<std::string> groups, pads;  // in the order of the cases
  const auto               note = [](std::vector<std::string>& in, const std::string& name) {
    if (std::find(in.begin(), in.end(), name) == in.end()) in.push_back(name);
  };
  for (const Miss& miss : misses) {
    note(groups, miss.row->group);
    note(pads, pad_of(*miss.row));
  }
  auto spreads = spreads_by<std::pair<std::string, std::string>>(
      misses, [](const Row& row) { return std::pair(row.group, pad_of(row)); });
  std::string out = "| what differs |", line = "|---|";
  for (const auto& pad : pads) {
    out += fmt::format(" {} |", pad);
    line += "---|";
  }
  out += '\n' + line + '\n';
  for (const auto& group : groups) {
    out += fmt::format("| {} |", group);
    for (const auto& pad : pads) out += fmt::format(" {} |", spreads[{group, pad}].text());
    out += '\n';
  }
  return out;
}

/// Cases, the worst at 1 µm first.
std::vector<std::pair<std::string, Spread>> cases_by_error(const std::vector<Miss>& misses) {
  const auto spreads = spreads_by<std::string>(misses, [](const Row& row) { return row.name; });
  std::vector<std::pair<std::string, Spread>> out(spreads.begin(), spreads.end());
  std::stable_sort(out.begin(), out.end(),
                   [](const auto& a, const auto& b) { return a.second.at(1) > b.second.at(1); });
  return out;
}

std::vector<Miss> fitted_of(const std::vector<Miss>& misses) {
  std::vector<Miss> out;
  std::copy_if(misses.begin(), misses.end(), std::back_inserter(out),
               [](const Miss& miss) { return miss.row->is_fitted(); });
  return out;
}

std::string targets_text(const std::vector<Miss>& fitted) {
  const auto cases  = cases_by_error(fitted);
  const auto within = [&](std::size_t i, double target) {
    return std::count_if(cases.begin(), cases.end(), [&](const auto& c) { return c.second.at(i) <= target; });
  };
  return fmt::format(
      "Of {} cases that were fitted to, {} are within {:.2f} at 1 µm, {} and {} within {:.2f} at ½ and 2 µm, and {} have a depth within 25 %.\n",
      cases.size(), within(1, radius_target), radius_target, within(0, other_target), within(2, other_target),
      other_target, within(3, depth_target));
}

std::string worst_table(const std::vector<Miss>& misses) {
  std::string out   = "| case | ½ / 1 / 2 µm; depth |\n|---|---|\n";
  const auto  cases = cases_by_error(misses);
  for (std::size_t i = 0; i < std::min<std::size_t>(12, cases.size()); ++i)
    out += fmt::format("| {} | {} |\n", cases[i].first, cases[i].second.text());
  return out;
}

constexpr const char* result_text = R"(# How near the reduced law of stropping comes to the outline of an edge

Written by `./dev closures`. The outline (`sim/outline`) is computed in every one of the histories of `cases.csv`, the reduced law
(`sim/laws/stropping.hpp`, `sim/laws/dub.hpp`, and the stage of `sim/history/stages.hpp`) is followed over the same laps, and its constants are
fitted by least squares. Nothing here was measured on steel.

{constants}
An error is the natural logarithm of what the law gives over what the outline gives: of the radius r + D as met ½, 1 and 2 µm behind the tip, and
of the depth to flat. Both are blurred by a floor: 0.015 µm for radii, 0.05 µm on pads below 5 MPa, 0.1 µm for the depth. The outline has neither
carbides nor scratches, so that the law has none here, except where an “arc is kept”: there the outline is seen with that arc put on its tip, as fine as carbides
and scratches leave it. In wood both wear by the same loads, and depths are not compared. Moments from the fourth lap on count in full in the fit, earlier ones for a third.
Below are roots of mean squares from the fourth lap on.

Over all cases that were fitted to: {half:.3f} at ½ µm, {one:.3f} at 1 µm, {two:.3f} at 2 µm; {depth:.3f} of the depth. Radii together {radii:.3f}.
So a radius by the law is right within a factor of {radius_factor:.2f} and a depth within {depth_factor:.2f}: the priors of `dub_share` and `dub_depth_share`.

{targets}
## By what differs from the usual case

½ / 1 / 2 µm; depth. The usual case is 10 N on 50 mm, 30°, a land of 0.5 mm, 0.075 µm per MPa and lap, a tip of 0.15 µm. {unfitted} are not fitted to. A
change of pad stands under the pad that it begins on.

{groups}
## The worst of those that were fitted to

{worst}
## What is weak

* Soft pads under much force. Where the pad would bear with more than its modulus it gives way, and steel goes evenly: the tip comes out perfectly
  keen, and a dub begins only once the excess is worn off, suddenly. The law lets it grow slowly from the first lap. On a pad of
  1.4 MPa the outline has no dub for eight laps at 10 N, and none for 32 at 30 N.
* Slopes above some 20 degrees, on soft pads after many laps: the outline itself is beyond what a linear pad can say. There its dub grows on for 200 laps, while
  that of the law falls again after some 60 on felt.
* A blade held steeper or lower all the time. The land wears in to the angle it is held at, within some tens of laps; the law keeps the
  pressure of the first lap. On a hard pad a blade that is held off the tip wears its land down until it meets the tip, and is then perfectly keen;
  by the law it never meets it.
* A change from a soft pad to a harder one. When the harder pad meets the tip is right within a factor of two to four in laps: two numbers do not
  tell over which length the softer pad has made its dub. Until it is met the radius is the old one, after it the new one, so that the
  errors above are those of the time in between.
* A land of 0.15 mm, and 30 N on thick hide: errors of 0.2 and more close to the tip, for the pressure at the edge is taken too low there.
* A soft pad on an arc that is kept: its first laps dub an edge more than the law says. The delay until a pad has met an arc, which hard pads
  have, is not there where the pad gives way over the whole of it.
)";

}  // namespace

std::string header_of(const Values& values) {
  std::string lines, members;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto& [name, symbol, start, lower, upper] = constants[i];
    lines += fmt::format("inline constexpr double {} = {:.3g};  ///< {}\n", name, values[i], symbol);
    members += fmt::format("  static constexpr double {0} = of_outline::{0};\n", name);
  }
  return fmt::format(R"(// SPDX-License-Identifier: MIT
#pragma once

/// Constants of the laws of stropping (stropping.hpp, dub.hpp), fitted to the outline of sim/outline. Written by `./dev closures`, to three
/// figures; how near the laws come to the outline with them stands in configs/closures/RESULT.md.
// clang-format off
namespace arris::laws {{

namespace of_outline {{

{}
}}  // namespace of_outline

/// The same as a type, which laws take as a parameter: an object of it takes no room.
struct OutlineConstants {{
{}}};

}}  // namespace arris::laws
)",
                     lines, members);
}

std::string result_of(const Values& values, const std::vector<Miss>& misses) {
  const auto fitted = fitted_of(misses);
  Spread     all;
  for (const Miss& miss : fitted) all.add(miss);
  using fmt::arg;
  return fmt::format(fmt::runtime(result_text), arg("constants", constants_table(values)),
                     arg("half", all.at(0)), arg("one", all.at(1)), arg("two", all.at(2)),
                     arg("depth", all.at(3)), arg("radii", all.of_radii()),
                     arg("radius_factor", std::exp(all.of_radii())), arg("depth_factor", std::exp(all.at(3))),
                     arg("targets", targets_text(fitted)),
                     arg("unfitted", fmt::format("“{}”, “{}” and “{}”", changes, unseen, lifted)),
                     arg("groups", groups_table(misses)), arg("worst", worst_table(fitted)));
}

}  // namespace arris::closures
