// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/forecast.hpp"

// clang-format off
#include <math.h>  // NOLINT(modernize-deprecated-headers): first, as pchip.hpp of Boost 1.74 calls isnan without std
// clang-format on

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>
#include <numeric>

#include <boost/math/interpolators/pchip.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr int         grid_points  = 160;
constexpr int         curve_points = 40;
constexpr std::size_t block        = 64;  // members that share one copy of the model, and are run together

/// Keeps radius and burr at the points of the last step.
class Curve final : public HistoryObserver<double> {
 public:
  Curve(std::size_t step, const std::vector<double>& grid) : step_(step), grid_(grid) {}
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    return i == step_ ? std::span<const double>(grid_) : std::span<const double>{};
  }
  void at(std::size_t, double, const EdgeState<double>& e, const Ledger<double>&) override {
    radius.push_back(e.apex_radius_um);
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
  Band out   = band(std::move(values), share);
  out.middle = middle;
  return out;
}

/// Members `first` … `first + size − 1` of an ensemble, their numbers put into one model in turn; behind the last one stands
/// the scenario itself.
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
    for (std::size_t i = first; i < std::min(ensemble.size() + 1, first + block); ++i)
      curves.emplace_back(plan.steps.size() - 1, grid);
  }
  Members(const Members&)            = delete;
  Members& operator=(const Members&) = delete;
  ~Members() override                = default;

  [[nodiscard]] std::size_t size() const override { return curves.size(); }
  const Model<double>&      model(std::size_t i) override {
    for (std::size_t j = 0; j < places_.size(); ++j) {
           *places_[j] = first_ + i < ensemble_.size() ? ensemble_.values(static_cast<Eigen::Index>(first_ + i),
                                                                          static_cast<Eigen::Index>(j))
                                                       : own_[j];
    }
    return model_;
  }
  const EdgePlan&          plan(std::size_t) override { return plan_; }
  HistoryObserver<double>& observer(std::size_t i) override { return curves[i]; }

  std::vector<Curve> curves;

 private:
  const Ensemble&      ensemble_;
  std::size_t          first_;
  const EdgePlan&      plan_;
  Model<double>        model_;
  std::vector<double*> places_;
  std::vector<double>  own_;  ///< numbers of the scenario at these places
};

struct MemberLife {
  bool                usable = false;
  double              fresh = not_given, lowest = not_given, lowest_at = not_given;
  double              mean = not_given, next = not_given;
  std::vector<double> tasks, mean_curve, next_curve;
};

// hours, or minutes where it is less than one
std::string time_at_work(double hours) {
  if (hours < 1.0) return fmt::format("{:.2g} min", 60.0 * hours);
  return hours < 10.0 ? fmt::format("{:.2g} h", hours) : fmt::format("{:.0f} h", hours);
}

}  // namespace

Forecast forecast(const Scenario& scenario, const Workshop& workshop, const Ensemble& ensemble,
                  const std::vector<std::size_t>& edges, const ForecastSettings& settings,
                  const std::function<void(std::size_t, std::size_t)>& progress) {
  Forecast out;
  out.settings = settings;
  out.members  = ensemble.size();

  // the luck of each next edge, the same for every edge of the configuration
  boost::random::mt19937_64                  engine(settings.seed);
  boost::random::normal_distribution<double> normal;
  std::vector<double>                        luck;
  for (std::size_t i = 0; i < ensemble.size(); ++i) luck.push_back(normal(engine));
  luck.push_back(0.0);  // that of the mean edge, behind all members
  const Spread none{};

  static_cast<void>(
      member_of(scenario.model, ensemble, 0));  // throws where the scenario lacks a parameter of it
  std::vector<std::size_t> cutting;
  for (const std::size_t e : edges) {
    if (cuts_wood(scenario.edges[e])) cutting.push_back(e);
  }
  if (cutting.empty()) {
    throw Error(Exit::usage, {.code = "no-cut",
                              .what = "none of these edges cuts wood, so how long they last cannot be said",
                              .next = "Add a step { cut = \"white oak\", passes = 100 } to an edge."});
  }
  const std::size_t runs   = ensemble.size() + 1;
  const std::size_t blocks = (runs + block - 1) / block;
  std::mutex        speaking;
  std::size_t       done = 0;
  for (const std::size_t e : cutting) {
    const EdgePlan plan = working_history(scenario.edges[e], settings.passes);
    const auto&    cut  = std::get<CutStep>(plan.steps.back());

    EdgeForecast f;
    f.edge                       = plan.name;
    f.tool                       = plan.tool_name;
    f.route                      = plan.route;
    f.wood                       = cut.cut;
    f.pass_m                     = cut.pass_m;
    f.at                         = passes_grid(settings.passes, curve_points);
    const auto              grid = passes_grid(settings.passes, grid_points);
    std::vector<MemberLife> lives(runs);
    for_each_index(blocks, settings.threads, [&](std::size_t b) {
      Members                 members(scenario, ensemble, b * block, plan, grid);
      std::vector<LaneResult> results;
      run_batch(members, tolerances_of(scenario), results);
      for (std::size_t k = 0; k < members.size(); ++k) {
        if (!results[k].status.usable()) continue;
        const std::size_t    i     = b * block + k;
        Curve&               curve = members.curves[k];
        const Model<double>& model = members.model(k);
        const auto&          tool  = model.tools[static_cast<std::size_t>(plan.tool)];
        const double         half  = 0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg);
        const auto           law   = tester_law(model.tester);
        // readings of an edge whose apex is so many times as large: at the points of the grid, and between them
        const auto on_grid = [&](double factor) {
          std::vector<double> readings(grid.size());
          for (std::size_t j = 0; j < readings.size(); ++j)
            readings[j] = law.reading_N(factor * curve.radius[j], factor * curve.burr[j], half);
          return readings;
        };
        const double luck_of_next =
            std::exp(luck[i] * (i < ensemble.size() ? ensemble.spreads[i] : none).edge);
        const std::vector<double> means = on_grid(1.0), nexts = on_grid(luck_of_next);
        auto                      x1 = grid, x2 = grid;
        boost::math::interpolators::pchip<std::vector<double>> r(std::move(x1), std::move(curve.radius)),
            burr(std::move(x2), std::move(curve.burr));
        const auto reading = [&](double factor) {
          return [&law, &r, &burr, half, factor](double x) {
            return law.reading_N(factor * r(x), factor * burr(x), half);
          };
        };
        MemberLife& life   = lives[i];
        const auto  mean   = reading(1.0);
        const auto  next   = reading(luck_of_next);
        const auto  lowest = std::min_element(means.begin(), means.end());
        life.usable        = true;
        life.fresh         = means.front();
        life.lowest        = *lowest;
        life.lowest_at     = grid[static_cast<std::size_t>(lowest - means.begin())];
        life.mean          = passes_to_limit(grid, means, mean, settings.limit_N);
        life.next          = passes_to_limit(grid, nexts, next, settings.limit_N);
        for (const Limit& limit : workshop.limits)
          life.tasks.push_back(passes_to_limit(grid, means, mean, laws::in_newton(limit.reading_gf)));
        for (const double x : f.at) {
          life.mean_curve.push_back(mean(x));
          life.next_curve.push_back(next(x));
        }
      }
      if (progress) {
        const std::scoped_lock lock(speaking);
        progress(++done, blocks * cutting.size());
      }
    });

    // the scenario itself is what is told; the members say how far off it may be
    const MemberLife own = std::move(lives.back());
    lives.pop_back();
    if (!own.usable) {
      throw Error(Exit::integration,
                  {.code = "no-history",
                   .what = fmt::format("the history of edge \"{}\" cannot be run: {}", f.edge,
                                       describe(predict(scenario, plan, {}).status, plan))});
    }
    const auto of = [&](auto&& value) {
      std::vector<double> values;
      for (const MemberLife& life : lives) {
        if (life.usable) values.push_back(value(life));
      }
      return values;
    };
    for (const MemberLife& life : lives) {
      f.member_fresh_N.push_back(life.fresh);
      f.member_passes.push_back(life.mean);
    }
    const auto usable = of([](const MemberLife&) { return 1.0; }).size();
    f.failed          = static_cast<int>(ensemble.size() - usable);
    if (f.failed > 0) {
      const auto first = static_cast<std::size_t>(
          std::find_if(lives.begin(), lives.end(), [](const MemberLife& l) { return !l.usable; }) -
          lives.begin());
      Scenario one = scenario;
      one.model    = member_of(scenario.model, ensemble, first);
      f.failure    = describe(predict(one, plan, {}).status, plan);
    }
    if (usable == 0) {
      throw Error(Exit::integration,
                  {.code = "no-member",
                   .what = fmt::format("the history of edge \"{}\" cannot be run: {}", f.edge, f.failure)});
    }
    const auto about = [&](auto&& value) { return around(value(own), of(value), settings.share); };
    f.fresh_N        = about([](const MemberLife& l) { return l.fresh; });
    f.settled_N      = about([](const MemberLife& l) { return l.lowest; });
    f.settled_after  = about([](const MemberLife& l) { return l.lowest_at; });
    f.mean_passes    = about([](const MemberLife& l) { return l.mean; });
    const auto next  = of([](const MemberLife& l) { return l.next; });
    f.next_passes    = band(next, settings.share);
    f.exceeded =
        static_cast<double>(std::count(next.begin(), next.end(), 0.0)) / static_cast<double>(next.size());
    f.task_passes = own.tasks;
    for (std::size_t k = 0; k < f.at.size(); ++k) {
      f.mean_N.push_back(about([&](const MemberLife& l) { return l.mean_curve[k]; }));
      f.next_N.push_back(band(of([&](const MemberLife& l) { return l.next_curve[k]; }), settings.share));
    }
    out.edges.push_back(std::move(f));
  }
  return out;
}

namespace {

// lives that were measured, by wood, beside those forecast for the same edges
void add_measured(const std::vector<MeasuredLives>& measured, const Forecast& forecast, Answer& answer) {
  if (measured.empty()) return;
  const double limit_gf = laws::in_gram_force(forecast.settings.limit_N);
  AnswerTable  table{
       .name = "measured_lives",
       .says = fmt::format("Lives that were measured, to {:.0f} gf, beside the forecast", limit_gf),
       .axis = "wood"};
  std::vector<const MeasuredLives*> with_lives;
  std::vector<std::string>          wood, spans;
  std::vector<double>               scale, shape, low, middle, high, model;
  for (const MeasuredLives& m : measured) {
    std::vector<double> forecasts;
    for (const EdgeForecast& f : forecast.edges) {
      if (std::find(m.edges.begin(), m.edges.end(), f.edge) != m.edges.end())
        forecasts.push_back(f.mean_passes.middle);
    }
    const auto quantile_of = [&](double p) {
      return m.weibull.usable ? m.weibull.quantile(p) : WeibullFit::Quantile{not_given, not_given, not_given};
    };
    const auto half = quantile_of(0.5);
    wood.push_back(m.wood);
    with_lives.push_back(&m);
    spans.push_back(m.weibull.usable ? fmt::format("{:.0f} ({:.0f} … {:.0f})", rounded_passes(half.value),
                                                   rounded_passes(half.low), rounded_passes(half.high))
                                     : std::string{});
    scale.push_back(m.weibull.scale);
    shape.push_back(m.weibull.shape);
    low.push_back(half.low);
    middle.push_back(half.value);
    high.push_back(half.high);
    const double said = quantile(forecasts, 0.5);
    model.push_back(std::isinf(said) ? not_given : said);
    answer.remark(
        About::certainty,
        fmt::format(
            "Readings in {}: of {}, {} crossed {:.0f} gf, and {} {} still good at the last reading; "
            "{}.{}",
            m.wood, counted(static_cast<long long>(m.edges.size()), "edge"), m.ended, limit_gf, m.still_good,
            m.still_good == 1 ? "was" : "were",
            std::isinf(m.median)
                ? fmt::format("fewer than half have crossed within the {:.0f} passes that were watched",
                              m.watched)
                : fmt::format("half last {:.0f} passes or fewer", rounded_passes(m.median)),
            forecasts.empty() ? std::string{}
                              : fmt::format(" The forecast for the same edges is {}.",
                                            passes_text(rounded_passes(said), forecast.settings.passes))));
  }
  table.text("wood", "wood", "wood they cut", wood);
  add_life_columns(table, with_lives);
  table.text("weibull_median", "half last, Weibull (90 %)", "the same by a Weibull distribution", spans);
  table.number("weibull_scale", "1", "",
               "scale of the Weibull distribution, passes; missing where it cannot be told", scale);
  table.number("weibull_shape", "1", "shape", "shape of the Weibull distribution", shape, 2);
  table.number("weibull_median_low", "1", "", "lower end of 90 % of its median", low);
  table.number("weibull_median_passes", "1", "", "its median, passes", middle);
  table.number("weibull_median_high", "1", "", "upper end of 90 % of its median", high);
  table.number("forecast_passes", "1", "forecast",
               "median of the forecasts of the mean edge for the same edges", model);
  answer.tables.push_back(std::move(table));
  answer.remarks.emplace_back(
      "Measured lives are taken from the readings alone, between the last reading below the limit and the first above; edges in one wood are taken together, whatever their tool and route, up to where they are sharpened again.");
}

}  // namespace

Answer forecast_answer(const Forecast& forecast, const Workshop& workshop, const Ensemble& ensemble,
                       const std::vector<MeasuredLives>& measured) {
  const ForecastSettings& s = forecast.settings;
  Answer                  answer;
  answer.kind           = "forecast";
  const double limit_gf = laws::in_gram_force(s.limit_N);
  const auto   in_ten   = fmt::format("{:.0f} in 10", 10.0 * s.share);
  const auto   upper    = fmt::format("{:.0f} in 100", 100.0 * (0.5 + 0.5 * s.share));
  const auto   hours    = [&](double passes) { return passes / workshop.pace.passes_per_minute / 60.0; };
  const auto   finite   = [](double passes) { return std::isinf(passes) ? not_given : passes; };

  const EdgeForecast& first = forecast.edges.front();
  std::string&        line  = answer.headline;
  const std::string   who   = fmt::format("edge {} ({}{}{}) in {}", first.edge, first.tool,
                                      first.route.empty() ? "" : ", ", first.route, first.wood);
  const double        life  = rounded_passes(first.mean_passes.middle);
  if (life == 0.0) {
    line = fmt::format(
        "No pass is within the limit of {:.0f} gf for {}: it reads about {:.0f} gf fresh and {:.0f} gf at its best. Sharpen it finer, or ask for a higher limit.",
        limit_gf, who, laws::in_gram_force(first.fresh_N.middle),
        laws::in_gram_force(first.settled_N.middle));
  } else if (std::isinf(life)) {
    line = fmt::format("{} is still below {:.0f} gf after {:.0f} passes: it lasts longer than was looked.",
                       "E" + who.substr(1), limit_gf, s.passes);
  } else {
    line =
        fmt::format("Touch up {} after about {:.0f} passes ({:.0f} m, {} at work), when it reads {:.0f} gf",
                    who, life, life * first.pass_m, time_at_work(hours(life)), limit_gf);
    const Band& n = first.next_passes;
    if (forecast.members == 1) {
      line += ".";
    } else if (n.low <= 0.0) {
      line += fmt::format("; {:.0f} of 100 such edges are above it from the first pass on, and ",
                          100.0 * first.exceeded);
      line += std::isinf(n.high) ? fmt::format("{:.0f} or more of 100 last longer than {:.0f} passes.",
                                               100.0 * (0.5 - 0.5 * s.share), s.passes)
                                 : fmt::format("{} last up to {:.0f} passes.", upper, rounded_passes(n.high));
    } else if (std::isinf(n.low)) {
      line += fmt::format("; {} such edges last more than {:.0f} passes.", upper, s.passes);
    } else if (std::isinf(n.high)) {
      line += fmt::format("; {} such edges last longer than {:.0f} passes.", upper, rounded_passes(n.low));
    } else {
      line += fmt::format("; {} such edges last between {:.0f} and {:.0f}.", in_ten, rounded_passes(n.low),
                          rounded_passes(n.high));
    }
  }

  // the sentence above is about the first edge; with others beside it the question is which lasts
  const auto [least, most] = std::minmax_element(forecast.edges.begin(), forecast.edges.end(),
                                                 [](const EdgeForecast& a, const EdgeForecast& b) {
                                                   return a.mean_passes.middle < b.mean_passes.middle;
                                                 });
  if (least->mean_passes.middle < most->mean_passes.middle)
    line +=
        fmt::format(" Of the {} edges {} lasts longest ({} passes) and {} least ({}).", forecast.edges.size(),
                    most->edge, passes_text(rounded_passes(most->mean_passes.middle), s.passes), least->edge,
                    passes_text(rounded_passes(least->mean_passes.middle), s.passes));

  AnswerTable              lives{.name = "lives",
                                 .says = fmt::format("Passes until {:.0f} gf ({})", limit_gf, s.limit_name),
                                 .axis = "edge"};
  std::vector<std::string> edge, route, wood, mean, next;
  const auto               column_of = [&](auto&& value) {
    std::vector<double> values;
    for (const EdgeForecast& f : forecast.edges) values.push_back(value(f));
    return values;
  };
  const auto span = [&](const Band& b) {
    if (forecast.members == 1) return std::string{};
    return passes_text(rounded_passes(b.low), s.passes) + " … " +
           passes_text(rounded_passes(b.high), s.passes);
  };
  for (const EdgeForecast& f : forecast.edges) {
    edge.push_back(f.edge);
    route.push_back(f.route);
    wood.push_back(f.wood);
    mean.push_back(passes_text(rounded_passes(f.mean_passes.middle), s.passes));
    next.push_back(span(f.next_passes));
  }
  lives.text("edge", "edge", "name of the edge", edge);
  lives.text("route", "route", "route it follows", route);
  lives.text("wood", "wood", "wood it cuts", wood);
  const auto gf = [](double newton) { return laws::in_gram_force(newton); };
  lives.number("fresh_gf", "gf", "fresh gf", "reading at the first pass",
               column_of([&](const EdgeForecast& f) { return gf(f.fresh_N.middle); }));
  lives.number("settled_gf", "gf", "settled gf", "lowest reading, after the first passes",
               column_of([&](const EdgeForecast& f) { return gf(f.settled_N.middle); }));
  lives.number("settled_after_passes", "1", "after passes", "passes at which it is lowest",
               column_of([&](const EdgeForecast& f) { return f.settled_after.middle; }));
  lives.columns.back().places = 0;
  lives.text("life", "mean edge", "passes of the mean edge", mean);
  lives.text("next_edges", fmt::format("next edges, {}", in_ten), "span of passes of the next edges", next);
  lives.number("metres", "m", "metres", "path of the mean edge until then",
               column_of([&](const EdgeForecast& f) {
                 return finite(rounded_passes(f.mean_passes.middle) * f.pass_m);
               }),
               2);
  lives.number(
      "hours", "h", "hours", "hours at work of the mean edge until then",
      column_of([&](const EdgeForecast& f) { return finite(hours(rounded_passes(f.mean_passes.middle))); }),
      2);
  const auto passes = [&](const char* name, const char* says, auto&& value) {
    lives.number(name, "1", "", says, column_of([&](const EdgeForecast& f) { return finite(value(f)); }));
  };
  passes("passes", "passes of the mean edge; missing when it outlasts those simulated",
         [](const EdgeForecast& f) { return f.mean_passes.middle; });
  passes("passes_low", "lower end of the band of the mean edge",
         [](const EdgeForecast& f) { return f.mean_passes.low; });
  passes("passes_high", "upper end of the band of the mean edge",
         [](const EdgeForecast& f) { return f.mean_passes.high; });
  passes("next_passes", "passes of the next edge",
         [](const EdgeForecast& f) { return f.next_passes.middle; });
  passes("next_passes_low", "lower end of the band of next edges",
         [](const EdgeForecast& f) { return f.next_passes.low; });
  passes("next_passes_high", "upper end of the band of next edges",
         [](const EdgeForecast& f) { return f.next_passes.high; });
  lives.number("above_at_once_pct", "%", "too dull at once %", "next edges that never come below the limit",
               column_of([](const EdgeForecast& f) { return 100.0 * f.exceeded; }), 2);
  answer.tables.push_back(std::move(lives));

  AnswerTable tasks{.name = "tasks", .says = "Passes of the mean edge by task", .axis = "edge"};
  tasks.text("edge", "edge", "name of the edge", edge);
  std::vector<double> limits;
  for (std::size_t k = 0; k < workshop.limits.size(); ++k) {
    const Limit&             limit = workshop.limits[k];
    std::vector<std::string> cells;
    for (const EdgeForecast& f : forecast.edges)
      cells.push_back(passes_text(rounded_passes(f.task_passes[k]), s.passes));
    tasks.text(limit.name, fmt::format("{} {:.0f} gf", limit.name, limit.reading_gf),
               "passes until this limit", cells);
  }
  answer.tables.push_back(std::move(tasks));

  AnswerTable curves{
      .name = "curves", .says = "Reading against passes", .axis = "point", .on_terminal = false};
  std::vector<std::string>         names;
  std::vector<std::vector<double>> columns(7);
  for (const EdgeForecast& f : forecast.edges) {
    for (std::size_t k = 0; k < f.at.size(); ++k) {
      names.push_back(f.edge);
      const double values[] = {f.at[k],
                               gf(f.mean_N[k].middle),
                               gf(f.mean_N[k].low),
                               gf(f.mean_N[k].high),
                               gf(f.next_N[k].middle),
                               gf(f.next_N[k].low),
                               gf(f.next_N[k].high)};
      for (std::size_t c = 0; c < columns.size(); ++c) columns[c].push_back(values[c]);
    }
  }
  curves.text("edge", "", "name of the edge", names);
  const char* heads[][3] = {{"passes", "1", "passes since the edge was sharpened"},
                            {"reading_gf", "gf", "reading of the mean edge"},
                            {"reading_low_gf", "gf", "lower end of its band"},
                            {"reading_high_gf", "gf", "upper end of its band"},
                            {"next_reading_gf", "gf", "reading of the next edge"},
                            {"next_reading_low_gf", "gf", "lower end of the band of next edges"},
                            {"next_reading_high_gf", "gf", "upper end of the band of next edges"}};
  for (std::size_t c = 0; c < columns.size(); ++c)
    curves.number(heads[c][0], heads[c][1], "", heads[c][2], columns[c]);
  answer.tables.push_back(std::move(curves));

  answer.remarks.push_back(fmt::format(
      "The mean edge is what the model gives {}; the next edge differs from it as edges of one history do, and as the model may be off. "
      "Fresh is the reading before the first pass; the burr goes in the first passes, so the reading may fall before it rises (settled). Hours at {:g} passes a minute, [workshop] passes_per_minute.",
      ensemble.is_fitted() ? "at the best values of the fit"
                           : "at the values as they stand, which arris simulate takes",
      workshop.pace.passes_per_minute));
  add_measured(measured, forecast, answer);
  std::string failed;
  for (const EdgeForecast& f : forecast.edges) {
    if (f.failed > 0) failed += fmt::format("{}{} of {}", failed.empty() ? "" : ", ", f.failed, f.edge);
  }
  if (!failed.empty()) {
    const auto one = std::find_if(forecast.edges.begin(), forecast.edges.end(),
                                  [](const EdgeForecast& f) { return f.failed > 0; });
    answer.remarks.push_back(
        fmt::format("Of {} members these could not be run and are left out: {}. The first: {}",
                    forecast.members, failed, one->failure));
  }
  if (!ensemble.is_fitted() && forecast.members > 1)
    answer.remark(
        About::next,
        "With nothing fitted the span is that of all workshops the defaults allow, so it is wide. Readings of your own edges narrow it: arris fit FILE --draws 2000 --out fit.h5, then --fit fit.h5 here.");
  answer.rests_on = ensemble.rests_on;
  answer.settings = {{"limit_gf", limit_gf},
                     {"passes", s.passes},
                     {"share", s.share},
                     {"members", static_cast<double>(forecast.members)}};
  return answer;
}

}  // namespace arris
