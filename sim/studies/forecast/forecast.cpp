// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/forecast.hpp"

// clang-format off
#include <math.h>  // NOLINT(modernize-deprecated-headers): first, as pchip.hpp of Boost 1.74 calls isnan without std
// clang-format on

#include <algorithm>
#include <cmath>
#include <functional>
#include <iterator>
#include <mutex>

#include <boost/math/interpolators/pchip.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/missed_wear.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/history_tree.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/simulate/way.hpp"

namespace arris {
namespace {

constexpr int         grid_points  = 160;
constexpr int         curve_points = 40;
constexpr std::size_t block        = 64;  // members that share one copy of the model, and are run together

/// Keeps the radius that a tester meets, and the burr, at the points of the last step.
class Curve final : public HistoryObserver<double> {
 public:
  Curve(std::size_t step, const std::vector<double>& grid) : step_(step), grid_(grid) {}
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    return i == step_ ? std::span<const double>(grid_) : std::span<const double>{};
  }
  void at(std::size_t, double, const EdgeState<double>& e, const Ledger<double>&) override {
    radius.push_back(e.met_radius_um());
    burr.push_back(e.burr_um);
  }
  std::vector<double> radius, burr;

 private:
  std::size_t                step_;
  const std::vector<double>& grid_;
};

Band band(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  return {quantile_of_sorted(values, 0.5 - 0.5 * share), quantile_of_sorted(values, 0.5),
          quantile_of_sorted(values, 0.5 + 0.5 * share)};
}

Band around(double middle, std::vector<double> values, double share) {
  // the values as set are one version too: skewed as the others may be, a number does not stand outside its own band
  const Band others = band(std::move(values), share);
  return {std::min(others.low, middle), middle, std::max(others.high, middle)};
}

// histories of an edge: of the members, of the scenario itself, and under each law at its optimum
std::size_t runs_of(const Ensemble& ensemble) { return ensemble.size() + 1 + ensemble.laws.size(); }

/// Members `first` … `first + size − 1` of an ensemble, their numbers put into one model in turn; behind the last one stand
/// the scenario itself and the optimum under each law, where there are several.
class Members final : public HistoryBatch {
 public:
  Members(const Scenario& scenario, const Ensemble& ensemble, std::size_t first, const EdgePlan& plan,
          const std::vector<double>& grid)
      : ensemble_(ensemble),
        first_(first),
        plan_(plan),
        model_(scenario.model),
        places_(ensemble.paths.size(), nullptr) {
    for_each_number(model_, [&](const std::string& path, const Field&, double& number) {
      const auto at = std::find(ensemble.paths.begin(), ensemble.paths.end(), path);
      if (at != ensemble.paths.end())
        places_[static_cast<std::size_t>(at - ensemble.paths.begin())] = &number;
    });
    for (const double* number : places_) own_.push_back(*number);
    own_wear_ = model_.wear;
    for (std::size_t i = first; i < std::min(runs_of(ensemble), first + block); ++i)
      curves.emplace_back(plan.steps.size() - 1, grid);
  }
  Members(const Members&)            = delete;
  Members& operator=(const Members&) = delete;
  ~Members() override                = default;

  [[nodiscard]] std::size_t size() const override { return curves.size(); }
  const Model<double>&      model(std::size_t i) override {
    const std::size_t run = first_ + i;
    for (std::size_t j = 0; j < places_.size(); ++j) *places_[j] = number(run, j);
    if (ensemble_.has_laws()) model_.wear = wear(run);
    return model_;
  }
  const EdgePlan&          plan(std::size_t) override { return plan_; }
  HistoryObserver<double>& observer(std::size_t i) override { return curves[i]; }

  std::vector<Curve> curves;

 private:
  [[nodiscard]] double number(std::size_t run, std::size_t j) const {
    if (run < ensemble_.size())
      return ensemble_.values(static_cast<Eigen::Index>(run), static_cast<Eigen::Index>(j));
    return run == ensemble_.size() ? own_[j] : ensemble_.laws[run - ensemble_.size() - 1].best[j];
  }
  [[nodiscard]] const laws::HeldWearLaw<double>& wear(std::size_t run) const {
    if (run < ensemble_.size()) return ensemble_.wear[run];
    return run == ensemble_.size() ? own_wear_ : ensemble_.laws[run - ensemble_.size() - 1].wear;
  }

  const Ensemble&           ensemble_;
  std::size_t               first_;
  const EdgePlan&           plan_;
  Model<double>             model_;
  std::vector<double*>      places_;
  std::vector<double>       own_;  ///< numbers of the scenario at these places
  laws::HeldWearLaw<double> own_wear_;
};

/// What is asked of the history of an edge in every member.
struct EdgeQuestion {
  EdgePlan            plan;     ///< up to its first cut, which goes on
  std::vector<double> grid;     ///< passes at which radius and burr are kept, ascending
  std::vector<double> at;       ///< passes of the curve in the answer
  double              limit_N;  ///< reading that ends the life
  std::vector<double> tasks_N;  ///< limits of the workshop, in their order
};

EdgeQuestion question_of(const EdgePlan& edge, const ForecastSettings& settings, const Workshop& workshop) {
  EdgeQuestion out{.plan    = working_history(edge, settings.passes),
                   .grid    = passes_grid(settings.passes, grid_points),
                   .at      = passes_grid(settings.passes, curve_points),
                   .limit_N = settings.limit_N,
                   .tasks_N = {}};
  for (const Limit& limit : workshop.limits) out.tasks_N.push_back(laws::in_newton(limit.reading_gf));
  return out;
}

/// Readings and lives of one member: of its mean edge, and of a next one.
struct MemberLife {
  bool                usable = false;  ///< false: its history could not be integrated
  double              fresh = not_given, lowest = not_given, lowest_at = not_given;
  double              fresh_by_law = not_given;            ///< without what the law misses along the passes
  double              mean = not_given, next = not_given;  ///< passes to the limit
  std::vector<double> tasks, mean_curve, next_curve;
};

/// Lives of one edge.
struct EdgeLives {
  MemberLife              own;  ///< of the scenario itself
  std::vector<MemberLife> members;
  std::vector<MemberLife> laws;  ///< at the optimum under each law
};

/// Of an edge: how many times as large its apex is, and how many times as much it grows in wood.
struct EdgeLuck {
  double apex = 1.0, rate = 1.0;
};

// of each member's next edge, the same for every edge of the configuration; behind the members stand the scenario itself and the laws,
// with their mean edges
std::vector<EdgeLuck> luck_of_next_edges(const Ensemble& ensemble, unsigned long long seed) {
  // rates by an engine of their own: without luck in them the rest stays as it is
  boost::random::mt19937_64                  engine(seed), of_rates(seed + 1);
  boost::random::normal_distribution<double> normal, normal_rate;
  std::vector<EdgeLuck>                      out;
  for (const Spread& spread : ensemble.spreads)
    out.push_back({std::exp(normal(engine) * spread.edge), std::exp(normal_rate(of_rates) * spread.rate)});
  out.resize(runs_of(ensemble));
  return out;
}

std::vector<std::size_t> those_that_cut(const Scenario& scenario, const std::vector<std::size_t>& edges) {
  std::vector<std::size_t> cutting;
  for (const std::size_t e : edges) {
    if (cuts_wood(scenario.edges[e])) cutting.push_back(e);
  }
  if (cutting.empty()) {
    throw Error(Exit::usage, {.code = "no-cut",
                              .what = "none of these edges cuts wood, so how long they last cannot be said",
                              .next = "Add a step { cut = \"white oak\", passes = 100 } to an edge."});
  }
  return cutting;
}

// by run as `luck_of_next_edges`: what the laws miss at the points of the grid (`of_members`, by member), or another log; the scenario itself and each
// law have the mean of what members of that law have
Eigen::MatrixXd of_runs(const Ensemble& ensemble, const Eigen::MatrixXd& of_members) {
  const auto      members = static_cast<Eigen::Index>(ensemble.size());
  Eigen::MatrixXd out(static_cast<Eigen::Index>(runs_of(ensemble)), of_members.cols());
  out.topRows(members) = of_members;
  const auto mean_of   = [&](std::size_t law) {
    std::vector<Eigen::Index> of_law;
    for (Eigen::Index i = 0; i < members; ++i) {
      if (!ensemble.has_laws() || ensemble.law_of[static_cast<std::size_t>(i)] == law) of_law.push_back(i);
    }
    if (of_law.empty()) return Eigen::RowVectorXd(Eigen::RowVectorXd::Zero(out.cols()));
    return Eigen::RowVectorXd(out(of_law, Eigen::all).colwise().mean());
  };
  out.row(members) = mean_of(0);  // the scenario stands at the optimum under the heaviest law
  for (std::size_t k = 0; k < ensemble.laws.size(); ++k)
    out.row(members + 1 + static_cast<Eigen::Index>(k)) = mean_of(k);
  return out;
}

// the edge as its way leaves it, `apex` times what the model says, and as it grows in its wood, `growth` times as much
Curve with_shared_luck(Curve curve, double apex, double growth) {
  for (double& radius : curve.radius) radius *= apex;
  for (double& burr : curve.burr) burr *= apex;
  const double fresh = curve.radius.front();
  for (double& radius : curve.radius) radius = worn_with_luck(fresh, radius, growth);
  return curve;
}

// `curve` has radius and burr at the points of the grid; `next`: luck of the next edge; `misses` at the same points; `level`: log of the
// factor on all readings
MemberLife life_of(Curve curve, const Model<double>& model, const EdgeLuck& next,
                   const EdgeQuestion& question, const Eigen::VectorXd& misses, double level) {
  const std::vector<double>& grid = question.grid;
  const auto&                tool = model.tools[static_cast<std::size_t>(question.plan.tool)];
  const double               half = 0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg);
  const auto                 law  = tester_law(model.tester).at_angle(half);
  const double fresh_by_law       = law.reading_N(curve.radius.front(), curve.burr.front()) * std::exp(level);
  std::vector<double> rest;  // what no radius can show of the misses
  for (std::size_t j = 0; j < grid.size(); ++j) {
    const MissedWear right =
        put_right(law, curve.radius[j], curve.burr[j], misses[static_cast<Eigen::Index>(j)]);
    curve.radius[j] = right.met_um;
    rest.push_back(right.rest + level);
  }
  const double fresh = curve.radius.front();
  // readings of an edge with such luck: at the points of the grid, and between them
  const auto read = [&law, fresh](const EdgeLuck& luck, double radius, double burr, double left) {
    return law.reading_N(luck.apex * worn_with_luck(fresh, radius, luck.rate), luck.apex * burr) *
           std::exp(left);
  };
  const auto on_grid = [&](const EdgeLuck& luck) {
    std::vector<double> readings(grid.size());
    for (std::size_t j = 0; j < readings.size(); ++j)
      readings[j] = read(luck, curve.radius[j], curve.burr[j], rest[j]);
    return readings;
  };
  const std::vector<double>                              means = on_grid({}), nexts = on_grid(next);
  auto                                                   x1 = grid, x2 = grid, x3 = grid;
  boost::math::interpolators::pchip<std::vector<double>> r(std::move(x1), std::move(curve.radius)),
      burr(std::move(x2), std::move(curve.burr)), left(std::move(x3), std::move(rest));
  const auto reading = [&](const EdgeLuck& luck) {
    return [&read, &r, &burr, &left, luck](double x) { return read(luck, r(x), burr(x), left(x)); };
  };
  const auto of_mean = reading({});
  const auto of_next = reading(next);
  const auto lowest  = std::min_element(means.begin(), means.end());
  MemberLife life;
  life.usable       = true;
  life.fresh        = means.front();
  life.fresh_by_law = fresh_by_law;
  life.lowest       = *lowest;
  life.lowest_at    = grid[static_cast<std::size_t>(lowest - means.begin())];
  life.mean         = passes_to_limit(grid, means, of_mean, question.limit_N);
  life.next         = passes_to_limit(grid, nexts, of_next, question.limit_N);
  for (const double limit_N : question.tasks_N)
    life.tasks.push_back(passes_to_limit(grid, means, of_mean, limit_N));
  for (const double x : question.at) {
    life.mean_curve.push_back(of_mean(x));
    life.next_curve.push_back(of_next(x));
  }
  return life;
}

/// What is missed, by run as `luck_of_next_edges`.
struct RunMisses {
  Eigen::MatrixXd along;         ///< runs × points of the grid: by the laws, logs of the reading
  Eigen::VectorXd apex, growth;  ///< of how the edge is sharpened and of its wood, logs (SharedLuck)
  Eigen::VectorXd level;         ///< of all readings, logs
};

// those of an edge, beside what the laws miss
void put_shared_luck(RunMisses& misses, const Ensemble& ensemble, const EdgePlan& plan,
                     unsigned long long seed) {
  const Moment      end{static_cast<int>(std::ssize(plan.steps)) - 1, not_given};
  const std::string way = way_at(plan, end), wood = wood_at(plan, end);
  const SharedLuck  shared = shared_luck(ensemble, way, wood, seed);
  const auto        own    = static_cast<Eigen::Index>(ensemble.size());
  misses.apex              = of_runs(ensemble, shared.apex);
  misses.growth            = of_runs(ensemble, shared.growth);
  misses.apex[own]         = effect_at_best(ensemble, {EffectKind::way, way});
  misses.growth[own]       = effect_at_best(ensemble, {EffectKind::way_wear, way}) +
                       effect_at_best(ensemble, {EffectKind::wood, wood});
}

// Whether a history was seen to its end, which may be that the work wore the edge away: by then it reads as dull as a tester can tell.
bool wears_through(const RunStatus& status, const EdgePlan& plan) {
  return status.usable() ||
         (status.code == RunStatus::Code::beyond_blade && status.step + 1 == std::ssize(plan.steps));
}

// beyond half of the blade no radius means anything, nor does a law that goes on without end
void bound_by_blade(Curve& curve, const Tool<double>& tool) {
  const double most = 0.5e3 * tool.thickness_mm;
  for (double& radius : curve.radius) radius = radius < most ? radius : most;
  for (double& burr : curve.burr) burr = std::isfinite(burr) ? burr : 0.0;
}

// those of the block of members that begins with `first`; one that cannot be integrated stays unusable
std::vector<MemberLife> lives_of_block(const Scenario& scenario, const Ensemble& ensemble, std::size_t first,
                                       const std::vector<EdgeLuck>& next, const EdgeQuestion& question,
                                       const RunMisses& misses) {
  Members                 members(scenario, ensemble, first, question.plan, question.grid);
  std::vector<LaneResult> results;
  run_batch(members, tolerances_of(scenario), results);
  std::vector<MemberLife> lives(members.size());
  for (std::size_t k = 0; k < members.size(); ++k) {
    if (!wears_through(results[k].status, question.plan)) continue;
    bound_by_blade(members.curves[k], scenario.model.tools[static_cast<std::size_t>(question.plan.tool)]);
    const auto run = static_cast<Eigen::Index>(first + k);
    lives[k]       = life_of(with_shared_luck(std::move(members.curves[k]), std::exp(misses.apex[run]),
                                              std::exp(misses.growth[run])),
                             members.model(k), next[first + k], question, misses.along.row(run).transpose(),
                             misses.level[run]);
  }
  return lives;
}

std::size_t blocks_of(const Ensemble& ensemble) { return (runs_of(ensemble) + block - 1) / block; }

// `block_done` is called after each block, from any thread
EdgeLives lives_of_edge(const Scenario& scenario, const Ensemble& ensemble, const std::vector<EdgeLuck>& next,
                        const EdgeQuestion& question, const RunMisses& misses, int threads,
                        const std::function<void()>& block_done) {
  std::vector<MemberLife> all(next.size());
  for_each_index(blocks_of(ensemble), threads, [&](std::size_t b) {
    auto lives = lives_of_block(scenario, ensemble, b * block, next, question, misses);
    std::move(lives.begin(), lives.end(), all.begin() + static_cast<std::ptrdiff_t>(b * block));
    block_done();
  });
  EdgeLives  out;
  const auto own = all.begin() + static_cast<std::ptrdiff_t>(ensemble.size());
  out.own        = std::move(*own);
  out.laws.assign(std::make_move_iterator(own + 1), std::make_move_iterator(all.end()));
  all.resize(ensemble.size());
  out.members = std::move(all);
  return out;
}

Error cannot_be_run(const char* code, const EdgePlan& plan, const std::string& why) {
  return Error(
      Exit::integration,
      {.code = code, .what = fmt::format("the history of edge \"{}\" cannot be run: {}", plan.name, why)});
}

// why the first member that could not be run could not; empty where all could
std::string first_failure(const Scenario& scenario, const Ensemble& ensemble, const EdgePlan& plan,
                          const EdgeLives& lives) {
  const auto failed = std::find_if(lives.members.begin(), lives.members.end(),
                                   [](const MemberLife& life) { return !life.usable; });
  if (failed == lives.members.end()) return {};
  Scenario one = scenario;
  one.model = member_of(scenario.model, ensemble, static_cast<std::size_t>(failed - lives.members.begin()));
  return describe(predict(one, plan, {}).status, plan);
}

// medians of the members that have a law, as the answer itself is one of all members; at its optimum where too few have it
std::vector<LawForecast> under_each_law(const Ensemble& ensemble, const EdgeLives& lives) {
  std::vector<LawForecast> out;
  for (std::size_t k = 0; k < ensemble.laws.size(); ++k) {
    const EnsembleLaw&             law = ensemble.laws[k];
    std::vector<const MemberLife*> those;
    for (std::size_t i = 0; i < lives.members.size(); ++i) {
      if (ensemble.law_of[i] == k && lives.members[i].usable) those.push_back(&lives.members[i]);
    }
    LawForecast of{law.name, law.weight, law.ruled_out, lives.laws[k].mean, lives.laws[k].mean_curve};
    const auto  median = [&](auto&& value) {
      std::vector<double> values;
      for (const MemberLife* life : those) values.push_back(value(*life));
      return quantile(std::move(values), 0.5);
    };
    if (those.size() >= LawForecast::fewest) {
      of.passes = median([](const MemberLife& life) { return life.mean; });
      for (std::size_t x = 0; x < of.curve_N.size(); ++x)
        of.curve_N[x] = median([x](const MemberLife& life) { return life.mean_curve[x]; });
    }
    out.push_back(std::move(of));
  }
  return out;
}

void name_edge(const EdgePlan& plan, EdgeForecast& f) {
  f.plan  = plan;
  f.edge  = plan.name;
  f.tool  = plan.tool_name;
  f.route = plan.route;
}

// values of the mean edge are those of the scenario itself, or medians where there are several laws; the members, of which one at
// least is usable, make the bands
EdgeForecast forecast_of(const EdgeQuestion& question, const Ensemble& ensemble, const EdgeLives& lives,
                         double share) {
  const auto& cut = std::get<CutStep>(question.plan.steps.back());
  const auto  of  = [&](auto&& value) {
    std::vector<double> values;
    for (const MemberLife& life : lives.members) {
      if (life.usable) values.push_back(std::invoke(value, life));
    }
    return values;
  };
  const auto about = [&](auto&& value) {
    return ensemble.has_laws() ? band(of(value), share)
                               : around(std::invoke(value, lives.own), of(value), share);
  };
  const auto next = of(&MemberLife::next);

  EdgeForecast f;
  name_edge(question.plan, f);
  f.wood   = cut.cut;
  f.pass_m = cut.pass_m;
  // before the first pass laws of wear have no say: the middle is what a simulation reads then
  f.fresh_N       = around(lives.own.fresh_by_law, of(&MemberLife::fresh), share);
  f.settled_N     = about(&MemberLife::lowest);
  f.settled_after = about(&MemberLife::lowest_at);
  if (f.settled_after.middle == 0.0) f.settled_N = f.fresh_N;  // it only rises: one number
  f.mean_passes = about(&MemberLife::mean);
  f.next_passes = band(next, share);
  f.exceeded =
      static_cast<double>(std::count(next.begin(), next.end(), 0.0)) / static_cast<double>(next.size());
  for (std::size_t k = 0; k < question.tasks_N.size(); ++k)
    f.task_passes.push_back(about([&](const MemberLife& life) { return life.tasks[k]; }).middle);
  f.laws = under_each_law(ensemble, lives);
  f.at   = question.at;
  for (std::size_t k = 0; k < f.at.size(); ++k) {
    f.mean_N.push_back(f.at[k] == 0.0 ? f.fresh_N
                                      : about([&](const MemberLife& life) { return life.mean_curve[k]; }));
    f.next_N.push_back(band(of([&](const MemberLife& life) { return life.next_curve[k]; }), share));
  }
  for (const MemberLife& life : lives.members) {
    f.member_fresh_N.push_back(life.fresh);
    f.member_passes.push_back(life.mean);
  }
  f.failed = static_cast<int>(lives.members.size() - next.size());
  return f;
}

// of readings no edge changes
std::vector<Step> work_of(const EdgePlan& plan) {
  std::vector<Step> out;
  std::copy_if(plan.steps.begin(), plan.steps.end(), std::back_inserter(out),
               [](const Step& step) { return !std::holds_alternative<ReadStep>(step); });
  return out;
}

// whether what is worked out of one edge is true of the other too, its way and wood, by which luck is shared, among it
bool lasts_alike(const EdgePlan& a, const EdgePlan& b) {
  const auto end = [](const EdgePlan& plan) {
    return Moment{static_cast<int>(std::ssize(plan.steps)) - 1, not_given};
  };
  const std::vector<Step> of_a = work_of(a), of_b = work_of(b);
  return a.tool == b.tool && way_at(a, end(a)) == way_at(b, end(b)) &&
         wood_at(a, end(a)) == wood_at(b, end(b)) &&
         std::equal(of_a.begin(), of_a.end(), of_b.begin(), of_b.end(), &same_work);
}

// nullptr where nothing is known of an edge with such a plan
const EdgeForecast* known_of(const EdgePlan& plan, const std::vector<EdgeForecast>& edges) {
  const auto found = std::find_if(edges.begin(), edges.end(), [&](const EdgeForecast& f) {
    return f.failed == 0 && lasts_alike(f.plan, plan);  // a failure is told with the name of its edge
  });
  return found != edges.end() ? &*found : nullptr;
}

bool same_settings(const ForecastSettings& a, const ForecastSettings& b) {
  return a.limit_N == b.limit_N && a.passes == b.passes && a.share == b.share && a.seed == b.seed;
}

// what lives of all edges are worked out with
struct LivesTask {
  const Scenario&              scenario;
  const Ensemble&              ensemble;
  const ForecastSettings&      settings;
  const std::vector<EdgeLuck>& next;
  RunMisses                    misses;  ///< one draw for every edge: all are looked at at the same passes
};

EdgeForecast forecast_of_edge(LivesTask& task, const EdgeQuestion& question,
                              const std::function<void()>& block_done) {
  const auto& [scenario, ensemble, settings, next, misses] = task;
  const EdgePlan& plan                                     = question.plan;
  put_shared_luck(task.misses, ensemble, plan, settings.seed + 3);
  const EdgeLives lives =
      lives_of_edge(scenario, ensemble, next, question, misses, settings.threads, block_done);
  if (!lives.own.usable)
    throw cannot_be_run("no-history", plan, describe(predict(scenario, plan, {}).status, plan));
  const std::string failure = first_failure(scenario, ensemble, plan, lives);
  if (std::none_of(lives.members.begin(), lives.members.end(), std::mem_fn(&MemberLife::usable)))
    throw cannot_be_run("no-member", plan, failure);
  EdgeForecast out = forecast_of(question, ensemble, lives, settings.share);
  out.failure      = failure;
  return out;
}

}  // namespace

Forecast forecast(const Scenario& scenario, const Workshop& workshop, const Ensemble& ensemble,
                  const std::vector<std::size_t>& edges, const ForecastSettings& settings,
                  const std::function<void(std::size_t, std::size_t)>& progress, const Forecast* known) {
  // throws where the scenario lacks a parameter of the ensemble
  static_cast<void>(member_of(scenario.model, ensemble, 0));
  const std::vector<std::size_t> cutting = those_that_cut(scenario, edges);
  const std::vector<EdgeLuck>    next    = luck_of_next_edges(ensemble, settings.seed);
  const bool                     holds =
      known != nullptr && known->members == ensemble.size() && same_settings(known->settings, settings);

  std::mutex  speaking;
  std::size_t done       = 0;
  const auto  block_done = [&] {
    if (!progress) return;
    const std::scoped_lock lock(speaking);
    progress(++done, blocks_of(ensemble) * cutting.size());
  };
  Forecast out;
  out.settings = settings;
  out.members  = ensemble.size();
  LivesTask task{scenario,
                 ensemble,
                 settings,
                 next,
                 {of_runs(ensemble, drawn_misses(ensemble, passes_grid(settings.passes, grid_points),
                                                 settings.seed + 2)),
                  {},
                  {},
                  of_runs(ensemble, reading_levels(ensemble))}};
  task.misses.level.tail(static_cast<Eigen::Index>(runs_of(ensemble) - ensemble.size())).setZero();

  for (const std::size_t e : cutting) {
    const EdgeQuestion  question = question_of(scenario.edges[e], settings, workshop);
    const EdgeForecast* alike    = known_of(question.plan, out.edges);
    if (alike == nullptr && holds) alike = known_of(question.plan, known->edges);
    if (alike == nullptr) {
      out.edges.push_back(forecast_of_edge(task, question, block_done));
      continue;
    }
    EdgeForecast same = *alike;
    name_edge(question.plan, same);
    out.edges.push_back(std::move(same));
    for (std::size_t b = 0; b < blocks_of(ensemble); ++b) block_done();
  }
  return out;
}

}  // namespace arris
