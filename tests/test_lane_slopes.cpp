// SPDX-License-Identifier: MIT
#include <cmath>

#include <catch2/catch.hpp>

#include "sim/integrate/jet.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "tests/lane_batch.hpp"

using namespace arris;
using namespace arris::bench;

namespace {

using Jet = ceres::Jet<double, 4>;

/// Derivatives with respect to the logs of four numbers, as a fit takes them: of the abrasion, of what scratches leave, of the
/// size of the dub or the wear in wood, of the radius at the start.
Model<Jet> varied(const Model<double>& m, int tool, bool wear) {
  Model<Jet> out   = convert<Jet>(m);
  Jet*       which = &out.coefficients.dub_share;
  if (wear) which = &std::get<laws::SharedLoad<Jet>>(out.wear->law).parting_um2_per_m;
  Jet* free[] = {&out.coefficients.abrasion, &out.coefficients.radius_per_scratch, which,
                 &out.tools[static_cast<std::size_t>(tool)].apex_radius_um};
  for (int i = 0; i < 4; ++i) free[i]->v[i] = free[i]->a;
  return out;
}

using Batch = LaneBatch<Jet>;

Tolerances tight() {
  Tolerances t;
  t.relative = 1e-10, t.absolute_um = 1e-12;
  return t;
}

/// The worst difference of derivatives, over the largest of them and the value.
double slopes_off(const Jet& x, const Jet& exact) {
  const double scale = exact.v.cwiseAbs().maxCoeff() + std::abs(exact.a) + 1e-2;
  return (x.v - exact.v).cwiseAbs().maxCoeff() / scale;
}

/// Honing by numbers and from the burr on, the back, a strop, wood: some of it, out of the priors.
void add_random_history(Batch& batch, Dice& dice, bool wear) {
  Model<double> m = workshop();
  draw_from_priors(m, dice);
  for (auto& t : m.tools) {
    t.apex_radius_um = dice.log_between(0.05, 10.0);
    t.scratch_um     = dice.log_between(0.02, 2.0);
  }
  std::vector<Step> steps;
  const int         count = 1 + dice.below(6);
  for (int i = 0; i < count; ++i) {
    const double kind   = dice.uniform();
    const double amount = std::floor(dice.log_between(2.0, 120.0));
    if (kind < 0.4)
      steps.emplace_back(hone(dice.below(5), amount));
    else if (kind < 0.5)
      steps.emplace_back(hone(medium::coarse, std::min(amount, 20.0), true));
    else if (kind < 0.6)
      steps.emplace_back(back(dice.below(5), amount));
    else if (kind < 0.8)
      steps.emplace_back(strop(dice.below(3), dice.below(2), amount));
    else
      steps.emplace_back(cut(dice.below(4), 10.0 * amount));
  }
  const int tool = dice.below(4);
  batch.add(varied(m, tool, wear), plan(tool, steps));
}

}  // namespace

TEST_CASE("derivatives in lanes are those of a tight scalar run", "[lanes]") {
  for (const bool wear : {false, true}) {
    Batch batch;
    Dice  dice(wear ? 91 : 90);
    for (int i = 0; i < 150; ++i) add_random_history(batch, dice, wear);
    const auto exact = batch.run(tight(), InstructionSet::none);
    for (const InstructionSet set : instruction_sets()) {
      INFO(name_of(set));
      const auto lanes = batch.run({}, set);
      int        alone = 0;
      for (std::size_t i = 0; i < lanes.size(); ++i) {
        INFO("history " << i);
        REQUIRE(lanes[i].status.code == exact[i].status.code);
        if (!lanes[i].status.usable()) continue;
        alone += lanes[i].adaptive_from >= 0 ? 1 : 0;
        const auto &a = lanes[i].state, &b = exact[i].state;
        CHECK(std::abs(a.apex_radius_um.a - b.apex_radius_um.a) <= 1e-5 * (b.apex_radius_um.a + 1e-2));
        // a derivative is held to four times the tolerance of a value, of which ten errors in a row are 4e-5; where strokes are
        // counted from the burr on the end moves too, and errs by as much again and a half: 1e-4. The scalar path (here as `none`)
        // needs 9e-5. A burr's derivatives may err thrice as much, as its value may (test_lanes.cpp).
        CHECK(slopes_off(a.apex_radius_um, b.apex_radius_um) < 1e-4);
        CHECK(slopes_off(a.scratch_um, b.scratch_um) < 1e-4);
        CHECK(slopes_off(a.burr_um, b.burr_um) < 3e-4);
        CHECK(slopes_off(a.bevel_depth_um, b.bevel_depth_um) < 1e-4);
        CHECK(slopes_off(lanes[i].ledger.steel_removed_um_mm, exact[i].ledger.steel_removed_um_mm) < 1e-4);
        CHECK(slopes_off(lanes[i].ledger.steel_worn_um_mm, exact[i].ledger.steel_worn_um_mm) < 1e-4);
      }
      if (set != InstructionSet::none && set != InstructionSet::sse2) CHECK(alone < 20);
    }
  }
}

TEST_CASE("derivatives in lanes do not depend on what they are worked on with", "[lanes]") {
  Batch batch, backwards;
  Dice  dice(17);
  for (int i = 0; i < 60; ++i) add_random_history(batch, dice, false);
  for (std::size_t i = batch.size(); i-- > 0;) backwards.add(batch.models[i], batch.plans[i]);
  const auto together = batch.run(), reversed = backwards.run();
  for (std::size_t i = 0; i < batch.size(); ++i) {
    INFO("history " << i);
    if (!together[i].status.usable()) continue;
    const Jet &a = together[i].state.apex_radius_um, &b = reversed[batch.size() - 1 - i].state.apex_radius_um;
    CHECK(a.a == b.a);
    CHECK((a.v.array() == b.v.array()).all());
  }
}

TEST_CASE("derivatives in lanes are the differences of values", "[lanes]") {
  // by central differences over 1e-3 of the log of each number, at a tolerance of 1e-9: 1e-6 of the curvature, and 1e-6 of error
  Tolerances fine;
  fine.relative = 1e-9, fine.absolute_um = 1e-11;
  constexpr double h = 1e-3;
  const EdgePlan   p = plan(tool::iron, {hone(medium::coarse, 10, true), hone(medium::fine, 40),
                                         strop(backing::soft_hide, compound::oxide, 15), cut(wood::oak, 200)});
  const auto       m = workshop();
  Batch            one;
  one.add(varied(m, tool::iron, false), p);
  const Jet at = one.run(fine)[0].state.apex_radius_um;
  for (int j = 0; j < 4; ++j) {
    const auto moved = [&](double by) {
      Model<Jet> model  = varied(m, tool::iron, false);
      Jet*       free[] = {&model.coefficients.abrasion, &model.coefficients.radius_per_scratch,
                           &model.coefficients.dub_share, &model.tools[tool::iron].apex_radius_um};
      free[j]->a *= std::exp(by);
      Batch b;
      b.add(model, p);
      return b.run(fine)[0].state.apex_radius_um.a;
    };
    INFO("number " << j);
    CHECK(at.v[j] == Approx((moved(h) - moved(-h)) / (2.0 * h)).epsilon(1e-4).margin(1e-6));
  }
}

TEST_CASE("an exponent that varies is left to the scalar path, whose derivatives know it", "[lanes]") {
  Batch      batch;
  Model<Jet> m                       = varied(workshop(), tool::iron, false);
  m.coefficients.floor_exponent.v[1] = 1.0;
  batch.add(m, plan(tool::iron, {hone(medium::coarse, 20)}));
  const auto lanes = batch.run(), scalar = batch.run({}, InstructionSet::none);
  CHECK(lanes[0].adaptive_from == 0);
  CHECK(lanes[0].state.apex_radius_um.a == scalar[0].state.apex_radius_um.a);
  CHECK((lanes[0].state.apex_radius_um.v.array() == scalar[0].state.apex_radius_um.v.array()).all());
}
