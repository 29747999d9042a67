// SPDX-License-Identifier: MIT
#include "sim/studies/compare/compare.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <optional>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/confounding.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/simulate/slips_of_unit.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/misfit_tests.hpp"
#include "sim/statistics/power.hpp"
#include "sim/statistics/t_tests.hpp"
#include "sim/statistics/variance_components.hpp"
#include "sim/studies/compare/by_readings.hpp"
#include "sim/studies/compare/way_names.hpp"
#include "sim/studies/compare/worth.hpp"
#include "sim/studies/costs.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double level = 0.90;  // of intervals of measured differences

// what is done with an edge before its first cut, readings left out
WaySteps sharpening_of(const EdgePlan& plan) {
  const auto cut = std::find_if(plan.steps.begin(), plan.steps.end(),
                                [](const Step& s) { return std::holds_alternative<CutStep>(s); });
  return steps_before(plan, static_cast<std::size_t>(cut - plan.steps.begin()));
}

// what the readings name several of
std::vector<std::string> readers_of(const std::vector<Reading>& readings) {
  std::vector<std::string> out;
  const auto               note = [&](std::string Reading::*name, const char* several) {
    std::set<std::string> names;
    for (const Reading& r : readings) names.insert(r.*name);
    if (names.size() > 1) out.emplace_back(several);
  };
  note(&Reading::operator_name, "operators");
  note(&Reading::filament_lot, "filament lots");
  note(&Reading::test_day, "test days");
  return out;
}

const CutStep* first_cut(const EdgePlan& plan) {
  for (const Step& step : plan.steps) {
    if (const auto* cut = std::get_if<CutStep>(&step)) return cut;
  }
  return nullptr;
}

// how much of each material `count` strokes of a step take
void add_materials(Way& way, const Step& step, double count, const Workshop& workshop,
                   const CostTable& costs) {
  for (const StepMaterial& used : costs.materials_of(step)) {
    auto found = std::find_if(way.materials.begin(), way.materials.end(),
                              [&](const WayMaterial& m) { return m.name == used.name; });
    if (found == way.materials.end()) found = way.materials.insert(way.materials.end(), {.name = used.name});
    found->count += count;
    const Price* price = workshop.price_of(used.name, used.family);
    if (price == nullptr || std::isnan(price->life_strokes)) continue;
    found->pieces = found->count / price->life_strokes;
    found->money  = found->pieces * price->price;
  }
}

void add_costs(Way& way, const EdgeResult& life, const Workshop& workshop, CostTable& costs) {
  const std::string* in_hand = nullptr;
  way.parts.handling_min     = workshop.pace.hone_min;
  for (std::size_t i = 0; i + 1 < way.plan.steps.size(); ++i) {
    const Step&        step  = way.plan.steps[i];
    const StepSummary& done  = life.steps[i];
    const StepCost     cost  = costs.of(step, in_hand == nullptr || *in_hand != subject_of(step));
    const double       count = std::isnan(done.count) ? 0.0 : done.count;
    in_hand                  = &subject_of(step);
    way.parts.add(cost.parts_for(count));
    add_materials(way, step, count, workshop, costs);
    way.strokes += count;
    way.steel_mg += done.steel_removed_mg;
    way.steps.push_back(done);
  }
  way.minutes       = way.parts.minutes();
  way.money         = way.parts.money() + costs.wage_per_minute() * way.minutes;
  way.blade_loss_um = way.steps.empty() ? 0.0 : way.steps.back().after.blade_loss_um;
  if (way.blade_loss_um > 0.0) way.sharpenings = 1e3 * workshop.pace.usable_blade_mm / way.blade_loss_um;
}

double geometric_mean_gf(const std::vector<double>& logs) {
  return laws::in_gram_force(
      std::exp(std::accumulate(logs.begin(), logs.end(), 0.0) / static_cast<double>(logs.size())));
}

// ---- routes by their readings ----

// readings of edges with which all was done alike before they were first read
struct Group {
  std::string                                        name;
  WaySteps                                           done;
  std::set<std::string>                              moments;  ///< what these readings are called
  std::map<std::string, std::vector<const Reading*>> edges;    ///< by edge
  [[nodiscard]] std::vector<double>                  means() const {
                     std::vector<double> out;
                     for (const auto& [edge, list] : edges) {
                       double sum = 0.0;
                       for (const Reading* r : list) sum += std::log(r->reading_N);
      out.push_back(sum / static_cast<double>(list.size()));
    }
                     return out;
  }
  [[nodiscard]] int readings() const {
    int n = 0;
    for (const auto& [edge, list] : edges) n += static_cast<int>(list.size());
    return n;
  }
};

// all readings of two groups, edge by edge
std::vector<const Reading*> readings_of_both(const Group& a, const Group& b) {
  std::vector<const Reading*> out;
  for (const Group* group : {&a, &b}) {
    for (const auto& [edge, list] : group->edges) out.insert(out.end(), list.begin(), list.end());
  }
  return out;
}

// why the two cannot be told apart; empty where they can. `circumstances` are those of readings_of_both
std::string confounding_of(const Group& a, const Group& b, const std::vector<Levels>& circumstances) {
  std::vector<std::string> ways(static_cast<std::size_t>(a.readings()), a.name);
  ways.insert(ways.end(), static_cast<std::size_t>(b.readings()), b.name);
  return confounding_sentence(levels_of("way", "ways", ways, ""), 0, 1, circumstances);
}

Band ratio_band(const TTest& t) { return {std::exp(t.low), std::exp(t.difference), std::exp(t.high)}; }

/// Readings of two groups: on a mean for each, on circumstances, and on an effect for each edge.
struct TwoGroups {
  Eigen::MatrixXd fixed;  ///< n × (2 + k): the two means first; columns independent of each other
  Eigen::MatrixXd edges;  ///< n × edges, indicators
  Eigen::VectorXd logs;   ///< n
};

// those columns of `more` that tell what the columns before them do not
Eigen::MatrixXd with_independent_columns(Eigen::MatrixXd to, const Eigen::MatrixXd& more) {
  for (Eigen::Index j = 0; j < more.cols(); ++j) {
    Eigen::MatrixXd wider(to.rows(), to.cols() + 1);
    wider << to, more.col(j);
    if (rank_of(wider) == wider.cols()) to = std::move(wider);
  }
  return to;
}

TwoGroups two_groups(const Group& a, const Group& b, const std::vector<Levels>& circumstances) {
  const auto   n     = Eigen::Index{a.readings()} + b.readings();
  const auto   edges = static_cast<Eigen::Index>(a.edges.size() + b.edges.size());
  TwoGroups    out{.fixed = Eigen::MatrixXd::Zero(n, 2),
                   .edges = Eigen::MatrixXd::Zero(n, edges),
                   .logs  = Eigen::VectorXd(n)};
  Eigen::Index row = 0, column = 0;
  for (const Group* group : {&a, &b}) {
    for (const auto& [edge, list] : group->edges) {
      for (const Reading* r : list) {
        out.fixed(row, group == &a ? 0 : 1) = 1.0;
        out.edges(row, column)              = 1.0;
        out.logs[row++]                     = std::log(r->reading_N);
      }
      ++column;
    }
  }
  for (const Levels& levels : circumstances) {
    Eigen::MatrixXd columns = Eigen::MatrixXd::Zero(n, std::ssize(levels.names));
    for (Eigen::Index i = 0; i < n; ++i) columns(i, levels.of[static_cast<std::size_t>(i)]) = 1.0;
    out.fixed = with_independent_columns(std::move(out.fixed), columns);
  }
  return out;
}

MixedModel mixed_model_of(const TwoGroups& g) {
  const auto n = g.logs.size();
  MixedModel m;
  m.design.resize(n, g.fixed.cols() + g.edges.cols());
  m.design << g.fixed, g.edges;
  m.response = g.logs;
  m.weights  = Eigen::VectorXd::Ones(n);
  m.known_sd = Eigen::VectorXd::Zero(n);
  m.group.assign(static_cast<std::size_t>(g.fixed.cols()), MixedModel::flat);
  m.group.insert(m.group.end(), static_cast<std::size_t>(g.edges.cols()), 0);
  m.groups = 1;
  return m;
}

// of a difference that is told from edge to edge: what the fixed effects leave of the means of edges
double degrees_between_edges(const TwoGroups& g) {
  const Eigen::VectorXd counts = g.edges.colwise().sum().transpose();
  const Eigen::MatrixXd means  = counts.cwiseInverse().asDiagonal() * g.edges.transpose() * g.fixed;
  return static_cast<double>(g.edges.cols() - rank_of(means));
}

void compare_by_mixed_model(const TwoGroups& groups, double margin, MeasuredDifference& out) {
  const MixedModel         m     = mixed_model_of(groups);
  const VarianceComponents found = variance_components(m, {0.1, 0.1});
  if (!found.converged) return;
  // covariance of the fixed effects: (Xᵀ·V⁻¹·X)⁻¹ with V from the components
  const auto             n = m.design.rows();
  const Eigen::MatrixXd &x = groups.fixed, &z = groups.edges;
  const Eigen::MatrixXd  v = found.residual_sd * found.residual_sd * Eigen::MatrixXd::Identity(n, n) +
                            found.group_sd[0] * found.group_sd[0] * z * z.transpose();
  const Cholesky        factor(v);
  const Eigen::MatrixXd covariance = inverse_symmetric(x.transpose() * factor.solve(x));
  const Eigen::VectorXd means      = covariance * (x.transpose() * factor.solve(m.response));
  const double          se         = std::sqrt(covariance(0, 0) + covariance(1, 1) - 2.0 * covariance(0, 1));
  const double          dof        = degrees_between_edges(groups);
  if (!(se > 0.0) || !(dof > 0.0)) return;
  const TTest t     = t_test(means[0] - means[1], se, dof, level);
  out.mixed         = ratio_band(t);
  out.mixed_p       = t.p;
  out.equivalence_p = t.p_not_equivalent(std::log1p(margin));
  // as many edges, spread as they are
  out.detectable = std::exp(se * noncentrality_for_power(dof, 0.05, 0.9));
}

void compare_by_means_of_edges(const std::vector<double>& a, const std::vector<double>& b,
                               MeasuredDifference& out) {
  const auto all_same = [](const std::vector<double>& x) {
    return std::all_of(x.begin(), x.end(), [&](double v) { return v == x.front(); });
  };
  if (all_same(a) && all_same(b)) return;
  const TTest t = welch_test(a, b, level);
  out.welch     = ratio_band(t);
  out.welch_p   = t.p;
}

// "off the stones", or "off the stones or off the film"
std::string said_of_moments(const Group& a, const Group& b) {
  std::set<std::string> moments = a.moments;
  moments.insert(b.moments.begin(), b.moments.end());
  return or_list({moments.begin(), moments.end()});
}

MeasuredDifference difference_of(const Group& a, const Group& b, double margin) {
  const auto         means_a = a.means(), means_b = b.means();
  MeasuredDifference d;
  d.first                                 = a.name;
  d.second                                = b.name;
  d.moment                                = said_of_moments(a, b);
  d.edges_first                           = static_cast<int>(a.edges.size());
  d.edges_second                          = static_cast<int>(b.edges.size());
  d.readings_first                        = a.readings();
  d.readings_second                       = b.readings();
  d.mean_first_gf                         = geometric_mean_gf(means_a);
  d.mean_second_gf                        = geometric_mean_gf(means_b);
  const std::vector<Levels> circumstances = circumstances_of(readings_of_both(a, b));
  d.confounded                            = confounding_of(a, b, circumstances);
  if (d.edges_first > 1 && d.edges_second > 1) compare_by_means_of_edges(means_a, means_b, d);
  if (d.confounded.empty()) {
    for (const Levels& levels : circumstances) d.allowed_for.push_back(levels.many);
  }
  if (d.edges_first + d.edges_second > 2)
    compare_by_mixed_model(two_groups(a, b, d.confounded.empty() ? circumstances : std::vector<Levels>{}),
                           margin, d);
  return d;
}

// whether a reading was taken off the medium, before any strop or wood
bool is_off_the_medium(const Reading& r, const EdgePlan& plan) {
  const auto first = std::find_if(plan.steps.begin(), plan.steps.end(), [](const Step& s) {
    return !std::holds_alternative<HoneStep>(s) && !std::holds_alternative<BackStep>(s) &&
           !std::holds_alternative<DressStep>(s);
  });
  return first - plan.steps.begin() == r.moment.step && std::holds_alternative<ReadStep>(*first);
}

// edges with readings off the medium, those together with which all was done alike before; in the order of the edges
std::vector<Group> groups_read(const Scenario& scenario, const std::vector<Reading>& readings, bool by_tool) {
  std::vector<Group> groups;
  for (const Reading& r : readings) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r.edge)];
    if (plan.route.empty() || !is_off_the_medium(r, plan)) continue;
    if (!r.excluded.empty() || std::isnan(r.reading_N)) continue;
    const auto step = static_cast<std::size_t>(r.moment.step);
    WaySteps   done = steps_before(plan, step);
    if (!by_tool) done.tool.clear();
    auto found = std::find_if(groups.begin(), groups.end(), [&](const Group& g) {
      return g.done.tool == done.tool && same_steps(g.done.steps, done.steps);
    });
    if (found == groups.end()) found = groups.insert(groups.end(), Group{{}, std::move(done), {}, {}});
    found->moments.insert(subject_of(plan.steps[step]));
    found->edges[plan.name].push_back(&r);
  }
  const auto place = [&](const Group& g) {
    return std::find_if(scenario.edges.begin(), scenario.edges.end(),
                        [&](const EdgePlan& plan) { return g.edges.count(plan.name) > 0; });
  };
  std::sort(groups.begin(), groups.end(),
            [&](const Group& a, const Group& b) { return place(a) < place(b); });
  std::vector<WaySteps> done;
  for (const Group& g : groups) done.push_back(g.done);
  const auto names = way_names(done);
  for (std::size_t g = 0; g < groups.size(); ++g) groups[g].name = names[g];
  return groups;
}

// ---- what is compared: the tool, the work and the ways ----

// the tool that was asked for, or else the one of most of these edges
int common_tool(const Scenario& scenario, const std::vector<std::size_t>& edges, const std::string& asked) {
  std::vector<std::string> known;
  for (const auto& tool : scenario.model.tools) known.push_back(tool.name);
  std::vector<int> uses(known.size(), 0);
  for (const std::size_t e : edges) ++uses[static_cast<std::size_t>(scenario.edges[e].tool)];
  const auto tool = asked.empty() ? std::max_element(uses.begin(), uses.end()) - uses.begin()
                                  : std::find(known.begin(), known.end(), asked) - known.begin();
  if (tool < std::ssize(known)) return static_cast<int>(tool);
  throw Error(Exit::usage, {.code    = "unknown-tool",
                            .what    = fmt::format("there is no tool \"{}\"", printable(asked)),
                            .allowed = or_list(known),
                            .next    = did_you_mean(asked, known)});
}

// that of the first edge of this tool that cuts, or else of any
const CutStep& common_work(const Scenario& scenario, const std::vector<std::size_t>& edges, int tool) {
  for (const bool own : {true, false}) {
    for (const std::size_t e : edges) {
      if (own && scenario.edges[e].tool != tool) continue;
      if (const CutStep* work = first_cut(scenario.edges[e])) return *work;
    }
  }
  throw Error(Exit::usage,
              {.code = "no-cut",
               .what = "none of these edges cuts wood, so the work to compare them in is missing",
               .next = "Add a step { cut = \"white oak\", passes = 100 } to an edge."});
}

// those that have the tool first: what was read of them is what is compared
std::vector<std::size_t> those_of_tool_first(const Scenario& scenario, std::vector<std::size_t> edges,
                                             int tool) {
  std::stable_partition(edges.begin(), edges.end(),
                        [&](std::size_t e) { return scenario.edges[e].tool == tool; });
  return edges;
}

// whether these edges are all sharpened alike, on several tools: then it is the tools that are compared
bool are_alike_on_several_tools(const Scenario& scenario, const std::vector<std::size_t>& edges) {
  std::set<int>           tools;
  std::optional<WaySteps> first;
  for (const std::size_t e : edges) {
    WaySteps sharpening = sharpening_of(scenario.edges[e]);
    if (sharpening.steps.empty()) continue;
    tools.insert(scenario.edges[e].tool);
    if (!first) {
      first = std::move(sharpening);
    } else if (!same_steps(first->steps, sharpening.steps)) {
      return false;
    }
  }
  return tools.size() > 1;
}

// The ways that these edges follow, each once, on the common tool and with the common work as its last step. Without a tool each edge keeps
// its own, and edges on different ones follow different ways.
std::vector<Way> ways_of(const Scenario& scenario, const std::vector<std::size_t>& edges,
                         std::optional<int> tool, const CutStep& work) {
  std::vector<Way>      ways;
  std::vector<WaySteps> done;
  for (const std::size_t e : edges) {
    const EdgePlan& plan       = scenario.edges[e];
    WaySteps        sharpening = sharpening_of(plan);
    if (sharpening.steps.empty()) continue;
    if (tool) sharpening.tool.clear();  // all are run on one
    auto steps = sharpening.steps;
    steps.emplace_back(work);
    const auto found = std::find_if(ways.begin(), ways.end(), [&](const Way& way) {
      return (tool || way.plan.tool == plan.tool) && same_steps(way.plan.steps, steps);
    });
    if (found != ways.end()) {
      found->edges.push_back(plan.name);
      continue;
    }
    Way way;
    way.edges          = {plan.name};
    way.plan           = plan;
    way.plan.tool      = tool.value_or(plan.tool);
    way.plan.tool_name = scenario.model.tools[static_cast<std::size_t>(way.plan.tool)].name;
    way.plan.steps     = std::move(steps);
    ways.push_back(std::move(way));
    done.push_back(std::move(sharpening));
  }
  if (ways.size() < 2) {
    throw Error(Exit::usage, {.code  = "no-ways",
                              .what  = "there is only one way of sharpening to compare",
                              .cause = "Edges with the same steps before their first cut follow one way.",
                              .next  = "Name edges that are sharpened differently, or on different tools."});
  }
  const auto names = way_names(done);
  for (std::size_t w = 0; w < ways.size(); ++w)
    ways[w].name = ways[w].plan.name = tool ? names[w] : ways[w].plan.tool_name;
  return ways;
}

// the scenario with the ways for its edges
Scenario scenario_of(const Scenario& scenario, const std::vector<Way>& ways) {
  Scenario out = scenario;
  out.edges.clear();
  for (const Way& way : ways) out.edges.push_back(way.plan);
  return out;
}

// ---- what the model has of the ways ----

// steps and costs of each way by the scenario itself
void run_each(const Scenario& scenario, const Workshop& workshop, CostTable& costs, std::vector<Way>& ways) {
  for (Way& way : ways) {
    const EdgeResult life = simulate_edge(scenario, way.plan);
    if (!life.status.usable()) throw Error(Exit::integration, {.code = "no-history", .what = life.message});
    add_costs(way, life, workshop, costs);
  }
  if (!costs.costs_money()) {
    for (Way& way : ways) way.money = not_given;
  }
}

// over the members that ran both
void compare_with_reference(Way& way, const Way& first, const EdgeForecast& own,
                            const EdgeForecast& reference, const ReadyReadings& read,
                            const CompareSettings& settings) {
  const MemberRatio readings = member_ratio(own, reference, settings);
  if (readings.members == 0) return;
  double outlasts = 0.0;
  for (std::size_t i = 0; i < own.member_fresh_N.size(); ++i) {
    if (std::isnan(own.member_fresh_N[i] / reference.member_fresh_N[i])) continue;
    const double mine = own.member_passes[i], its = reference.member_passes[i];
    outlasts += mine > its ? 1.0 : mine == its ? 0.5 : 0.0;
  }
  way.claim    = read.claim(way, first, readings);
  way.outlasts = outlasts / static_cast<double>(readings.members);
  way.ratio    = readings.ratio;
}

// where measured lives cannot be told from who read them, or say the opposite, the model claims nothing of them either
void hold_to_measured_lives(Comparing& out) {
  const auto reference =
      std::find_if(out.lives.begin(), out.lives.end(), [](const WayLives& l) { return l.lives.ended > 0; });
  if (reference == out.lives.end() || reference->way != out.ways.front().name) return;
  for (std::size_t w = 0; w < out.lives.size(); ++w) {
    const WayLives& life = out.lives[w];
    const auto      way =
        std::find_if(out.ways.begin(), out.ways.end(), [&](const Way& x) { return x.name == life.way; });
    if (way == out.ways.end() || std::isnan(life.ratio)) continue;
    const bool against = life.p < 0.05 && (life.ratio > 1.0) != (way->outlasts > 0.5);
    if (against || !out.lives_confounded[w].empty()) way->outlasts = not_given;
  }
}

// least and most of its life over that of the reference among the laws that are left; nothing where that cannot be said
std::optional<std::pair<double, double>> ratios_by_law(const EdgeForecast& own,
                                                       const EdgeForecast& reference) {
  std::vector<double> ratios;
  for (std::size_t k = 0; k < own.laws.size(); ++k) {
    const double ratio = own.laws[k].passes / reference.laws[k].passes;
    if (!own.laws[k].ruled_out && std::isfinite(ratio) && ratio > 0.0) ratios.push_back(ratio);
  }
  if (ratios.size() < 2) return std::nullopt;
  const auto [least, most] = std::minmax_element(ratios.begin(), ratios.end());
  return std::pair{*least, *most};
}

/// How a way's life compares with that of the first under the wear laws that are left.
struct RatioByLaw {
  std::string               way;
  double                    least, most;
  [[nodiscard]] std::string said() const {
    const std::string low = plain(least, 2), high = plain(most, 2);
    return fmt::format("{} {}", way, low == high ? "about " + low : low + " to " + high);
  }
};

// ways that last alike under every law, those that compare alike, and those for which it hangs on the law, the most first
void say_by_law(const std::vector<EdgeForecast>& lives, double margin, Comparing& out) {
  constexpr std::size_t    named   = 3;
  const double             matters = std::log1p(margin);
  const std::string&       first   = out.ways.front().name;
  std::vector<std::string> alike, others;
  std::vector<RatioByLaw>  hanging;
  for (std::size_t w = 1; w < out.ways.size(); ++w) {
    const auto ratios = ratios_by_law(lives[w], lives.front());
    if (!ratios) continue;
    const RatioByLaw by_law{out.ways[w].name, ratios->first, ratios->second};
    if (std::log(by_law.most) <= matters && std::log(by_law.least) >= -matters)
      alike.push_back(by_law.way);
    else if (std::log(by_law.most / by_law.least) > matters)
      hanging.push_back(by_law);
    else
      others.push_back(by_law.said());
  }
  if (!alike.empty())
    out.by_law.push_back(fmt::format("Under every wear law {} {} as long as {}, to within {}.",
                                     and_list(alike), alike.size() == 1 ? "lasts" : "last", first,
                                     percent(margin)));
  if (!others.empty())
    out.by_law.push_back(fmt::format("So many times as long as {} others last, under each wear law: {}.",
                                     first, fmt::join(others, "; ")));
  if (hanging.empty()) return;
  std::stable_sort(hanging.begin(), hanging.end(), [](const RatioByLaw& a, const RatioByLaw& b) {
    return a.most / a.least > b.most / b.least;
  });
  std::vector<std::string> said;
  for (std::size_t i = 0; i < std::min(named, hanging.size()); ++i) said.push_back(hanging[i].said());
  if (hanging.size() > named)
    said.push_back(
        counted(std::ssize(hanging) - static_cast<std::ptrdiff_t>(named), "other way", "other ways"));
  out.hangs_on_law = fmt::format("It hangs on the wear law how many times as long as {} others last: {}.",
                                 first, and_list(said));
}

// edges (indices into Scenario::edges, among those given) by the way they follow
std::vector<std::pair<std::string, std::vector<std::size_t>>> edges_by_way(
    const Scenario& scenario, const std::vector<std::size_t>& edges, const std::vector<Way>& ways) {
  std::vector<std::pair<std::string, std::vector<std::size_t>>> out;
  for (const Way& way : ways) {
    std::vector<std::size_t> followers;
    for (const std::size_t e : edges) {
      if (std::find(way.edges.begin(), way.edges.end(), scenario.edges[e].name) != way.edges.end())
        followers.push_back(e);
    }
    out.emplace_back(way.name, std::move(followers));
  }
  return out;
}

// of the ways with measured lives, against the first of them with an ended life: why their readings cannot be told apart
std::vector<std::string> confounding_of_lives(
    const std::vector<WayLives>& lives, const std::vector<Reading>& readings,
    const std::vector<std::pair<std::string, std::vector<std::size_t>>>& followers) {
  std::vector<std::string> out(lives.size());
  const auto               reference =
      std::find_if(lives.begin(), lives.end(), [](const WayLives& w) { return w.lives.ended > 0; });
  for (std::size_t w = 0; w < lives.size() && reference != lives.end(); ++w) {
    if (lives[w].way == reference->way) continue;
    std::vector<const Reading*> taken;
    std::vector<std::string>    ways;
    for (const std::string& way : {reference->way, lives[w].way}) {
      for (const auto& [name, edges] : followers) {
        for (const Reading& r : readings) {
          const bool counts =
              name == way && r.excluded.empty() && !std::isnan(r.reading_N) &&
              std::find(edges.begin(), edges.end(), static_cast<std::size_t>(r.edge)) != edges.end();
          if (!counts) continue;
          taken.push_back(&r);
          ways.push_back(way);
        }
      }
    }
    const Levels levels = levels_of("way", "ways", ways, "");
    if (levels.names.size() == 2) out[w] = confounding_sentence(levels, 0, 1, circumstances_of(taken));
  }
  return out;
}

// that of each pair corrected for all of which something could be claimed, so that one in twenty campaigns at most has a false one
void correct_for_all_pairs(std::vector<MeasuredDifference>& pairs) {
  std::vector<double>              p;
  std::vector<MeasuredDifference*> those;
  for (MeasuredDifference& d : pairs) {
    if (!d.confounded.empty() || std::isnan(d.mixed_p)) continue;
    p.push_back(d.mixed_p);
    those.push_back(&d);
  }
  const std::vector<double> together = holm_adjusted(p);
  for (std::size_t i = 0; i < those.size(); ++i) those[i]->mixed_p_of_all = together[i];
}

}  // namespace

std::vector<MeasuredDifference> measured_differences(const Scenario&             scenario,
                                                     const std::vector<Reading>& readings, double margin,
                                                     std::vector<std::string>& too_few, bool by_tool) {
  const std::vector<Group> groups = groups_read(scenario, readings, by_tool);
  for (const Group& g : groups) {
    if (g.edges.size() == 1) too_few.push_back(g.name);
  }
  std::vector<MeasuredDifference> out;
  for (std::size_t i = 0; i < groups.size(); ++i) {
    for (std::size_t j = i + 1; j < groups.size(); ++j)
      out.push_back(difference_of(groups[i], groups[j], margin));
  }
  correct_for_all_pairs(out);
  return out;
}

Comparing compare_ways(const Scenario& scenario, const Workshop& workshop, const Ensemble& ensemble,
                       const std::vector<std::size_t>& edges, const std::vector<Reading>& readings,
                       const CompareSettings&                               settings,
                       const std::function<void(std::size_t, std::size_t)>& progress, const Forecast* known) {
  const int           tool = common_tool(scenario, edges, settings.tool);
  const CutStep&      work = common_work(scenario, edges, tool);
  const ReadyReadings read(scenario, readings, ensemble, std::log1p(settings.margin));
  Comparing           out;
  out.settings = settings;
  out.members  = ensemble.size();
  out.by_tool  = settings.tool.empty() && are_alike_on_several_tools(scenario, edges);
  out.edge_sd  = read.edge_sd();
  out.wood     = work.cut;
  if (out.by_tool) {
    out.ways = ways_of(scenario, edges, std::nullopt, work);
  } else {
    out.tool          = scenario.model.tools[static_cast<std::size_t>(tool)].name;
    out.tool_width_mm = scenario.model.tools[static_cast<std::size_t>(tool)].width_mm;
    out.ways          = ways_of(scenario, those_of_tool_first(scenario, edges, tool), tool, work);
  }

  CostTable costs(scenario.model, workshop);
  run_each(scenario, workshop, costs, out.ways);
  out.unpriced = costs.unpriced();
  // beside the ways that edges follow: those with something else in the place of a strop
  StropPairs pairs;
  if (costs.costs_money() || states_minutes(workshop)) pairs = strop_pairs(scenario.model, out.ways);
  run_each(scenario, workshop, costs, pairs.others);
  std::vector<Way> run = out.ways;
  run.insert(run.end(), pairs.others.begin(), pairs.others.end());
  const Scenario common = scenario_of(scenario, run);

  std::vector<std::size_t> all(common.edges.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  const Forecast lives = forecast(common, workshop, ensemble, all, settings.life, progress, known);
  for (std::size_t w = 0; w < out.ways.size(); ++w) {
    const EdgeForecast& f   = lives.edges[w];
    Way&                way = out.ways[w];
    way.reading_N           = f.fresh_N;
    way.passes              = f.mean_passes;
    way.next_passes         = f.next_passes;
    if (w > 0) compare_with_reference(way, out.ways.front(), f, lives.edges.front(), read, settings);
    way.read_gf = read.read_gf(way);
    out.failed  = std::max(out.failed, f.failed);
    if (f.failed > 0 && out.failure.empty()) out.failure = f.failure;
  }
  say_by_law(lives.edges, settings.margin, out);
  for (std::size_t w = 0; w < run.size(); ++w) run[w].reading_N = lives.edges[w].fresh_N;
  out.strops           = worth_of_strops(read, pairs, run, lives.edges, settings);
  out.materials        = worth_of_materials(read, out.ways, lives.edges, settings);
  out.readers          = readers_of(readings);
  out.measured         = measured_differences(scenario, readings, settings.margin, out.too_few, out.by_tool);
  const auto followers = edges_by_way(scenario, edges, out.ways);
  out.lives            = measured_way_lives(scenario, readings, followers, out.wood, settings.life.limit_N);
  out.lives_confounded = confounding_of_lives(out.lives, readings, followers);
  hold_to_measured_lives(out);
  // a fit that knows of them says so first
  for (std::string& slip : slips_of_unit(scenario, readings)) {
    if (std::find(ensemble.misses.begin(), ensemble.misses.end(), slip) == ensemble.misses.end())
      out.slips.push_back(std::move(slip));
  }
  return out;
}

}  // namespace arris
