// SPDX-License-Identifier: MIT
#include "sim/studies/plan/plan.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/uniform_int_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/stops.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/optimal_design.hpp"
#include "sim/studies/plan/plan_groups.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

const std::vector<int> reading_choices{1, 2, 3, 4, 5, 6, 8, 10};

bool is_read(const Step& step) { return std::holds_alternative<ReadStep>(step); }

// ---- the table of candidates ----

/// Every candidate of every group, in that order, with what the tester would tell there.
struct Candidates {
  std::vector<int>             group;    // of each
  std::vector<Eigen::MatrixXd> slopes;   // by member: candidates × P, of the log reading
  std::vector<Eigen::VectorXd> by_edge;  // by member: of the log reading against the log of an edge's factor
  std::vector<Spread>          spreads;  // by member
  std::vector<Eigen::MatrixXd> data;     // by member: what readings so far tell of its parameters
  int                          failed = 0;  // members
  std::string                  failure;
  // at the centre
  Eigen::VectorXd     centre_by_edge;
  CampaignModel::Apex apex;
};

struct CandidateReadings {
  Scenario             scenario;  // one edge per group
  std::vector<Reading> readings;
};

// one edge of each group, read `times` times at each of its stops
CandidateReadings readings_at(const Scenario& scenario, const std::vector<PlanGroup>& groups,
                              const std::vector<std::vector<Stop>>& stops, int times) {
  CandidateReadings out;
  out.scenario = scenario;
  out.scenario.edges.clear();
  for (std::size_t g = 0; g < groups.size(); ++g) {
    out.scenario.edges.push_back(
        read_at(scenario.edges[static_cast<std::size_t>(groups[g].pattern)], stops[g], times));
    const auto& steps = out.scenario.edges.back().steps;
    for (std::size_t i = 0; i < steps.size(); ++i) {
      for (int time = 0; is_read(steps[i]) && time < times; ++time) {
        Reading r;
        r.edge      = static_cast<int>(g);
        r.moment    = {static_cast<int>(i), 0.0};
        r.reading_N = 1.0;  // its value enters no slope
        out.readings.push_back(std::move(r));
      }
    }
  }
  return out;
}

CandidateReadings candidate_readings(const Scenario& scenario, const std::vector<PlanGroup>& groups) {
  std::vector<std::vector<Stop>> stops;
  for (const PlanGroup& g : groups) stops.push_back(g.candidates);
  return readings_at(scenario, groups, stops, 1);
}

FitSettings edge_luck_only(FitSettings settings) {
  settings.edge_effect     = true;
  settings.operator_effect = false;
  settings.lot_effect      = false;
  settings.day_effect      = false;
  settings.way_effect      = false;
  settings.way_wear_effect = false;
  settings.wood_effect     = false;
  settings.rate_effect     = false;
  return settings;
}

Candidates candidates_of(const CandidateReadings& rows, const std::vector<PlanGroup>& groups,
                         const FitSettings& fit, const PlanKnowledge& knowledge, int threads) {
  const FitSettings settings = edge_luck_only(fit);
  Candidates        out;
  for (std::size_t g = 0; g < groups.size(); ++g)
    out.group.insert(out.group.end(), groups[g].candidates.size(), static_cast<int>(g));

  // slopes of every row at u, its edge's own among them
  const auto look = [&](const CampaignModel& model, const Eigen::VectorXd& u, Eigen::MatrixXd& slopes,
                        Eigen::VectorXd& by_edge, Eigen::VectorXd& log_reading, CampaignModel::Apex& apex) {
    apex = model.apex(u, true);
    if (!apex.usable) return false;
    Eigen::MatrixXd by_effect;
    model.observe(apex, Eigen::VectorXd::Zero(model.effect_count()), log_reading, &slopes, &by_effect);
    by_edge = by_effect.rowwise().sum();  // one effect to a row
    return slopes.allFinite() && by_edge.allFinite();
  };

  const CampaignModel at_centre(rows.scenario, rows.readings, knowledge.parameters, settings);
  Eigen::MatrixXd     slopes;
  Eigen::VectorXd     log_reading;
  if (!look(at_centre, knowledge.centre, slopes, out.centre_by_edge, log_reading, out.apex)) {
    throw Error(
        Exit::integration,
        {.code = "no-convergence",
         .what = out.apex.failure.empty() ? "the slopes of the readings are not finite" : out.apex.failure,
         .next = "`arris simulate` shows the history of each edge."});
  }

  const std::size_t            members = knowledge.ensemble.size();
  std::vector<Eigen::MatrixXd> all_slopes(members);
  std::vector<Eigen::VectorXd> all_by_edge(members);
  std::vector<std::string>     failures(members);
  std::vector<char>            good(members, 0);
  for_each_index(members, threads, [&](std::size_t k) {
    Scenario scenario = rows.scenario;
    scenario.model    = member_of(rows.scenario.model, knowledge.ensemble, k);
    const CampaignModel model(scenario, rows.readings, knowledge.parameters, settings);
    Eigen::VectorXd     unused;
    CampaignModel::Apex apex;
    good[k] = look(model, scaled_values(knowledge.parameters, scenario.model), all_slopes[k], all_by_edge[k],
                   unused, apex)
                  ? 1
                  : 0;
    failures[k] = apex.failure;
  });
  for (std::size_t k = 0; k < members; ++k) {
    if (good[k] == 0) {
      ++out.failed;
      continue;
    }
    out.slopes.push_back(std::move(all_slopes[k]));
    out.by_edge.push_back(std::move(all_by_edge[k]));
    out.spreads.push_back(knowledge.ensemble.spreads[k]);
  }
  if (out.slopes.empty()) {  // the centre at least stands
    out.slopes.push_back(slopes);
    out.by_edge.push_back(out.centre_by_edge);
    out.spreads.push_back(knowledge.spread);
  }
  out.data.assign(out.slopes.size(), knowledge.data);
  return out;
}

// with the members that have other wear laws behind those of the heaviest one; under a law whose histories cannot be run all have failed
Candidates candidates_under_all_laws(const Scenario& scenario, const std::vector<PlanGroup>& groups,
                                     const FitSettings& fit, const PlanKnowledge& knowledge, int threads) {
  CandidateReadings rows = candidate_readings(scenario, groups);
  Candidates        out  = candidates_of(rows, groups, fit, knowledge, threads);

  for (const PlanKnowledge& rival : knowledge.rivals) {
    rows.scenario.model.wear = rival.wear;
    try {
      const Candidates more = candidates_of(rows, groups, fit, rival, threads);
      out.slopes.insert(out.slopes.end(), more.slopes.begin(), more.slopes.end());
      out.by_edge.insert(out.by_edge.end(), more.by_edge.begin(), more.by_edge.end());
      out.spreads.insert(out.spreads.end(), more.spreads.begin(), more.spreads.end());
      out.data.insert(out.data.end(), more.data.begin(), more.data.end());
      out.failed += more.failed;
    } catch (const Error& error) {
      if (error.exit() != Exit::integration) throw;
      out.failed += static_cast<int>(rival.ensemble.size());
    }
  }
  return out;
}

DesignProblem design_of(const Candidates& candidates, const std::vector<PlanGroup>& groups,
                        const PlanSettings& settings, int edges, int readings) {
  DesignProblem problem;
  const double  root = std::sqrt(static_cast<double>(readings));
  for (std::size_t k = 0; k < candidates.slopes.size(); ++k) {
    const Spread& s = candidates.spreads[k];
    problem.slopes.emplace_back(candidates.slopes[k] * (root / s.reading));
    problem.shared.emplace_back(candidates.by_edge[k] * (root * s.edge / s.reading));
    const Eigen::MatrixXd& data = candidates.data[k];
    problem.before.emplace_back(Eigen::MatrixXd::Identity(data.rows(), data.cols()) + data);
  }
  problem.unit = candidates.group;
  int first    = 0;
  for (const PlanGroup& g : groups) {
    problem.copies.push_back(edges);
    problem.wanted.push_back(std::min(settings.moments, static_cast<int>(g.candidates.size())));
    problem.fixed.push_back(first + g.comparison);
    first += static_cast<int>(g.candidates.size());
  }
  return problem;
}

// how much wider the standard deviations of the parameters would be, in the geometric mean, without one of the rows
double worth_of(const DesignProblem& problem, const std::vector<int>& chosen, std::size_t row) {
  std::vector<int> others = chosen;
  others.erase(others.begin() + static_cast<std::ptrdiff_t>(row));
  double P = 0.0;
  for (const Eigen::MatrixXd& slopes : problem.slopes) P += static_cast<double>(slopes.cols());
  P /= static_cast<double>(problem.slopes.size());
  return std::expm1(0.5 * (design_criterion(problem, chosen) - design_criterion(problem, others)) / P);
}

// ---- how long it takes ----

double minutes_of(const Scenario& scenario, const EdgePlan& plan, const Pace& pace) {
  const EdgeResult result  = simulate_edge(scenario, plan);
  double           minutes = 0.0;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const Step&  step  = plan.steps[i];
    const double count = i < result.steps.size() ? result.steps[i].count : count_of(step);
    if (std::holds_alternative<HoneStep>(step) || std::holds_alternative<BackStep>(step))
      minutes += pace.step_min + count / pace.strokes_per_minute;
    if (std::holds_alternative<StropStep>(step)) minutes += pace.step_min + count / pace.laps_per_minute;
    if (std::holds_alternative<CutStep>(step)) minutes += count / pace.passes_per_minute;
    if (std::holds_alternative<DressStep>(step)) minutes += pace.step_min;
    // to read it the iron comes out of the plane, and goes in again
    if (is_read(step) && i > 0 && std::holds_alternative<CutStep>(plan.steps[i - 1]))
      minutes += pace.hone_min;
  }
  return minutes;
}

// ---- sizes ----

double log_difference(const Plan& plan) { return std::log1p(0.01 * plan.settings.difference_pct); }

// over what the scatter may be
double power_of(const Plan& plan, int edges, int readings) {
  const ComparisonSize size = comparison_of(plan, edges, readings);
  double               sum  = 0.0;
  for (const ReadingScatter& scatter : plan.scatters)
    sum += comparison_power(scatter, size, log_difference(plan), plan.level);
  return sum / static_cast<double>(plan.scatters.size());
}

// the fewest edges that reach the power; 0 when none up to `most` do
int fewest_edges(const Plan& plan, int readings, int most) {
  for (int e = 2; e <= most; ++e) {
    if (power_of(plan, e, readings) >= plan.settings.power) return e;
  }
  return 0;
}

// every way to reach the power, and the one that takes the least time
void find_sizes(Plan& plan) {
  const PlanSettings& s       = plan.settings;
  std::vector<int>    choices = reading_choices;
  if (s.readings > 0) choices = {s.readings};
  plan.sizes.clear();
  plan.reaches = true;
  for (const int r : choices) {
    const int e = s.edges > 0 ? (power_of(plan, s.edges, r) >= s.power ? s.edges : 0)
                              : fewest_edges(plan, r, PlanSettings::most_edges);
    if (e > 0) plan.sizes.push_back(size_of(plan, e, r));
  }
  if (!plan.sizes.empty()) {
    plan.size = *std::min_element(plan.sizes.begin(), plan.sizes.end(),
                                  [](const PlanSize& a, const PlanSize& b) { return a.hours < b.hours; });
    return;
  }
  const int most = s.readings > 0 ? s.readings : PlanSettings::most_readings;
  if (s.edges == 0) {
    throw Error(Exit::usage,
                {.code = "out-of-reach",
                 .what = fmt::format(
                     "not even {} edges per group with {} each tell {:g} % apart with a power of {:g}",
                     PlanSettings::most_edges, counted(most, "reading"), s.difference_pct, s.power),
                 .allowed = fmt::format("differences from {} %",
                                        smallest_difference_pct(plan, PlanSettings::most_edges, most)),
                 .cause   = fmt::format("Readings scatter by {:.0f} %, edges of one history by {:.0f} %.",
                                        100.0 * plan.scatter.reading_sd, 100.0 * plan.scatter.edge_sd),
                 .next    = "Ask for a larger difference, or a smaller --power."});
  }
  // so few edges cannot reach it: as many readings as still help
  plan.reaches = false;
  int readings = choices.back();
  for (const int r : choices) {
    if (power_of(plan, s.edges, r) > power_of(plan, s.edges, choices.back()) - 0.02) {
      readings = r;
      break;
    }
  }
  plan.size = size_of(plan, s.edges, readings);
}

// ---- what would settle what stays open ----

// Of all edges of the configuration, read at one moment each: which would narrow `direction` most, averaged over the members?
// Kept where it takes a tenth or more off the variance that the planned readings (information `then`) leave.
std::optional<SettlingReading> settling_reading(const Scenario& scenario, const FitSettings& fit,
                                                const PlanKnowledge& knowledge, const PlanSettings& settings,
                                                const PlanSize& size, const Eigen::VectorXd& direction,
                                                const Eigen::MatrixXd& then) {
  std::vector<PlanGroup> all;
  for (std::size_t e = 0; e < scenario.edges.size(); ++e) {
    const EdgePlan& plan = scenario.edges[e];
    PlanGroup       g;
    g.name       = plan.name;
    g.pattern    = static_cast<int>(e);
    g.candidates = candidate_stops(plan, comparison_stop(plan, false), ReadAt::passes_and_laps);
    all.push_back(std::move(g));
  }
  const Candidates rows =
      candidates_of(candidate_readings(scenario, all), all, fit, knowledge, settings.threads);
  const auto            P     = then.rows();
  const Eigen::MatrixXd unit  = Eigen::MatrixXd::Identity(P, P);
  const Eigen::MatrixXd known = inverse_symmetric(then + unit);
  SettlingReading       best;
  best.variance_before = best.variance_after = direction.dot(known * direction);
  std::size_t first                          = 0;
  for (const PlanGroup& g : all) {
    for (std::size_t i = 0; i < g.candidates.size(); ++i) {
      const auto row   = static_cast<Eigen::Index>(first + i);
      double     after = 0.0;
      for (std::size_t k = 0; k < rows.slopes.size(); ++k) {
        // variance of the mean of `edges` edges, each read `readings` times; a rank-one update of the covariance
        const Spread&         s     = rows.spreads[k];
        const double          luck  = s.edge * rows.by_edge[k][row];
        const double          noise = (luck * luck + s.reading * s.reading / size.readings) / size.edges;
        const Eigen::VectorXd x     = rows.slopes[k].row(row).transpose();
        const Eigen::VectorXd c     = known * x;
        after += best.variance_before - std::pow(c.dot(direction), 2) / (noise + x.dot(c));
      }
      after /= static_cast<double>(rows.slopes.size());
      if (after >= best.variance_after) continue;
      best.variance_after = after;
      best.edge           = g.name;
      best.when = describe_stop(scenario.edges[static_cast<std::size_t>(g.pattern)], g.candidates[i]);
    }
    first += g.candidates.size();
  }
  if (!(best.variance_after < 0.9 * best.variance_before)) return std::nullopt;
  return best;
}

// ---- the sheet ----

template <class T>
void shuffle(std::vector<T>& list, boost::random::mt19937_64& engine) {
  for (std::size_t i = list.size(); i > 1; --i) {
    boost::random::uniform_int_distribution<std::size_t> any(0, i - 1);
    std::swap(list[i - 1], list[any(engine)]);
  }
}

// a letter and a number, each once, in random order; no letter that is taken for a digit
std::vector<std::string> blind_codes(std::size_t count, const std::set<std::string>& taken,
                                     boost::random::mt19937_64& engine) {
  static const std::string letters = "ACDEFHJKLMNPRTUVWXY";
  std::vector<std::string> all;
  for (int digits = 10, last = 99; all.size() < 2 * count + 50; digits *= 10, last = last * 10 + 9) {
    for (const char letter : letters) {
      for (int n = digits; n <= last; ++n) {
        std::string code = fmt::format("{}{}", letter, n);
        if (taken.count(code) == 0) all.push_back(std::move(code));
      }
    }
  }
  shuffle(all, engine);
  all.resize(count);
  return all;
}

void write_sheet(Plan& plan, const Scenario& scenario, const std::vector<PlanGroup>& groups,
                 const std::vector<std::vector<Stop>>& stops) {
  boost::random::mt19937_64 engine(plan.settings.seed);
  std::set<std::string>     names, codes;
  for (const EdgePlan& e : scenario.edges) {
    names.insert(e.name);
    codes.insert(e.code);
  }
  const int E     = plan.size.edges;
  plan.scenario   = scenario;
  plan.first_edge = static_cast<int>(scenario.edges.size());
  const auto code = blind_codes(groups.size() * static_cast<std::size_t>(E), codes, engine);
  std::vector<std::vector<int>> of_block(static_cast<std::size_t>(plan.blocks));
  for (std::size_t g = 0; g < groups.size(); ++g) {
    int number = 0;
    for (int e = 0; e < E; ++e) {
      EdgePlan edge =
          read_at(scenario.edges[static_cast<std::size_t>(groups[g].pattern)], stops[g], plan.size.readings);
      do {
        edge.name = fmt::format("{} {}", groups[g].name, ++number);
      } while (!names.insert(edge.name).second);
      edge.code = code[g * static_cast<std::size_t>(E) + static_cast<std::size_t>(e)];
      of_block[static_cast<std::size_t>(block_of(e, plan.blocks))].push_back(
          static_cast<int>(plan.scenario.edges.size()));
      plan.scenario.edges.push_back(std::move(edge));
    }
  }
  // block by block; in each, stage by stage, as the histories go on; in each, as many rounds as there are readings of an
  // edge, every round in an order of its own
  const auto& operators = plan.settings.operators;
  const auto& lots      = plan.settings.lots;
  for (std::size_t b = 0; b < of_block.size(); ++b) {
    for (std::size_t stage = 0, more = 1; more > 0; ++stage) {
      std::vector<std::pair<int, int>> at;  // edge and its read step
      for (const int e : of_block[b]) {
        const auto& steps = plan.scenario.edges[static_cast<std::size_t>(e)].steps;
        std::size_t seen  = 0;
        for (std::size_t i = 0; i < steps.size(); ++i) {
          if (is_read(steps[i]) && seen++ == stage) at.emplace_back(e, static_cast<int>(i));
        }
      }
      more = at.size();
      for (int round = 1; more > 0 && round <= plan.size.readings; ++round) {
        shuffle(at, engine);
        for (const auto& [e, step] : at) {
          Reading r;
          r.edge        = e;
          r.moment      = {step, 0.0};
          r.moment_name = subject_of(
              plan.scenario.edges[static_cast<std::size_t>(e)].steps[static_cast<std::size_t>(step)]);
          r.replicate     = round;
          r.operator_name = operators[b % operators.size()];
          r.filament_lot  = lots[(b / operators.size()) % lots.size()];
          r.note          = fmt::format("block {}, reading {}", b + 1, plan.sheet.size() + 1);
          plan.sheet.push_back(std::move(r));
        }
      }
    }
  }
}

// ---- the steps of a plan ----

struct ComparedGroups {
  std::vector<PlanGroup>   groups;
  bool                     same_tool = true;
  Candidates               candidates;
  std::vector<std::size_t> at;         // by group: the candidate where it is compared
  std::size_t              worst = 0;  // that of the group in which an edge's luck shows most
};

ComparedGroups compared_groups(const Scenario& scenario, const FitSettings& fit,
                               const PlanKnowledge& knowledge, const PlanSettings& settings) {
  ComparedGroups out;
  out.groups        = groups_of(scenario, settings, out.same_tool);
  out.candidates    = candidates_under_all_laws(scenario, out.groups, fit, knowledge, settings.threads);
  std::size_t first = 0;
  for (const PlanGroup& g : out.groups) {
    out.at.push_back(first + static_cast<std::size_t>(g.comparison));
    first += g.candidates.size();
  }
  const auto by_edge = [&](std::size_t i) {
    return std::abs(out.candidates.centre_by_edge[static_cast<Eigen::Index>(i)]);
  };
  for (const std::size_t i : out.at)
    out.worst = by_edge(i) > by_edge(out.worst) || i == out.at.front() ? i : out.worst;
  return out;
}

// what the scatter is at the moment of the comparison whose readings hang most on the edge, by member
std::vector<ReadingScatter> member_scatters(const ComparedGroups& compared, const PlanKnowledge& knowledge) {
  const double by_edge =
      std::abs(compared.candidates.centre_by_edge[static_cast<Eigen::Index>(compared.worst)]);
  std::vector<ReadingScatter> out;
  for (const Spread& s : knowledge.ensemble.spreads) out.push_back({s.edge * by_edge, s.reading});
  return out;
}

// what the scatter may be at the moment of the comparison whose readings hang most on the edge: that of at most `most` members,
// evenly taken from the lowest to the highest; a single one where all members agree
std::vector<ReadingScatter> scatters_of(const ComparedGroups& compared, const PlanKnowledge& knowledge) {
  constexpr std::size_t most = 25;
  const double          by_edge =
      std::abs(compared.candidates.centre_by_edge[static_cast<Eigen::Index>(compared.worst)]);
  std::vector<ReadingScatter> all = member_scatters(compared, knowledge);
  for (const PlanKnowledge& rival : knowledge.rivals) {
    const auto more = member_scatters(compared, rival);
    all.insert(all.end(), more.begin(), more.end());
  }
  const auto less = [](const ReadingScatter& a, const ReadingScatter& b) {
    return std::hypot(a.edge_sd, a.reading_sd) < std::hypot(b.edge_sd, b.reading_sd);
  };
  std::stable_sort(all.begin(), all.end(), less);
  if (all.empty() || !less(all.front(), all.back()))
    return {{knowledge.spread.edge * by_edge, knowledge.spread.reading}};
  std::vector<ReadingScatter> out;
  const std::size_t           count = std::min(most, all.size());
  for (std::size_t i = 0; i < count; ++i) out.push_back(all[(2 * i + 1) * all.size() / (2 * count)]);
  return out;
}

// what is to be compared, how strictly and on what grounds; no moments and no size yet
Plan plan_without_size(const ComparedGroups& compared, const PlanKnowledge& knowledge,
                       const PlanSettings& settings) {
  Plan plan;
  plan.settings    = settings;
  plan.same_tool   = compared.same_tool;
  const auto pairs = 0.5 * static_cast<double>(compared.groups.size() * (compared.groups.size() - 1));
  plan.level       = settings.false_alarm / pairs;
  plan.rests_on    = knowledge.ensemble.rests_on;
  plan.cautions    = knowledge.cautions;
  plan.members     = static_cast<int>(knowledge.ensemble.size());
  for (const PlanKnowledge& rival : knowledge.rivals) plan.members += static_cast<int>(rival.ensemble.size());
  plan.narrowed_under  = knowledge.law;
  plan.failed_members  = compared.candidates.failed;
  plan.parameters      = knowledge.parameters;
  plan.before          = knowledge.now;
  const auto worst     = static_cast<Eigen::Index>(compared.worst);
  plan.scatter         = {knowledge.spread.edge * std::abs(compared.candidates.centre_by_edge[worst]),
                          knowledge.spread.reading};
  plan.scatters        = scatters_of(compared, knowledge);
  plan.edges_behind    = knowledge.ensemble.edges;
  plan.readings_behind = knowledge.ensemble.readings;
  for (const PlanGroup& g : compared.groups) {
    PlannedGroup planned;
    planned.name     = g.name;
    planned.is_route = g.is_route;
    planned.pattern  = g.pattern;
    plan.groups.push_back(std::move(planned));
  }
  return plan;
}

struct SizedPlan {
  Plan                           plan;   // with moments, size and blocks
  std::vector<std::vector<Stop>> stops;  // by group: where its edges are read
};

// puts the chosen candidates in place of the moments of the plan
void place_moments(SizedPlan& sized, const ComparedGroups& compared, const Scenario& scenario,
                   const DesignProblem& problem, const std::vector<int>& chosen) {
  sized.stops.assign(compared.groups.size(), {});
  for (PlannedGroup& g : sized.plan.groups) g.moments.clear();
  for (std::size_t i = 0; i < chosen.size(); ++i) {
    const auto       c     = static_cast<std::size_t>(chosen[i]);
    const auto       g     = static_cast<std::size_t>(compared.candidates.group[c]);
    const PlanGroup& group = compared.groups[g];
    const Stop& stop = group.candidates[c - (compared.at[g] - static_cast<std::size_t>(group.comparison))];
    sized.stops[g].push_back(stop);
    sized.plan.groups[g].moments.push_back(
        {describe_stop(scenario.edges[static_cast<std::size_t>(group.pattern)], stop), not_given,
         c == compared.at[g], worth_of(problem, chosen, i)});
  }
}

// moments and size lean on each other: where to read on how often, how often on how long an edge takes
SizedPlan sized_plan(Plan without_size, const ComparedGroups& compared, const Scenario& scenario,
                     const PlanKnowledge& knowledge, const Pace& pace) {
  SizedPlan out;
  out.plan                     = std::move(without_size);
  const PlanSettings& settings = out.plan.settings;
  Scenario            typical  = scenario;  // at the centre of what is known
  typical.model                = with_parameters(scenario.model, knowledge.parameters, knowledge.centre);
  std::vector<int> chosen;  // candidates, group by group, in order
  int              edges = settings.edges > 0 ? settings.edges : 10,
      readings           = settings.readings > 0 ? settings.readings : 2;
  for (int round = 0; round < 3; ++round) {
    const DesignProblem problem = design_of(compared.candidates, compared.groups, settings, edges, readings);
    constexpr int       starts  = 6;
    const auto          now     = optimal_design(problem, starts, settings.seed).chosen;
    const bool          settled = now == chosen;
    chosen                      = now;
    place_moments(out, compared, scenario, problem, chosen);
    if (settled) break;
    for (std::size_t g = 0; g < compared.groups.size(); ++g) {
      const EdgePlan& pattern = scenario.edges[static_cast<std::size_t>(compared.groups[g].pattern)];
      out.plan.groups[g].minutes_per_edge = minutes_of(typical, read_at(pattern, out.stops[g], 1), pace);
    }
    find_sizes(out.plan);
    edges    = out.plan.size.edges;
    readings = out.plan.size.readings;
  }
  out.plan.blocks = comparison_of(out.plan, edges, readings).blocks;
  return out;
}

// what a typical edge of each group reads at its moments, as `simulate` has it from the same fit: what ways and woods do beside the model
// with it
void foretell_moments(SizedPlan& sized, const Scenario& scenario, const PlanKnowledge& knowledge) {
  const Scenario as = as_read(scenario, knowledge.ensemble);
  for (std::size_t g = 0; g < sized.stops.size(); ++g) {
    PlannedGroup&       group   = sized.plan.groups[g];
    const EdgePlan&     pattern = scenario.edges[static_cast<std::size_t>(group.pattern)];
    const EdgePlan      plan    = read_at(pattern, sized.stops[g], 1);
    std::vector<Moment> moments;
    for (std::size_t i = 0; i < plan.steps.size(); ++i) {
      if (is_read(plan.steps[i])) moments.push_back({static_cast<int>(i), not_given});
    }
    const Prediction seen = predict(as, plan, moments);
    for (std::size_t i = 0; i < group.moments.size() && i < seen.points.size(); ++i)
      group.moments[i].reading_N = seen.points[i].reading_N;
  }
}

// those of the plan, of the edge as a factor on its apex
std::vector<ReadingScatter> scatters_on_apex(const Plan& plan, const ComparedGroups& compared) {
  const double by_edge =
      std::abs(compared.candidates.centre_by_edge[static_cast<Eigen::Index>(compared.worst)]);
  std::vector<ReadingScatter> out = plan.scatters;
  for (ReadingScatter& s : out) s.edge_sd = by_edge > 0.0 ? s.edge_sd / by_edge : 0.0;
  return out;
}

struct CheckedPower {
  SimulatedPower             simulated;
  double                     low = not_given, high = not_given;  // 10th and 90th percentile of members
  std::vector<PowerUnderLaw> by_law;
};

// means over the members that have each law, of the power as the plan has it over all of them
std::vector<PowerUnderLaw> power_by_law(const Plan& plan, const ComparedGroups& compared,
                                        const PlanKnowledge& knowledge) {
  if (knowledge.rivals.empty()) return {};
  const ComparisonSize size = comparison_of(plan, plan.size.edges, plan.size.readings);
  const auto           mean = [&](const PlanKnowledge& known) {
    double sum = 0.0;
    for (const ReadingScatter& scatter : member_scatters(compared, known))
      sum += comparison_power(scatter, size, log_difference(plan), plan.level);
    return sum / static_cast<double>(known.ensemble.size());
  };
  std::vector<PowerUnderLaw> out{{knowledge.law, knowledge.ruled_out, mean(knowledge)}};
  for (const PlanKnowledge& rival : knowledge.rivals)
    out.push_back({rival.law, rival.ruled_out, mean(rival)});
  for (const std::string& law : knowledge.refuted) out.push_back({law, true, not_given});
  return out;
}

// is the power what the formula says, on the curve of the tester itself, and how far do the members differ?
CheckedPower checked_power(const Plan& plan, const ComparedGroups& compared, const PlanKnowledge& knowledge) {
  const Candidates&    candidates = compared.candidates;
  const std::size_t    worst      = compared.worst;
  const ComparisonSize size       = comparison_of(plan, plan.size.edges, plan.size.readings);
  const auto tester      = tester_law(candidates.apex.tester).at_angle(candidates.apex.half_angle[worst]);
  const auto log_reading = [&](double luck) {
    const double factor = std::exp(luck);
    return std::log(
        tester.reading_N(factor * candidates.apex.met_um[worst], factor * candidates.apex.burr_um[worst]));
  };
  CheckedPower out;
  out.simulated = simulate_power(
      size, scatters_on_apex(plan, compared), std::hypot(knowledge.spread.person, knowledge.spread.lot),
      log_difference(plan), plan.level, log_reading, plan.settings.campaigns, plan.settings.seed);
  std::vector<double> powers;
  for (std::size_t k = 0; k < candidates.slopes.size(); ++k) {
    const ReadingScatter s{
        candidates.spreads[k].edge * std::abs(candidates.by_edge[k][static_cast<Eigen::Index>(worst)]),
        candidates.spreads[k].reading};
    powers.push_back(comparison_power(s, size, log_difference(plan), plan.level));
  }
  out.low    = quantile(powers, 0.1);
  out.high   = quantile(powers, 0.9);
  out.by_law = power_by_law(plan, compared, knowledge);
  return out;
}

struct Narrowing {
  Identifiability                after;
  std::optional<SettlingReading> settling;
  std::vector<double>            share_before, share_after;  // standard deviation over that of the prior
};

// what the planned readings would tell, and leave open: one edge per group, as many times as there are edges
Narrowing narrowing_of(const SizedPlan& sized, const ComparedGroups& compared, const Scenario& scenario,
                       const FitSettings& fit, const PlanKnowledge& knowledge) {
  const PlanSize&         size = sized.plan.size;
  const CandidateReadings one  = readings_at(scenario, compared.groups, sized.stops, size.readings);
  const CampaignModel     model(one.scenario, one.readings, knowledge.parameters, edge_luck_only(fit));
  FitResult               then = fit_as_known(model, knowledge.centre, knowledge.spread);
  if (then.information.data.size() == 0)
    throw Error(Exit::integration, {.code = "no-convergence",
                                    .what = "the planned histories could not be run",
                                    .next = "`arris simulate` shows the history of each edge."});
  const auto            P     = knowledge.centre.size();
  const Eigen::MatrixXd unit  = Eigen::MatrixXd::Identity(P, P);
  then.information.data       = size.edges * then.information.data + knowledge.data;
  then.information.covariance = inverse_symmetric(then.information.data + unit);
  then.converged              = true;
  Narrowing out;
  out.after = identifiability(model, then);
  if (!out.after.undetermined.empty())
    out.settling = settling_reading(scenario, fit, knowledge, sized.plan.settings, size,
                                    out.after.undetermined.back().direction, then.information.data);
  const Eigen::MatrixXd known = inverse_symmetric(knowledge.data + unit);
  for (Eigen::Index j = 0; j < P; ++j) {
    out.share_before.push_back(std::sqrt(known(j, j)));
    out.share_after.push_back(std::sqrt(then.information.covariance(j, j)));
  }
  return out;
}

}  // namespace

ComparisonSize comparison_of(const Plan& plan, int edges, int readings) {
  const auto most = static_cast<int>(plan.settings.operators.size() * plan.settings.lots.size());
  return {static_cast<int>(plan.groups.size()), edges, readings, std::min(most, edges)};
}

PlanSize size_of(const Plan& plan, int edges, int readings) {
  PlanSize out{edges, readings, power_of(plan, edges, readings)};
  for (const PlannedGroup& g : plan.groups) {
    const int at_edge = static_cast<int>(g.moments.size()) * readings;
    out.taken += edges * at_edge;
    out.hours += edges * (g.minutes_per_edge + at_edge * plan.settings.reading_min) / 60.0;
  }
  // a whole number that rounding has put a hair above itself is not rounded up
  out.filaments = static_cast<int>(std::ceil(out.taken * (1.0 + 0.01 * plan.settings.spare_pct) - 1e-9));
  return out;
}

double smallest_difference_pct(const Plan& plan, int edges, int readings) {
  // over what the scatter may be, as the power is
  const ComparisonSize size  = comparison_of(plan, edges, readings);
  const auto           power = [&](double log_difference) {
    double sum = 0.0;
    for (const ReadingScatter& scatter : plan.scatters)
      sum += comparison_power(scatter, size, log_difference, plan.level);
    return sum / static_cast<double>(plan.scatters.size());
  };
  double low = 0.0, high = smallest_log_difference(plan.scatter, size, plan.settings.power, plan.level);
  while (power(high) < plan.settings.power && high < 20.0) high *= 2.0;
  for (int round = 0; round < 40; ++round) {
    const double middle                                = 0.5 * (low + high);
    (power(middle) < plan.settings.power ? low : high) = middle;
  }
  return 100.0 * std::expm1(high);
}

Plan plan_experiment(const Scenario& scenario, const FitSettings& fit, const Pace& pace,
                     const PlanKnowledge& knowledge, const PlanSettings& settings) {
  const ComparedGroups compared = compared_groups(scenario, fit, knowledge, settings);
  SizedPlan            sized =
      sized_plan(plan_without_size(compared, knowledge, settings), compared, scenario, knowledge, pace);
  foretell_moments(sized, scenario, knowledge);
  const CheckedPower power     = checked_power(sized.plan, compared, knowledge);
  Narrowing          narrowing = narrowing_of(sized, compared, scenario, fit, knowledge);

  Plan plan         = std::move(sized.plan);
  plan.checked      = power.simulated;
  plan.power_low    = power.low;
  plan.power_high   = power.high;
  plan.power_by_law = power.by_law;
  plan.smallest_pct = smallest_difference_pct(plan, plan.size.edges, plan.size.readings);
  plan.after        = std::move(narrowing.after);
  plan.settling     = std::move(narrowing.settling);
  plan.share_before = std::move(narrowing.share_before);
  plan.share_after  = std::move(narrowing.share_after);
  write_sheet(plan, scenario, compared.groups, sized.stops);
  return plan;
}

}  // namespace arris
