// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <span>
#include <type_traits>

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include "sim/history/stages.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/integrate/lanes_tasks.hpp"
#include "sim/integrate/scalar.hpp"

/// How many histories go through their steps together, over the number T of run.hpp: each step of each is assembled as the
/// scalar path does, and a list of tasks goes to the kernels. Included where `run_batch` is compiled.
namespace arris {
namespace lanes {

/// Those of an instruction set; null where it has none (`none`, or a build without lanes).
const KernelSet* kernels_of(InstructionSet set);

/// Derivatives that a number carries.
template <class T>
inline constexpr int slopes_of = 0;
template <class T>
requires requires { T::DIMENSION; }
inline constexpr int slopes_of<T> = T::DIMENSION;

template <class T>
[[nodiscard]] Parts<slopes_of<T>> parts_of(const T& x) {
  Parts<slopes_of<T>> out(Scalar<T>::value(x));
  if constexpr (slopes_of < T >> 0) {
    for (int j = 0; j < slopes_of<T>; ++j) out.of[1 + j] = x.v[j];
  }
  return out;
}
template <class T>
[[nodiscard]] T number_of(const Parts<slopes_of<T>>& x) {
  T out(x.of[0]);
  if constexpr (slopes_of < T >> 0) {
    for (int j = 0; j < slopes_of<T>; ++j) out.v[j] = x.of[1 + j];
  }
  return out;
}

inline Rules rules_of(const Tolerances& tolerances) {
  using Kronrod = boost::math::quadrature::gauss_kronrod<double, 15>;
  using Gauss   = boost::math::quadrature::gauss<double, 7>;
  // QUADPACK's estimate is (200·|G₇ − K₁₅|)^1.5, as in quadrature.hpp
  const auto   difference = [](double relative) { return std::pow(relative, 2.0 / 3.0) / 200.0; };
  const double in_wood    = 0.1 * tolerances.relative;
  // what the estimate of a series leaves out is so small a part of it that one and a half times what the adaptive path allows
  // gives what that gives; half of it where the strokes themselves hang on it
  return {.relative          = 1.5 * tolerances.relative,
          .absolute_um       = 1.5 * tolerances.absolute_um,
          .counted           = 0.4,
          .max_steps         = std::min(tolerances.max_steps, 2000),
          .growth_difference = difference(in_wood),
          .growth_newton     = 0.01 * std::sqrt(in_wood),
          .node              = Kronrod::abscissa().data(),
          .weight            = Kronrod::weights().data(),
          .weight_7          = Gauss::weights().data()};
}

/// Puts a history at its start; its blade.
template <class T>
Blade<T> begin(HistoryBatchOf<T>& batch, std::size_t i, const HistoryStartOf<T>& start,
               LaneResultOf<T>& result) {
  const Model<T>& model = batch.model(i);
  const auto      tool  = static_cast<std::size_t>(batch.plan(i).tool);
  const auto&     steel = model.steels[static_cast<std::size_t>(model.steel_of_tool[tool])];
  Blade<T>        blade = assemble_blade(model.tools[tool], steel.hardness_GPa, steel.carbide_um,
                                         model.coefficients.carbide_share, steel.wear_ratio);
  result.state          = start.state != nullptr
                              ? *start.state
                              : initial_state(model.tools[tool], blade, model.tester.contact_distance_um);
  if (start.ledger != nullptr)
    result.ledger = *start.ledger;
  else
    result.ledger.reset(model.media.size());
  return blade;
}

/// Up to so many histories go through their steps together: many, so that registers are full to the end, and no more than stay
/// near the processor, with derivatives fewer.
template <class T>
inline constexpr std::size_t abreast = slopes_of<T> == 0 ? 256 : 128;

template <class T>
class BatchRun {
  static constexpr int slopes = slopes_of<T>;
  using Abrasion              = lanes::Abrasion<slopes>;
  using Growth                = lanes::Growth<slopes>;
  using Batch                 = HistoryBatchOf<T>;
  using Result                = LaneResultOf<T>;

 public:
  BatchRun(Batch& batch, const Tolerances& tolerances, const Kernels<slopes>& kernels)
      : batch_(batch), tolerances_(tolerances), kernels_(kernels), rules_(rules_of(tolerances)) {}

  /// The histories of the batch from `first` on, as many as there are `results`.
  void run(std::span<Result> results, std::size_t first) {
    results_ = results;
    first_   = first;
    members_.assign(results.size(), {});
    for (std::size_t m = 0; m < members_.size(); ++m) {
      const HistoryStartOf<T> start = batch_.start(first_ + m);
      members_[m].blade             = begin(batch_, first_ + m, start, results_[m]);
      members_[m].step              = start.step;
      members_[m].plan              = &batch_.plan(first_ + m);
      results_[m].status            = {};
      results_[m].adaptive_from     = -1;
    }
    for (;;) {
      bool any = false;
      for (std::size_t m = 0; m < members_.size(); ++m) any |= go_on(m);
      if (!any) return;
      work();
      // in any order: none of them touches the tasks of another
      finish(on_face_);
      finish(on_strop_);
      finish(in_wood_);
      forget_tasks();
    }
  }

 private:
  struct Member {
    Blade<T>        blade;
    const EdgePlan* plan = nullptr;
    std::size_t     step = 0;
    bool            done = false;
  };
  struct OnFace {
    std::size_t  member;
    FaceStage<T> stage;
    int          medium;
    double       most;  ///< strokes within which a counted burr must have been raised
    Face         kind;
    std::size_t  first_task;
  };
  struct OnStrop {
    std::size_t   member;
    StropStage<T> stage;
    std::size_t   first_task;
  };
  struct InWood {
    std::size_t  member;
    WoodStage<T> stage;
    double       passes;
    std::size_t  law, first_task;
    std::size_t  looks;  ///< tasks before the one of its end
  };

  const EdgePlan&         plan(std::size_t m) { return *members_[m].plan; }
  const Step&             step(std::size_t m) { return plan(m).steps[members_[m].step]; }
  std::span<const double> points(std::size_t m) {
    return batch_.observer(first_ + m).points(members_[m].step, step(m));
  }

  /// Puts the next stage of a member among the tasks; false where its history is over.
  bool go_on(std::size_t m) {
    Member& member = members_[m];
    Result& result = results_[m];
    while (!member.done && member.step < plan(m).steps.size()) {
      const Step& next = step(m);
      if (std::holds_alternative<ReadStep>(next)) {
        auto& observer = batch_.observer(first_ + m);
        for (const double point : points(m)) observer.at(member.step, point, result.state, result.ledger);
        after(m, T(0.0));
      } else if (const auto* dress = std::get_if<DressStep>(&next)) {
        result.ledger.strokes_on_medium[static_cast<std::size_t>(dress->medium)] = T(0.0);
        after(m, T(0.0));
      } else {
        const bool taken = std::visit([&](const auto& s) { return take(m, s); }, next);
        if (taken) {
          look_ahead(m);
          return true;
        }
        continue_adaptively(m);
      }
    }
    return false;
  }

  // Where every history has a plan and a model of its own, each is asked for again long after the last time: fetched ahead, they
  // are there when their turn comes.
  template <class X>
  static void fetch(const X& x) {
    const char* const at = reinterpret_cast<const char*>(&x);
    for (std::size_t i = 0; i < sizeof(X); i += 64) __builtin_prefetch(at + i);
  }
  void look_ahead(std::size_t m) {
    const auto&       steps = plan(m).steps;
    const std::size_t next  = members_[m].step + 1;
    if (next + 1 < steps.size()) fetch(steps[next + 1]);
    if (next >= steps.size()) return;
    const Model<T>& now = model(m);
    const auto      of  = [](const auto& table, int i) { fetch(table[static_cast<std::size_t>(i)]); };
    if (const auto* hone = std::get_if<HoneStep>(&steps[next])) of(now.media, hone->medium);
    if (const auto* strop = std::get_if<StropStep>(&steps[next])) {
      of(now.backings, strop->backing);
      of(now.compounds, strop->compound_index);
    }
    if (const auto* cut = std::get_if<CutStep>(&steps[next])) of(now.woods, cut->wood);
  }

  void after(std::size_t m, const T& count) {
    StepOutcome<T> outcome;
    outcome.count = count;
    batch_.observer(first_ + m).after(members_[m].step, outcome, results_[m].state, results_[m].ledger);
    ++members_[m].step;
  }

  /// The adaptive path, from the step in hand to the end.
  void continue_adaptively(std::size_t m) {
    Result& result       = results_[m];
    result.adaptive_from = static_cast<int>(members_[m].step);
    result.status        = continue_history(batch_.model(first_ + m), plan(m), tolerances_, result.state,
                                            result.ledger, batch_.observer(first_ + m), members_[m].step);
    members_[m].done     = true;
  }

  // tasks of a stage: one for each point, and the last for the end. The end does not depend on what is looked at.
  template <class Add>
  void add_for_each_count(std::size_t m, double end, const Add& add) {
    for (const double point : points(m)) {
      if (point > end) break;
      add(point);
    }
    add(end);
  }

  // an exponent that varies has a derivative that these do not
  static bool has_closed_forms(const laws::HoningFloor<T>& floor) {
    return floor.exponent == 2.0 && !Number<T>::varies(floor.exponent);
  }
  static void set_floor(Abrasion& task, const laws::HoningFloor<T>& floor, const EdgeState<T>& state,
                        const T& own_scratch) {
    task.constant[Abrasion::own_scratch] = parts_of<T>(own_scratch);
    task.constant[Abrasion::per_scratch] = parts_of<T>(floor.radius_per_scratch);
    task.constant[Abrasion::least_um2]   = parts_of<T>(floor.least_um2);
    task.y[Abrasion::radius]             = parts_of<T>(state.apex_radius_um);
    task.scratch                         = parts_of<T>(state.scratch_um);
    task.outcome                         = Outcome::open;
  }
  static void finish_at_once_if_nothing_is_done(Abrasion& task, double count) {
    if (!(count > 0.0)) task.outcome = Outcome::finished;
  }

  bool on_face(std::size_t m, const FaceStage<T>& stage, int medium, double strokes, bool counted,
               double max_strokes) {
    const EdgeState<T>& state       = results_[m].state;
    const T             own_scratch = stage.is_bevel ? stage.own_scratch_um : state.scratch_um;
    if (!has_closed_forms(stage.floor) || (stage.is_bevel && stage.depth_follows_pressure) ||
        !(own_scratch > 0.0))
      return false;
    if (counted && !points(m).empty()) return false;
    const Face kind  = !stage.is_bevel ? Face::back : counted ? Face::counted : Face::bevel;
    auto&      tasks = abrasions_[static_cast<std::size_t>(kind)];
    on_face_.push_back({m, stage, medium, max_strokes, kind, tasks.size()});
    const auto until = [&](Abrasion& task, double n) {
      const T worth =
          stage.glaze.effective_between(T(n), stage.start_fresh, stage.glaze.freshness(T(stage.used + n)));
      task.worth                     = parts_of<T>(worth);
      task.constant[Abrasion::depth] = parts_of<T>(stage.depth_after(worth) - stage.start_depth_um);
    };
    Abrasion task{};
    set_floor(task, stage.floor, state, own_scratch);
    const T land_start                  = stage.land.land_mm(stage.start_depth_um);
    task.constant[Abrasion::fall]       = parts_of<T>(stage.faces * stage.fall_per_removal);
    task.constant[Abrasion::excess]     = parts_of<T>(stage.tip.excess_um);
    task.constant[Abrasion::land_start] = parts_of<T>(land_start);
    task.constant[Abrasion::land_slope] =
        parts_of<T>(stage.land.grows() ? T(land_start / stage.start_depth_um) : T(0.0));  // ℓ ∝ h
    task.constant[Abrasion::pace]        = parts_of<T>(stage.faces / stage.land.section_per_stroke);
    task.constant[Abrasion::glaze_floor] = parts_of<T>(stage.glaze.floor);
    task.constant[Abrasion::glaze_rate]  = parts_of<T>(1.0 / stage.glaze.strokes);
    task.constant[Abrasion::fresh_start] = parts_of<T>(stage.start_fresh);
    task.constant[Abrasion::own_floor]   = parts_of<T>(stage.own_floor_um);
    task.y[Abrasion::fresh]              = parts_of<T>((1.0 - stage.glaze.floor) * stage.start_fresh);
    task.y[Abrasion::left]               = strokes;
    if (counted) {
      until(task, CountedStage<T>{stage, strokes}.latest(max_strokes));
      finish_at_once_if_nothing_is_done(task, strokes);
      tasks.push_back(task);
      return true;
    }
    add_for_each_count(m, strokes, [&](double n) {
      until(task, n);
      task.strokes = n;
      finish_at_once_if_nothing_is_done(task, n);
      tasks.push_back(task);
      task.outcome = Outcome::open;
    });
    return true;
  }
  bool take(std::size_t m, const HoneStep& s) {
    return on_face(m, assemble(s, model(m), members_[m].blade, results_[m].state, results_[m].ledger),
                   s.medium, s.strokes, s.after_burr, s.max_strokes);
  }
  bool take(std::size_t m, const BackStep& s) {
    return on_face(m, assemble(s, model(m), members_[m].blade, results_[m].state, results_[m].ledger),
                   s.medium, s.strokes, false, s.strokes);
  }
  bool take(std::size_t m, const StropStep& s) {
    const auto stage = assemble(s, model(m), members_[m].blade, results_[m].state, results_[m].ledger);
    if (!has_closed_forms(stage.floor)) return false;
    auto& tasks = abrasions_[static_cast<std::size_t>(Face::strop)];
    on_strop_.push_back({m, stage, tasks.size()});
    Abrasion task{};
    set_floor(task, stage.floor, results_[m].state, stage.own_scratch_um);
    constexpr double share            = laws::of_outline::worn_in_share;
    const T          wear_in          = stage.per_MPa * stage.pad.modulus_MPa;
    task.constant[Abrasion::fall]     = parts_of<T>(stage.fall_per_removal);
    task.constant[Abrasion::strength] = parts_of<T>(stage.pad.length_um);
    task.constant[Abrasion::strain]   = parts_of<T>(T(stage.pad.strain * stage.pad.strain));
    task.constant[Abrasion::wear_in]  = parts_of<T>(wear_in);
    task.constant[Abrasion::per_lap]  = parts_of<T>(T(share * wear_in));
    add_for_each_count(m, s.laps, [&](double n) {
      const T laps                     = stage.laps_at_tip(T(n));
      task.constant[Abrasion::worn_in] = parts_of<T>(T(share * stage.worn_in_um(laps)));
      task.y[Abrasion::laps]           = parts_of<T>(laps);
      task.strokes                     = n;
      finish_at_once_if_nothing_is_done(task, Scalar<T>::value(laps));
      tasks.push_back(task);
      task.outcome = Outcome::open;
    });
    return true;
  }
  bool take(std::size_t m, const CutStep& s) {
    const Model<T>&                           now = model(m);
    std::array<T, laws::most_wear_parameters> parameters;
    if (!now.wear.put_growth(wear_conditions(s, now, members_[m].blade), parameters)) return false;
    const auto        stage = assemble(s, now, members_[m].blade, results_[m].state, results_[m].ledger);
    const std::size_t law   = now.wear.place();
    if (law >= growths_.size()) growths_.resize(law + 1);
    auto&             tasks      = growths_[law];
    const std::size_t first_task = tasks.size();
    Growth            task{};
    std::transform(parameters.begin(), parameters.end(), task.law, parts_of<T>);
    task.critical_radius = parts_of<T>(stage.collapse.critical_radius_um);
    task.collapse_length = parts_of<T>(stage.collapse.length_m);
    std::copy_n(stage.joints().begin(), 2, task.joint);
    add_for_each_count(m, s.passes, [&](double n) {
      task.path    = n * s.pass_m;
      task.radius  = parts_of<T>(stage.start(results_[m].state)[0]);
      task.outcome = n > 0.0 ? Outcome::open : Outcome::finished;
      tasks.push_back(task);
    });
    in_wood_.push_back({m, stage, s.passes, law, first_task, tasks.size() - first_task - 1});
    return true;
  }
  bool take(std::size_t, const ReadStep&) { return false; }
  bool take(std::size_t, const DressStep&) { return false; }

  const Model<T>& model(std::size_t m) { return batch_.model(first_ + m); }

  void work() {
    auto& open    = lists_.open;
    auto& counted = lists_.counted;
    counted.clear();
    for (const Face kind : {Face::back, Face::bevel, Face::counted, Face::strop}) {
      open.clear();
      for (Abrasion& task : abrasions_[static_cast<std::size_t>(kind)]) {
        if (task.outcome == Outcome::open) open.push_back(&task);
      }
      kernels_.abrasion(open.data(), open.size(), kind, rules_);
      for (Abrasion* const task : open) {
        if (task->outcome == Outcome::given_up) continue;
        // at the latest stroke, and some with a burr still to come
        if (kind == Face::counted && task->outcome == Outcome::finished) task->outcome = Outcome::given_up;
        if (kind == Face::counted && task->outcome != Outcome::given_up) counted.push_back(task);
      }
    }
    kernels_.strokes(counted.data(), counted.size());
    for (std::size_t law = 0; law < growths_.size(); ++law) grow(law);
  }

  // Edges in wood. Where one is looked at often on its way, each look but the first is reached from the one before, which is nearer than the
  // start. Its end is not, so that looking changes nothing there
  void grow(std::size_t law) {
    constexpr std::size_t often   = 8;
    auto&                 growing = lists_.growing;
    const auto            work_on = [&] {
      if (!growing.empty()) kernels_.growth(growing.data(), growing.size(), law, rules_);
      growing.clear();
    };
    const auto add_if_open = [&](Growth& task) {
      if (task.outcome == Outcome::open) growing.push_back(&task);
    };
    growing.clear();
    std::size_t most = 0;
    for (const InWood& edge : in_wood_) {
      if (edge.law != law) continue;
      Growth* const task = growths_[law].data() + edge.first_task;
      add_if_open(task[edge.looks]);
      const std::size_t from_start = edge.looks < often ? edge.looks : 1;
      for (std::size_t k = 0; k < from_start; ++k) add_if_open(task[k]);
      for (std::size_t k = edge.looks; k-- > from_start;) task[k].path -= task[k - 1].path;
      if (from_start < edge.looks) most = std::max(most, edge.looks);
    }
    work_on();
    for (std::size_t k = 1; k < most; ++k) {
      for (const InWood& edge : in_wood_) {
        if (edge.law != law || edge.looks < often || !(k < edge.looks)) continue;
        Growth& task   = growths_[law][edge.first_task + k];
        Growth& before = growths_[law][edge.first_task + k - 1];
        task.radius    = before.radius;
        if (before.outcome == Outcome::given_up) task.outcome = Outcome::given_up;
        add_if_open(task);
      }
      work_on();
    }
  }

  // hands out what the tasks of a stage came to, or goes on alone where one was given up. `count_at(task)` in strokes, laps or
  // passes, `state_of(before, task)`, `enter(ledger, before, now, task, n)`
  template <class Task, class CountOf, class StateOf, class Enter>
  void hand_out(std::size_t m, double end_of_step, const Task* task, const CountOf& count_at,
                const StateOf& state_of, const Enter& enter) {
    Result&            result = results_[m];
    const auto         looks  = points(m);
    const EdgeState<T> before = result.state;
    std::size_t        seen   = 0;
    while (seen < looks.size() && !(looks[seen] > end_of_step)) ++seen;
    const Task* const last = task + seen;
    for (const Task* t = task; t <= last; ++t) {
      if (t->outcome == Outcome::given_up) return continue_adaptively(m);
    }
    const T            n   = count_at(*last);
    const EdgeState<T> end = state_of(before, *last, n);
    if (!fits_on(members_[m].blade, end)) return continue_adaptively(m);  // which says so
    if (seen > 0) {
      const Ledger<T> ledger_before = result.ledger;
      for (std::size_t i = 0; i < seen; ++i) {
        result.ledger           = ledger_before;
        const EdgeState<T> then = state_of(before, task[i], T(looks[i]));
        enter(result.ledger, before, then, task[i], T(looks[i]));
        batch_.observer(first_ + m).at(members_[m].step, looks[i], then, result.ledger);
      }
      result.ledger = ledger_before;
    }
    result.state = end;
    enter(result.ledger, before, result.state, *last, n);
    after(m, n);
  }
  /// What was worked out of a face at one count.
  struct Worked {
    T strokes, effective, depth_um, opened_um;
  };
  Worked worked(const OnFace& f, const Abrasion& task) const {
    const auto& stage = f.stage;
    Worked      out{number_of<T>(task.strokes), T(0.0), T(0.0), T(0.0)};
    if (f.kind == Face::counted && task.outcome == Outcome::settled)
      out.strokes += number_of<T>(task.y[Abrasion::left]);
    out.effective =
        f.kind == Face::counted ? stage.glaze.effective(stage.used, out.strokes) : number_of<T>(task.worth);
    out.depth_um = stage.depth_after(out.effective);
    if (!stage.is_bevel) return out;
    out.opened_um = stage.faces * number_of<T>(task.y[Abrasion::opened]);
    if (task.outcome == Outcome::settled) {
      const std::array<T, 2> at{number_of<T>(task.y[Abrasion::radius]), number_of<T>(task.scratch)};
      out.opened_um +=
          stage.opened_between(T(stage.start_depth_um + number_of<T>(task.removed)), out.depth_um, at);
    }
    return out;
  }
  void finish(const std::vector<OnFace>& list) {
    for (const OnFace& f : list) {
      const auto&           stage = f.stage;
      const Abrasion* const task  = abrasions_[static_cast<std::size_t>(f.kind)].data() + f.first_task;
      if (f.kind == Face::counted && task->outcome != Outcome::given_up &&
          Scalar<T>::value(worked(f, *task).strokes) > f.most) {
        continue_adaptively(f.member);
        continue;
      }
      hand_out(
          f.member, count_of(step(f.member)), task, [&](const Abrasion& t) { return worked(f, t).strokes; },
          [&](const EdgeState<T>& before, const Abrasion& t, const T&) {
            const Worked w       = worked(f, t);
            const T      scratch = stage.is_bevel ? number_of<T>(t.scratch) : before.scratch_um;
            return stage.finish_at(before, {number_of<T>(t.y[Abrasion::radius]), scratch, w.opened_um},
                                   w.strokes, w.depth_um);
          },
          [&](Ledger<T>& ledger, const EdgeState<T>&, const EdgeState<T>&, const Abrasion& t, const T& n) {
            count_strokes(ledger, f.medium, n, Scalar<T>::value(n),
                          T(stage.land.section_per_stroke * worked(f, t).effective));
          });
    }
  }
  void finish(const std::vector<OnStrop>& list) {
    for (const OnStrop& f : list) {
      hand_out(
          f.member, count_of(step(f.member)),
          abrasions_[static_cast<std::size_t>(Face::strop)].data() + f.first_task,
          [](const Abrasion& t) { return number_of<T>(t.strokes); },
          [&](const EdgeState<T>& before, const Abrasion& t, const T& n) {
            return f.stage.finish(before, {number_of<T>(t.y[Abrasion::radius]), number_of<T>(t.scratch)}, n);
          },
          [&](Ledger<T>& ledger, const EdgeState<T>&, const EdgeState<T>&, const Abrasion&, const T& n) {
            count_strokes(ledger, -1, n, Scalar<T>::value(n), f.stage.removed(n));
          });
    }
  }
  void finish(const std::vector<InWood>& list) {
    for (const InWood& f : list) {
      hand_out(
          f.member, f.passes, growths_[f.law].data() + f.first_task,
          [&](const Growth&) { return T(f.passes); },
          [&](const EdgeState<T>& before, const Growth& t, const T& n) {
            return f.stage.finish(before, {number_of<T>(t.radius)}, n);
          },
          [&](Ledger<T>& ledger, const EdgeState<T>& before, const EdgeState<T>& now, const Growth&,
              const T& n) {
            count_passes(ledger, Scalar<T>::value(n), f.stage.pass_m);
            ledger.steel_worn_um_mm += f.stage.worn(before, now);
          });
    }
  }
  void forget_tasks() {
    on_face_.clear();
    on_strop_.clear();
    in_wood_.clear();
    for (auto& tasks : abrasions_) tasks.clear();
    for (auto& tasks : growths_) tasks.clear();
  }

  Batch&                                          batch_;
  const Tolerances&                               tolerances_;
  const Kernels<slopes>&                          kernels_;
  Rules                                           rules_;
  std::span<Result>                               results_;
  std::size_t                                     first_ = 0;
  std::vector<Member>                             members_;
  std::vector<OnFace>                             on_face_;
  std::vector<OnStrop>                            on_strop_;
  std::vector<InWood>                             in_wood_;
  std::array<std::vector<Abrasion>, faces_of_all> abrasions_;  ///< by Face
  std::vector<std::vector<Growth>>                growths_;    ///< by place of the law
  struct {
    std::vector<Abrasion*> open, counted;
    std::vector<Growth*>   growing;
  } lists_;
};

}  // namespace lanes

template <class T>
void run_batch(HistoryBatchOf<T>& batch, const Tolerances& tolerances, std::vector<LaneResultOf<T>>& results,
               InstructionSet set) {
  results.resize(batch.size());
  const lanes::KernelSet* const have    = lanes::kernels_of(set);
  const auto                    kernels = [&]() -> const lanes::Kernels<lanes::slopes_of<T>>* {
    if (have == nullptr) return nullptr;
    if constexpr (lanes::slopes_of<T> == 0) return have->plain;
    if constexpr (lanes::slopes_of<T> == 4) return have->four;
    if constexpr (lanes::slopes_of<T> == 8) return have->eight;
  }();
  if (kernels == nullptr) {
    for (std::size_t i = 0; i < batch.size(); ++i) {
      LaneResultOf<T>&        r     = results[i];
      const HistoryStartOf<T> start = batch.start(i);
      (void)lanes::begin(batch, i, start, r);
      r.adaptive_from = static_cast<int>(start.step);
      r.status        = continue_history(batch.model(i), batch.plan(i), tolerances, r.state, r.ledger,
                                         batch.observer(i), start.step);
    }
    return;
  }
  lanes::BatchRun<T> run(batch, tolerances, *kernels);
  for (std::size_t first = 0; first < batch.size(); first += lanes::abreast<T>) {
    const std::size_t count = std::min(lanes::abreast<T>, batch.size() - first);
    run.run(std::span(results).subspan(first, count), first);
  }
}

}  // namespace arris
