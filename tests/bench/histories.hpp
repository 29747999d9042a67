// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

#include "tests/fixture.hpp"

/// The histories over which solvers are compared.
namespace arris::bench {

inline constexpr std::size_t steps_of_a_history = 8;

struct History {
  Model<double> model;
  EdgePlan      plan;
};

/// Six honing steps, a strop, some 500 passes: blunt and keen irons, all that has a prior drawn from it, other forces and counts.
[[nodiscard]] inline std::vector<History> histories(std::size_t count, std::uint64_t seed) {
  std::vector<History> out;
  Dice                 dice(seed);
  for (std::size_t i = 0; i < count; ++i) {
    History h{workshop(), {}};
    draw_from_priors(h.model, dice);
    auto& tool          = h.model.tools[tool::iron];
    tool.apex_radius_um = dice.log_between(0.5, 10.0);
    tool.scratch_um     = dice.log_between(0.05, 1.0);
    std::vector<Step> list;
    const auto        add = [&](int medium, double strokes) {
      HoneStep s = hone(medium, std::floor(strokes * std::exp(0.3 * dice.normal())) + 1.0);
      s.force_N *= std::exp(0.4 * dice.normal());
      list.emplace_back(s);
    };
    add(medium::plate, 20);
    add(medium::coarse, 25);
    add(medium::middle, 30);
    add(medium::middle, 30);
    add(medium::fine, 40);
    add(medium::film, 40);
    list.emplace_back(
        strop(backing::thin_hide, compound::oxide, std::floor(20.0 * std::exp(0.3 * dice.normal())) + 1.0));
    list.emplace_back(cut(dice.below(4), std::floor(500.0 * std::exp(0.3 * dice.normal())) + 1.0));
    h.plan = plan(tool::iron, list);
    out.push_back(std::move(h));
  }
  return out;
}

}  // namespace arris::bench
