// SPDX-License-Identifier: MIT
#pragma once

#include "sim/laws/wear/wear_law.hpp"
#include "tests/fixture.hpp"

/// Histories and models out of the whole of what there can be.
namespace arris::bench {

/// A history such as a bench sees, at random.
inline EdgePlan any_plan(const Model<double>& model, Dice& dice) {
  const auto one_of = [&](const auto& entries) { return dice.below(static_cast<int>(entries.size())); };
  EdgePlan   p      = plan(one_of(model.tools), {});
  const int  length = 2 + dice.below(6);
  for (int i = 0; i < length; ++i) {
    switch (dice.below(8)) {
      case 0:
      case 1:
      case 2: {
        auto step      = hone(one_of(model.media), dice.log_between(1, 80), dice.below(3) == 0);
        step.force_N   = dice.log_between(5, 60);
        step.stroke_mm = dice.log_between(30, 200);
        if (dice.below(3) == 0) step.angle_scatter_deg = dice.between(0, 1.5);
        p.steps.emplace_back(step);
        break;
      }
      case 3: {
        auto step      = back(one_of(model.media), dice.log_between(1, 20));
        step.force_N   = dice.log_between(5, 40);
        step.stroke_mm = dice.log_between(20, 100);
        p.steps.emplace_back(step);
        break;
      }
      case 4: {
        auto step    = strop(one_of(model.backings), one_of(model.compounds), dice.log_between(1, 60));
        step.force_N = dice.log_between(2, 40);
        step.angle_offset_deg  = dice.below(2) == 0 ? 0.0 : dice.between(-1, 1);
        step.angle_scatter_deg = dice.between(0, 1);
        p.steps.emplace_back(step);
        break;
      }
      case 5:
      case 6: {
        auto step   = cut(one_of(model.woods), dice.log_between(1, 1000));
        step.pass_m = dice.log_between(0.1, 3);
        p.steps.emplace_back(step);
        break;
      }
      default:
        if (dice.below(2) == 0) {
          p.steps.emplace_back(dress(one_of(model.media)));
        } else {
          p.steps.emplace_back(read("between"));
        }
    }
  }
  return p;
}

/// A model with all its priors drawn, one of the wear laws, and tools in some state of use.
inline Model<double> any_model(Dice& dice) {
  auto model = workshop();
  switch (dice.below(5)) {
    case 0:
      model.wear->law = laws::SharedLoad<double>{};
      break;
    case 1:
      model.wear->law = laws::ConstantRate<double>{};
      break;
    case 2:
      model.wear->law = laws::SquareRoot<double>{};
      break;
    case 3:
      model.wear->law = laws::Power<double>{};
      break;
    default:
      model.wear->law = laws::Settling<double>{};
  }
  draw_from_priors(model, dice);
  model.coefficients.active_grit_load_exponent = dice.below(2) == 0 ? 1.0 : dice.uniform();
  for (auto& tool : model.tools) {
    tool.apex_radius_um = dice.log_between(0.1, 10);
    tool.scratch_um     = dice.log_between(0.02, 1);
    tool.burr_um        = dice.below(2) == 0 ? 0.0 : dice.between(0.1, 3);
    tool.land_mm        = dice.log_between(0.05, 2);
    tool.chip_um        = dice.below(2) == 0 ? 0.0 : dice.log_between(0.1, 20);
  }
  return model;
}

}  // namespace arris::bench
