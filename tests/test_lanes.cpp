// SPDX-License-Identifier: MIT
#include <bit>
#include <cstdint>
#include <numeric>

#include <catch2/catch.hpp>

#include "sim/laws/wear/wear_law.hpp"
#include "tests/lane_batch.hpp"

using namespace arris;
using namespace arris::bench;

namespace {

using Batch = LaneBatch<double>;

/// A history out of the priors: any steel and tool, blunt or keen, one to nine steps, some of them with nothing to do.
void add_random_history(Batch& batch, Dice& dice) {
  Model<double> m = workshop();
  draw_from_priors(m, dice);
  for (auto& t : m.tools) {
    t.apex_radius_um = dice.log_between(0.03, 12.0);
    t.scratch_um     = dice.log_between(0.01, 2.0);
    if (dice.uniform() < 0.2) t.burr_um = dice.between(0.0, 5.0);
  }
  if (dice.uniform() < 0.2) m.coefficients.collapse_load_N_per_m = 0.0;
  const double law = dice.uniform();
  if (law < 0.1)
    m.wear->law = laws::SquareRoot<double>{dice.log_between(1e-4, 1e-2)};
  else if (law < 0.2)
    m.wear->law = laws::Power<double>{dice.log_between(1e-4, 1e-2), dice.between(0.0, 2.0)};
  else if (law < 0.3)
    m.wear->law = laws::ConstantRate<double>{dice.log_between(1e-5, 1e-3)};
  std::vector<Step> steps;
  const int         count = 1 + dice.below(9);
  for (int i = 0; i < count; ++i) {
    const double kind    = dice.uniform();
    const double amount  = dice.uniform() < 0.1 ? 0.0 : std::floor(dice.log_between(1.0, 150.0));
    const double force_N = dice.log_between(5.0, 60.0);
    if (kind < 0.5) {
      HoneStep s = hone(dice.below(5), amount);
      s.force_N  = force_N;
      steps.emplace_back(s);
    } else if (kind < 0.6) {
      steps.emplace_back(back(dice.below(5), amount));
    } else if (kind < 0.75) {
      StropStep s = strop(dice.below(3), dice.below(2), amount);
      s.force_N   = force_N;
      steps.emplace_back(s);
    } else if (kind < 0.95) {
      steps.emplace_back(cut(dice.below(4), 10.0 * amount));
    } else {
      steps.emplace_back(dress(dice.below(5)));
    }
  }
  batch.add(m, plan(dice.below(4), steps));
}

bool same_bits(const EdgeState<double>& a, const EdgeState<double>& b) {
  bool same = true;
  EdgeState<double>::components(
      [&same](const char*, double x, double y) {
        same &= std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y);
      },
      a, b);
  return same;
}

}  // namespace

TEST_CASE("lanes agree with a tight scalar run on histories out of the priors", "[lanes]") {
  Batch batch;
  Dice  dice(20260);
  for (int i = 0; i < 600; ++i) add_random_history(batch, dice);
  Tolerances tight;
  tight.relative = 1e-11, tight.absolute_um = 1e-13;
  const auto exact  = batch.run(tight, InstructionSet::none);
  const auto scalar = batch.run({}, InstructionSet::none);
  for (const InstructionSet set : instruction_sets()) {
    if (set == InstructionSet::none) continue;
    INFO(name_of(set));
    const auto lanes = batch.run({}, set);
    int        alone = 0;
    for (std::size_t i = 0; i < lanes.size(); ++i) {
      INFO("history " << i);
      REQUIRE(lanes[i].status.code == exact[i].status.code);
      if (lanes[i].adaptive_from >= 0) ++alone;
      if (!lanes[i].status.usable()) continue;
      const auto &a = lanes[i].state, &b = exact[i].state, &c = scalar[i].state;
      // Each of some tens of steps errs by 1e-6 of what it changes at most, and what one stage leaves the next forgets:
      // 1e-5 is ten such errors in a row. The scalar path is asked for the same, and errs by 1.1e-5 in one of these.
      const auto close = [](double x, double y, double scale, double error = 1e-5) {
        return std::abs(x - y) <= error * (std::abs(y) + scale);
      };
      REQUIRE(close(a.apex_radius_um, b.apex_radius_um, 1e-2));
      REQUIRE(close(a.scratch_um, b.scratch_um, 1e-2));
      // the growth of a burr has joints, where a step errs by more than its estimate: thrice as much
      REQUIRE(std::abs(a.burr_um - b.burr_um) <= 3e-5 * (b.burr_um + 1e-2));
      REQUIRE(close(c.apex_radius_um, b.apex_radius_um, 1e-2, 1.2e-5));
      // counts and paths are those of the steps; depths are closed forms of them, but for a land that begins no shorter than
      // the apex is round, which is as exact as the radius
      REQUIRE(a.bevel_depth_um == Approx(b.bevel_depth_um).epsilon(1e-5));
      REQUIRE(a.back_depth_um == Approx(b.back_depth_um).epsilon(1e-5));
      REQUIRE(lanes[i].ledger.strokes == exact[i].ledger.strokes);
      REQUIRE(lanes[i].ledger.path_m == exact[i].ledger.path_m);
      REQUIRE(lanes[i].ledger.steel_removed_um_mm ==
              Approx(exact[i].ledger.steel_removed_um_mm).epsilon(1e-9));
      REQUIRE(lanes[i].ledger.steel_worn_um_mm ==
              Approx(exact[i].ledger.steel_worn_um_mm).epsilon(1e-4).margin(1e-9));
    }
    CHECK(alone < 60);  // lanes are no use if more than a few in a hundred leave them
  }
}

TEST_CASE("the numbers of a history do not depend on what it is worked on with", "[lanes]") {
  Batch batch;
  Dice  dice(31);
  for (int i = 0; i < 150; ++i) add_random_history(batch, dice);
  for (const InstructionSet set : instruction_sets()) {
    INFO(name_of(set));
    const auto together = batch.run({}, set);
    // backwards, and every one alone
    Batch backwards;
    for (std::size_t i = batch.size(); i-- > 0;) backwards.add(batch.models[i], batch.plans[i]);
    const auto reversed = backwards.run({}, set);
    for (std::size_t i = 0; i < batch.size(); ++i) {
      INFO("history " << i);
      REQUIRE(same_bits(together[i].state, reversed[batch.size() - 1 - i].state));
      Batch one;
      one.add(batch.models[i], batch.plans[i]);
      REQUIRE(same_bits(together[i].state, one.run({}, set)[0].state));
    }
  }
}

TEST_CASE("a history goes on in lanes from what another left", "[lanes]") {
  Batch whole, first, rest, same_plan;
  Dice  dice(7);
  for (int i = 0; i < 200; ++i) add_random_history(whole, dice);
  std::vector<std::size_t> at;
  for (std::size_t i = 0; i < whole.size(); ++i) {
    const auto& steps = whole.plans[i].steps;
    const auto  cut   = static_cast<std::size_t>(dice.below(static_cast<int>(steps.size()) + 1));
    const auto  here  = steps.begin() + static_cast<std::ptrdiff_t>(cut);
    at.push_back(cut);
    first.add(whole.models[i], plan(whole.plans[i].tool, {steps.begin(), here}));
    rest.add(whole.models[i], plan(whole.plans[i].tool, {here, steps.end()}));
    same_plan.add(whole.models[i], whole.plans[i]);
  }
  for (const InstructionSet set : instruction_sets()) {
    INFO(name_of(set));
    const auto all = whole.run({}, set), before = first.run({}, set);
    rest.starts.clear(), same_plan.starts.clear();
    for (std::size_t i = 0; i < before.size(); ++i) {
      rest.starts.push_back({&before[i].state, &before[i].ledger, 0});
      same_plan.starts.push_back({&before[i].state, &before[i].ledger, at[i]});
    }
    const auto parts = rest.run({}, set), later = same_plan.run({}, set);
    for (std::size_t i = 0; i < all.size(); ++i) {
      INFO("history " << i << " from step " << at[i]);
      if (!before[i].status.usable()) continue;
      REQUIRE(parts[i].status.code == all[i].status.code);
      REQUIRE(same_bits(parts[i].state, later[i].state));
      if (!all[i].status.usable()) {
        CHECK(later[i].status.step == all[i].status.step);
        CHECK(parts[i].status.step == all[i].status.step - static_cast<int>(at[i]));
        continue;
      }
      CHECK(parts[i].ledger.strokes == all[i].ledger.strokes);
      CHECK(parts[i].ledger.strokes_on_medium == all[i].ledger.strokes_on_medium);
      // One that left the lanes before comes back to them; else a stage has nothing to remember but state and ledger.
      if (set == InstructionSet::none || before[i].adaptive_from < 0)
        REQUIRE(same_bits(parts[i].state, all[i].state));
      else  // as lanes agree with the scalar path above
        REQUIRE(off(parts[i].state.apex_radius_um, all[i].state.apex_radius_um) < 2e-5);
    }
  }
}

TEST_CASE("strokes counted from the burr on are counted alike in lanes", "[lanes]") {
  Batch batch;
  Dice  dice(5);
  for (int i = 0; i < 512; ++i) {
    Model<double> m = workshop();
    for (auto& t : m.tools) {
      t.apex_radius_um = dice.log_between(0.1, 10.0);
      t.scratch_um     = dice.log_between(0.05, 1.0);
    }
    m.coefficients.burr_growth *= dice.log_between(0.5, 2.0);
    m.coefficients.radius_per_scratch *= dice.log_between(0.6, 1.6);
    HoneStep first    = hone(medium::coarse, 1.0 + dice.below(30), true);
    first.max_strokes = i % 8 == 0 ? 2.0 : 2000.0;  // some are given up
    batch.add(m, plan(tool::iron,
                      {first, hone(medium::middle, dice.below(25), true), hone(medium::fine, 20.0, true)}));
  }
  Tolerances tight;
  tight.relative = 1e-11, tight.absolute_um = 1e-13;
  const auto exact    = batch.run(tight, InstructionSet::none);
  int        given_up = 0, alone = 0;
  const auto lanes = batch.run();
  for (std::size_t i = 0; i < lanes.size(); ++i) {
    INFO("history " << i);
    REQUIRE(lanes[i].status.code == exact[i].status.code);
    if (!lanes[i].status.usable()) {
      ++given_up;
      REQUIRE(std::isnan(lanes[i].state.apex_radius_um));
      continue;
    }
    // the adaptive path tells whether a burr was raised within the strokes allowed, where not all were done by then
    if (i % 8 != 0) alone += lanes[i].adaptive_from >= 0 ? 1 : 0;
    // a radius that is off by 1e-6 moves the strokes to the burr by as much over the share of the radius that a stroke takes,
    // a hundredth at least
    REQUIRE(lanes[i].ledger.strokes == Approx(exact[i].ledger.strokes).epsilon(1e-4));
    REQUIRE(lanes[i].state.apex_radius_um == Approx(exact[i].state.apex_radius_um).epsilon(1e-5));
    REQUIRE(lanes[i].state.burr_um == Approx(exact[i].state.burr_um).epsilon(1e-4));
  }
  CHECK(given_up > 5);
  CHECK(given_up < 200);
  if (instruction_sets().size() > 1) CHECK(alone < 25);
}

TEST_CASE("what lanes cannot do the adaptive path does, to the same bits", "[lanes]") {
  const auto from_step_is_scalar = [](const Model<double>& m, const std::vector<Step>& steps, int step) {
    Batch batch;
    batch.add(m, plan(tool::iron, steps));
    const auto lanes = batch.run();
    if (instruction_sets().size() < 2) step = 0;
    CHECK(lanes[0].adaptive_from == step);
    if (step > 0) return;
    const auto scalar = batch.run({}, InstructionSet::none);
    CHECK(same_bits(lanes[0].state, scalar[0].state));
    CHECK(lanes[0].status.code == scalar[0].status.code);
  };
  const std::vector<Step> steps{hone(medium::coarse, 20), strop(backing::thin_hide, compound::oxide, 5),
                                cut(wood::maple, 100)};
  Model<double>           m     = workshop();
  m.coefficients.floor_exponent = 1.5;
  from_step_is_scalar(m, steps, 0);
  m                                        = workshop();
  m.coefficients.active_grit_load_exponent = 0.5;
  from_step_is_scalar(m, steps, 0);
  m           = workshop();
  m.wear->law = laws::Settling<double>{};
  from_step_is_scalar(m, steps, 2);
  m           = workshop();
  m.wear->law = laws::ConstantRate<double>{0.0};  // no growth, and none of a collapse either: no integral
  m.coefficients.collapse_load_N_per_m = 0.0;
  from_step_is_scalar(m, steps, 2);
  // an estimate of the error that is not met: a stage that takes more steps than it may
  Tolerances short_of;
  short_of.max_steps = 10;
  Batch batch;
  batch.add(workshop(), plan(tool::iron, steps));
  const auto lanes = batch.run(short_of), scalar = batch.run(short_of, InstructionSet::none);
  CHECK(lanes[0].status.code == RunStatus::Code::too_many_steps);
  CHECK(scalar[0].status.code == RunStatus::Code::too_many_steps);
  CHECK(lanes[0].adaptive_from == 0);
}

TEST_CASE("observers of lanes see the points of every step, and the end does not depend on them", "[lanes]") {
  const std::vector<double> points{0.0, 3.0, 10.0, 12.5, 40.0, 1000.0};
  Batch                     seen, unseen;
  const EdgePlan            p = plan(
                 tool::iron, {hone(medium::coarse, 30), hone(medium::fine, 40), back(medium::fine, 5), read("sharp"),
                              strop(backing::soft_hide, compound::oxide, 12.5), cut(wood::oak, 300)});
  for (int i = 0; i < 11; ++i) {
    Model<double> m = workshop();
    m.tools[0].apex_radius_um *= 1.0 + 0.3 * i;
    seen.add(m, p, points);
    unseen.add(m, p);
  }
  const auto lanes = seen.run(), blind = unseen.run();
  const auto witnesses = seen.witnesses;
  Tolerances tight;
  tight.relative = 1e-11, tight.absolute_um = 1e-13;
  const auto exact = seen.run(tight, InstructionSet::none);
  for (std::size_t i = 0; i < seen.size(); ++i) {
    CHECK(lanes[i].status.usable());
    CHECK(same_bits(lanes[i].state, blind[i].state));
    const auto &a = witnesses[i], &b = seen.witnesses[i];
    REQUIRE(a.seen.size() == b.seen.size());
    for (std::size_t k = 0; k < a.seen.size(); ++k) {
      INFO("history " << i << ", sight " << k);
      CHECK(a.seen[k].step == b.seen[k].step);
      CHECK(a.seen[k].count == b.seen[k].count);
      // ten errors of 1e-6 each, as above
      CHECK(a.seen[k].state.apex_radius_um == Approx(b.seen[k].state.apex_radius_um).epsilon(1e-5));
      CHECK(a.seen[k].state.burr_um == Approx(b.seen[k].state.burr_um).epsilon(1e-5).margin(1e-7));
      CHECK(a.seen[k].ledger.path_m == b.seen[k].ledger.path_m);
      CHECK(a.seen[k].ledger.strokes == b.seen[k].ledger.strokes);
      CHECK(a.seen[k].ledger.steel_removed_um_mm ==
            Approx(b.seen[k].ledger.steel_removed_um_mm).epsilon(1e-9));
    }
    REQUIRE(a.after_step.size() == p.steps.size());
    CHECK(same_bits(a.after_step.back(), lanes[i].state));
  }
}

TEST_CASE("lanes converge as the tolerance tightens", "[lanes]") {
  Batch batch;
  Dice  dice(77);
  for (int i = 0; i < 128; ++i) add_random_history(batch, dice);
  Tolerances tight;
  tight.relative = 1e-12, tight.absolute_um = 1e-14;
  const auto exact = batch.run(tight, InstructionSet::none);
  double     last  = 1.0;
  for (const double relative : {1e-4, 1e-6, 1e-8}) {
    Tolerances t;
    t.relative = relative, t.absolute_um = 0.01 * relative;
    const auto lanes = batch.run(t);
    double     worst = 0.0;
    for (std::size_t i = 0; i < lanes.size(); ++i) {
      if (exact[i].status.usable())
        worst = std::max(worst, off(lanes[i].state.apex_radius_um, exact[i].state.apex_radius_um));
    }
    // A hundredth of the tolerance gives about a hundredth of the error, save where a fine edge blunts on a coarse stone: there
    // the estimate of the error is too low in the first step or two, on the adaptive path too. A fifth then.
    CHECK(worst < 0.2 * last);
    CHECK(worst < 20.0 * relative);
    last = worst;
  }
}
