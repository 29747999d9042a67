// SPDX-License-Identifier: MIT
#include "sim/studies/measured_lives.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "sim/laws/gram_force.hpp"

namespace arris {
namespace {

// passes since the first cut at a moment, NaN where the edge has been sharpened again, or not cut yet and a stone is to come
double passes_at(const EdgePlan& plan, const Moment& moment) {
  double passes = 0.0;
  bool   cut    = false;
  for (int i = 0; i <= moment.step; ++i) {
    const Step& step = plan.steps[static_cast<std::size_t>(i)];
    if (const auto* c = std::get_if<CutStep>(&step)) {
      passes += i < moment.step || std::isnan(moment.count) ? c->passes : moment.count;
      cut = true;
    } else if (cut && count_of(step) > 0.0) {
      return not_given;
    }
  }
  if (cut) return passes;
  for (std::size_t i = static_cast<std::size_t>(moment.step) + 1; i < plan.steps.size(); ++i) {
    if (std::holds_alternative<CutStep>(plan.steps[i])) return 0.0;
    if (count_of(plan.steps[i]) > 0.0) return not_given;
  }
  return not_given;
}

}  // namespace

std::vector<MeasuredLives> measured_lives(const Scenario& scenario, const std::vector<Reading>& readings,
                                          const std::vector<std::size_t>& edges, double limit_N) {
  struct Sum {
    double logs  = 0.0;
    int    count = 0;
  };
  std::vector<MeasuredLives>       out;
  std::vector<std::vector<double>> ends;  // by group: where the straight line crosses, or the last reading
  std::vector<std::vector<bool>>   ended;
  for (const std::size_t e : edges) {
    const EdgePlan&       plan = scenario.edges[e];
    std::map<double, Sum> by_passes;
    for (const Reading& r : readings) {
      if (static_cast<std::size_t>(r.edge) != e || !r.excluded.empty() || std::isnan(r.reading_N)) continue;
      const double passes = passes_at(plan, r.moment);
      if (std::isnan(passes)) continue;
      by_passes[passes].logs += std::log(r.reading_N);
      ++by_passes[passes].count;
    }
    if (by_passes.empty() || !(by_passes.rbegin()->first > 0.0)) continue;
    std::vector<double> passes, reading;
    for (const auto& [at, sum] : by_passes) {
      passes.push_back(at);
      reading.push_back(std::exp(sum.logs / sum.count));
    }
    const auto lowest =
        static_cast<std::size_t>(std::min_element(reading.begin(), reading.end()) - reading.begin());
    ObservedLife life;
    double       end = passes.back();
    if (!(reading.back() > limit_N)) {
      life = {passes.back(), infinity};
    } else if (reading[lowest] > limit_N) {
      // never seen below the limit: over by the first reading in wood
      const double first = passes.front() > 0.0 ? passes.front() : passes[1];
      life               = {0.0, first};
      end                = first;
    } else {
      std::size_t above = passes.size() - 1;
      while (above > lowest + 1 && reading[above - 1] > limit_N) --above;
      life = {passes[above - 1], passes[above]};
      end  = life.low +
            (limit_N - reading[above - 1]) / (reading[above] - reading[above - 1]) * (life.high - life.low);
    }
    const auto         first = std::find_if(plan.steps.begin(), plan.steps.end(),
                                            [](const Step& s) { return std::holds_alternative<CutStep>(s); });
    const std::string& wood  = std::get<CutStep>(*first).cut;
    auto group = std::find_if(out.begin(), out.end(), [&](const MeasuredLives& m) { return m.wood == wood; });
    if (group == out.end()) {
      out.push_back({.wood = wood});
      ends.emplace_back();
      ended.emplace_back();
      group = out.end() - 1;
    }
    const auto g      = static_cast<std::size_t>(group - out.begin());
    const bool is_end = std::isfinite(life.high);
    (is_end ? group->ended : group->still_good) += 1;
    group->watched = std::max(group->watched, is_end ? life.high : life.low);
    group->read_to = std::max(group->read_to, passes.back());
    group->edges.push_back(plan.name);
    group->lives.push_back(life);
    ends[g].push_back(end);
    ended[g].push_back(is_end);
  }
  for (std::size_t g = 0; g < out.size(); ++g) {
    out[g].median  = product_limit_median(ends[g], ended[g]);
    out[g].weibull = fit_weibull(out[g].lives);
  }
  return out;
}

void add_life_columns(AnswerTable& table, const std::vector<const MeasuredLives*>& lives) {
  std::vector<double>      edges, crossed, good, numbers;
  std::vector<std::string> median;
  for (const MeasuredLives* m : lives) {
    edges.push_back(static_cast<double>(m->edges.size()));
    crossed.push_back(m->ended);
    good.push_back(m->still_good);
    median.push_back(passes_text(rounded_passes(m->median), m->watched));
    numbers.push_back(std::isinf(m->median) ? not_given : m->median);
  }
  const auto count = [&](const char* name, const char* head, const char* says, std::vector<double> values) {
    table.number(name, "1", head, says, std::move(values));
    table.columns.back().places = 0;
  };
  count("edges", "edges", "edges of which something is known", std::move(edges));
  count("crossed", "crossed", "edges whose readings crossed the limit", std::move(crossed));
  count("still_good", "still good", "edges below the limit at their last reading", std::move(good));
  table.text("median", "half last", "passes by which half have crossed, product-limit estimate",
             std::move(median));
  table.number("median_passes", "1", "",
               "passes by which half have crossed; missing where fewer than half have", std::move(numbers));
}

std::vector<WayLives> measured_way_lives(
    const Scenario& scenario, const std::vector<Reading>& readings,
    const std::vector<std::pair<std::string, std::vector<std::size_t>>>& ways, const std::string& wood,
    double limit_N) {
  std::vector<WayLives> out;
  for (const auto& [name, edges] : ways) {
    for (MeasuredLives& lives : measured_lives(scenario, readings, edges, limit_N)) {
      if (lives.wood == wood) out.push_back({.way = name, .lives = std::move(lives)});
    }
  }
  std::vector<std::size_t>  fittable;  // of these a scale can be fitted; the first is the reference
  std::vector<ObservedLife> all;
  for (std::size_t w = 0; w < out.size(); ++w) {
    if (out[w].lives.ended == 0) continue;
    fittable.push_back(w);
    all.insert(all.end(), out[w].lives.lives.begin(), out[w].lives.lives.end());
  }
  if (fittable.size() < 2) return out;
  Eigen::MatrixXd of  = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(all.size()),
                                              static_cast<Eigen::Index>(fittable.size()) - 1);
  Eigen::Index    row = 0;
  for (std::size_t g = 0; g < fittable.size(); ++g) {
    const auto lives = static_cast<Eigen::Index>(out[fittable[g]].lives.lives.size());
    if (g > 0) of.block(row, static_cast<Eigen::Index>(g) - 1, lives, 1).setOnes();
    row += lives;
  }
  const WeibullFit fit = fit_weibull(all, of);
  if (!fit.usable) return out;
  for (std::size_t g = 1; g < fittable.size(); ++g) {
    WayLives&    way    = out[fittable[g]];
    const int    effect = static_cast<int>(g) - 1;
    const double p      = weibull_p(all, of, weibull_rise_without(all, of, fit, effect));
    if (std::isnan(p)) continue;  // too few
    const Interval ends = weibull_interval(all, of, fit, 2 + effect, weibull_rise(all, of));
    way.ratio           = std::exp(fit.effects[effect]);
    way.interval        = {std::exp(ends.low), std::exp(ends.high)};
    way.p               = p;
  }
  return out;
}

AnswerTable readings_in_wood(const Scenario& scenario, const std::vector<Reading>& readings,
                             const std::vector<std::size_t>& edges) {
  std::vector<std::string> edge, person, excluded;
  std::vector<double>      at, reading;
  for (const std::size_t e : edges) {
    for (const Reading& r : readings) {
      if (static_cast<std::size_t>(r.edge) != e || std::isnan(r.reading_N)) continue;
      const double passes = passes_at(scenario.edges[e], r.moment);
      if (std::isnan(passes)) continue;
      edge.push_back(scenario.edges[e].name);
      person.push_back(r.operator_name);
      excluded.push_back(r.excluded);
      at.push_back(passes);
      reading.push_back(laws::in_gram_force(r.reading_N));
    }
  }
  AnswerTable table{
      .name = "readings", .says = "Readings that were taken", .axis = "reading", .on_terminal = false};
  table.text("edge", "", "name of the edge", std::move(edge));
  table.number("passes", "1", "", "passes since the edge was sharpened", std::move(at));
  table.number("reading_gf", "gf", "", "what the tester showed", std::move(reading));
  table.text("operator", "", "who read", std::move(person));
  table.text("excluded", "", "why it does not count; empty: it counts", std::move(excluded));
  return table;
}

}  // namespace arris
