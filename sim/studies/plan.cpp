// SPDX-License-Identifier: MIT
#include "sim/studies/plan.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_int_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/studies/optimal_design.hpp"
#include "sim/studies/parallel.hpp"

namespace arris {
namespace {

const std::vector<int> reading_choices{1, 2, 3, 4, 5, 6, 8, 10};

template <class T>
bool contains(const std::vector<T>& list, const T& item) {
  return std::find(list.begin(), list.end(), item) != list.end();
}

std::string and_list(const std::vector<std::string>& names) {
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i)
    out += (i == 0 ? "" : i + 1 == names.size() ? " and " : ", ") + names[i];
  return out;
}

std::string counted(long n, const std::string& what) {
  return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
}

// ---- what is known beforehand ----

std::vector<FreeParameter> parameters_of(const Scenario& scenario, const FitSettings& settings) {
  std::vector<FreeParameter> out;
  for (const std::string& path : settings.free.empty() ? usual_parameters(scenario) : settings.free)
    out.push_back(free_parameter(scenario.model, path, settings.priors));
  return out;
}

// just inside the range, so that value(scaled(end of the range)) is not outside it by a rounding
double scaled_inside(const FreeParameter& p, double value) { return p.scaled(value) * (1.0 - 1e-12); }

Eigen::VectorXd scaled_row(const std::vector<FreeParameter>& parameters, const Model<double>& model) {
  Model<double>   copy = model;
  const auto      here = places(copy, parameters);
  Eigen::VectorXd u(static_cast<Eigen::Index>(parameters.size()));
  for (std::size_t i = 0; i < parameters.size(); ++i)
    u[static_cast<Eigen::Index>(i)] = scaled_inside(parameters[i], *here[i]);
  return u;
}

Eigen::MatrixXd inverse(const Eigen::MatrixXd& m) {
  return m.ldlt().solve(Eigen::MatrixXd::Identity(m.rows(), m.rows()));
}

// what readings add to the priors; a sample covariance may come out wider than the prior by chance
Eigen::MatrixXd beyond_prior(const Eigen::MatrixXd& information) {
  const auto                                           P = information.rows();
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(information - Eigen::MatrixXd::Identity(P, P));
  return eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0.0).asDiagonal() *
         eigen.eigenvectors().transpose();
}

double median_of(std::vector<double> values) { return quantile(std::move(values), 0.5); }

Spread median_spread(const std::vector<Spread>& spreads) {
  const auto median = [&](double Spread::*member) {
    std::vector<double> values;
    for (const Spread& s : spreads) values.push_back(s.*member);
    return median_of(std::move(values));
  };
  return {median(&Spread::reading), median(&Spread::edge), median(&Spread::person), median(&Spread::lot)};
}

// ---- moments of a history ----

bool is_read(const Step& step) { return std::holds_alternative<ReadStep>(step); }
bool can_be_parted(const Step& step) {
  return std::holds_alternative<StropStep>(step) || std::holds_alternative<CutStep>(step);
}

// the end of step `step`, or of the one before it where that only reads
Stop end_of_step(const EdgePlan& plan, int step) {
  while (step >= 0 && is_read(plan.steps[static_cast<std::size_t>(step)])) --step;
  return {step, step < 0 ? 0.0 : count_of(plan.steps[static_cast<std::size_t>(step)])};
}

bool is_end(const EdgePlan& plan, const Stop& stop) {
  if (stop.step < 0) return true;
  const Step& step = plan.steps[static_cast<std::size_t>(stop.step)];
  return !can_be_parted(step) || stop.count >= count_of(step);
}

// whole counts that are easy to keep: 1, 1.5, 2, 3, 4, 5, 6, 8 times powers of ten, from a hundredth of all up to all
std::vector<double> easy_counts(double all) {
  std::vector<double> out;
  for (double ten = 1.0; ten < all; ten *= 10.0) {
    for (const double m : {1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0}) {
      const double n = m * ten;
      if (n == std::floor(n) && n >= 0.01 * all && n < all) out.push_back(n);
    }
  }
  out.push_back(all);
  return out;
}

// where a history may be read, in order, each moment once; that of the comparison is one of them
std::vector<Stop> candidate_stops(const EdgePlan& plan, const Stop& comparison, ReadAt at) {
  std::vector<Stop> out{comparison};
  const auto        add = [&](const Stop& s) {
    const bool there = std::any_of(out.begin(), out.end(), [&](const Stop& o) {
      return o.step == s.step && (o.count == s.count || (is_end(plan, o) && is_end(plan, s)));
    });
    if (!there) out.push_back(s);
  };
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const Step& step = plan.steps[i];
    const bool  cut = std::holds_alternative<CutStep>(step), strop = std::holds_alternative<StropStep>(step);
    if (!(cut && at != ReadAt::laps) && !(strop && at != ReadAt::passes)) continue;
    if (!(count_of(step) > 0.0)) continue;
    add(end_of_step(plan, static_cast<int>(i) - 1));
    for (const double n : easy_counts(count_of(step))) add({static_cast<int>(i), n});
  }
  std::sort(out.begin(), out.end(), [](const Stop& a, const Stop& b) {
    return a.step != b.step ? a.step < b.step : a.count < b.count;
  });
  return out;
}

// at the end of the route, or before the first wood
Stop comparison_stop(const EdgePlan& plan, bool is_route) {
  if (is_route) return end_of_step(plan, plan.route_steps - 1);
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    if (std::holds_alternative<CutStep>(plan.steps[i])) return end_of_step(plan, static_cast<int>(i) - 1);
  }
  return end_of_step(plan, static_cast<int>(plan.steps.size()) - 1);
}

std::string describe_stop(const EdgePlan& plan, const Stop& stop) {
  if (is_end(plan, stop)) {  // perhaps the configuration has a name for it
    for (std::size_t i = 0; i < plan.steps.size(); ++i) {
      const auto* read = std::get_if<ReadStep>(&plan.steps[i]);
      if (read != nullptr && end_of_step(plan, static_cast<int>(i) - 1).step == stop.step) return read->read;
    }
  }
  if (stop.step < 0) return "as it was";
  const Step& step = plan.steps[static_cast<std::size_t>(stop.step)];
  if (std::holds_alternative<StropStep>(step))
    return fmt::format("after {:g} lap{} on {}", stop.count, stop.count == 1.0 ? "" : "s", subject_of(step));
  if (!std::holds_alternative<CutStep>(step))
    return fmt::format("after {} {}", verb_of(step), subject_of(step));
  double before = 0.0;
  for (int i = 0; i < stop.step; ++i) {
    if (const auto* cut = std::get_if<CutStep>(&plan.steps[static_cast<std::size_t>(i)]))
      before += cut->passes;
  }
  std::string out =
      fmt::format("after {:g} pass{} in {}", stop.count, stop.count == 1.0 ? "" : "es", subject_of(step));
  if (before > 0.0) out += fmt::format(", {:g} in all", before + stop.count);
  return out;
}

// ---- groups ----

struct Group {
  std::string       name;
  bool              is_route = false;
  int               pattern  = -1;
  std::vector<Stop> candidates;
  int               comparison = 0;  // index of its candidate
};

std::vector<Group> groups_of(const Scenario& scenario, const PlanSettings& settings, bool& same_tool) {
  std::vector<std::string> names = settings.groups;
  if (names.empty()) {
    for (const EdgePlan& plan : scenario.edges) {
      if (!plan.route.empty() && !contains(names, plan.route)) names.push_back(plan.route);
    }
  }
  for (std::size_t i = 0; i < names.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (names[i] == names[j])
        throw Error(Exit::usage, {.code = "given-twice",
                                  .what = fmt::format("the group \"{}\" is named twice", names[i])});
    }
  }
  if (names.size() < 2) {
    throw Error(
        Exit::usage,
        {.code = "too-few-groups",
         .what = names.empty()
                     ? "no edge of the configuration follows a route, so there are no groups to compare"
                     : fmt::format("\"{}\" is the only group, so there is nothing to tell it apart from",
                                   names.front()),
         .next = "Name two or more routes or edges: --groups NAME,NAME"});
  }
  // the edges each group could follow, by tool
  std::vector<std::vector<int>> could(names.size());
  std::vector<Group>            out(names.size());
  for (std::size_t g = 0; g < names.size(); ++g) {
    out[g].name = names[g];
    for (std::size_t e = 0; e < scenario.edges.size(); ++e) {
      if (scenario.edges[e].route == names[g]) could[g].push_back(static_cast<int>(e));
    }
    out[g].is_route = !could[g].empty();
    for (std::size_t e = 0; e < scenario.edges.size() && !out[g].is_route; ++e) {
      if (scenario.edges[e].name == names[g]) could[g] = {static_cast<int>(e)};
    }
    if (could[g].empty()) throw std::out_of_range("there is no group " + names[g]);
    out[g].pattern = could[g].front();
  }
  const auto tool_of = [&](int e) { return scenario.edges[static_cast<std::size_t>(e)].tool; };
  same_tool          = false;
  for (const int first : could.front()) {
    std::vector<int> chosen;
    for (const auto& edges : could) {
      const auto found =
          std::find_if(edges.begin(), edges.end(), [&](int e) { return tool_of(e) == tool_of(first); });
      if (found == edges.end()) break;
      chosen.push_back(*found);
    }
    if (chosen.size() < could.size()) continue;
    for (std::size_t g = 0; g < out.size(); ++g) out[g].pattern = chosen[g];
    same_tool = true;
    break;
  }
  bool anything = false;
  for (Group& g : out) {
    const EdgePlan& plan       = scenario.edges[static_cast<std::size_t>(g.pattern)];
    const Stop      comparison = comparison_stop(plan, g.is_route);
    g.candidates               = candidate_stops(plan, comparison, settings.at);
    for (std::size_t i = 0; i < g.candidates.size(); ++i) {
      if (g.candidates[i].step == comparison.step && is_end(plan, g.candidates[i]))
        g.comparison = static_cast<int>(i);
    }
    anything |= g.candidates.size() > 1;
  }
  if (!anything && settings.moments > 1 && settings.at != ReadAt::passes_and_laps) {
    const bool laps = settings.at == ReadAt::laps;
    throw Error(Exit::usage,
                {.code = "nothing-to-choose",
                 .what = fmt::format("no edge of these groups is {}, so there are no {} to choose among",
                                     laps ? "stropped" : "used in wood", laps ? "laps" : "passes"),
                 .next = laps ? "Leave out --at laps, or add a strop step."
                              : "Leave out --at passes, or add a cut step."});
  }
  return out;
}

// ---- the table of candidates ----

/// Every candidate of every group, in that order, with what the tester would tell there.
struct Candidates {
  std::vector<int>             group;    // of each
  std::vector<Eigen::MatrixXd> slopes;   // by member: candidates × P, of the log reading
  std::vector<Eigen::VectorXd> by_edge;  // by member: of the log reading against the log of an edge's factor
  std::vector<Spread>          spreads;  // by member
  int                          failed = 0;  // members
  std::string                  failure;
  // at the centre
  std::vector<double> reading_N;
  Eigen::VectorXd     centre_by_edge;
  CampaignModel::Apex apex;
};

struct CandidateReadings {
  Scenario             scenario;  // one edge per group
  std::vector<Reading> readings;
};

CandidateReadings candidate_readings(const Scenario& scenario, const std::vector<Group>& groups) {
  CandidateReadings out;
  out.scenario = scenario;
  out.scenario.edges.clear();
  for (std::size_t g = 0; g < groups.size(); ++g) {
    out.scenario.edges.push_back(
        read_at(scenario.edges[static_cast<std::size_t>(groups[g].pattern)], groups[g].candidates, 1));
    const auto& steps = out.scenario.edges.back().steps;
    for (std::size_t i = 0; i < steps.size(); ++i) {
      if (!is_read(steps[i])) continue;
      Reading r;
      r.edge      = static_cast<int>(g);
      r.moment    = {static_cast<int>(i), 0.0};
      r.reading_N = 1.0;  // its value enters no slope
      out.readings.push_back(std::move(r));
    }
  }
  return out;
}

FitSettings edge_luck_only(FitSettings settings) {
  settings.edge_effect     = true;
  settings.operator_effect = false;
  settings.lot_effect      = false;
  return settings;
}

Candidates candidates_of(const CandidateReadings& rows, const std::vector<Group>& groups,
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
  for (Eigen::Index i = 0; i < log_reading.size(); ++i) out.reading_N.push_back(std::exp(log_reading[i]));

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
    good[k]     = look(model, scaled_row(knowledge.parameters, scenario.model), all_slopes[k], all_by_edge[k],
                       unused, apex);
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
  return out;
}

// the chosen candidates of each group, in order
std::vector<std::vector<int>> choose(const Candidates& candidates, const std::vector<Group>& groups,
                                     const PlanKnowledge& knowledge, const PlanSettings& settings, int edges,
                                     int readings) {
  DesignProblem problem;
  const double  root = std::sqrt(static_cast<double>(readings));
  for (std::size_t k = 0; k < candidates.slopes.size(); ++k) {
    const Spread& s = candidates.spreads[k];
    problem.slopes.push_back(candidates.slopes[k] * (root / s.reading));
    problem.shared.push_back(candidates.by_edge[k] * (root * s.edge / s.reading));
    problem.before.push_back(knowledge.information);
  }
  problem.unit      = candidates.group;
  std::size_t first = 0;
  for (const Group& g : groups) {
    problem.copies.push_back(edges);
    problem.wanted.push_back(std::min(settings.moments, static_cast<int>(g.candidates.size())));
    problem.fixed.push_back(static_cast<int>(first) + g.comparison);
    first += g.candidates.size();
  }
  constexpr int                 starts = 6;
  const OptimalDesign           design = optimal_design(problem, starts, settings.seed);
  std::vector<std::vector<int>> out(groups.size());
  first = 0;
  for (std::size_t g = 0; g < groups.size(); ++g) {
    for (const int c : design.chosen) {
      if (candidates.group[static_cast<std::size_t>(c)] == static_cast<int>(g))
        out[g].push_back(c - static_cast<int>(first));
    }
    first += groups[g].candidates.size();
  }
  return out;
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

int blocks_for(const PlanSettings& s, int edges) {
  return std::min(static_cast<int>(s.operators.size() * s.lots.size()), edges);
}

class Sizing {
 public:
  Sizing(const Plan& plan) : plan_(plan) {}

  [[nodiscard]] ComparisonSize size(int edges, int readings) const {
    return {static_cast<int>(plan_.groups.size()), edges, readings, blocks_for(plan_.settings, edges)};
  }
  [[nodiscard]] double power(int edges, int readings) const {
    return comparison_power(plan_.scatter, size(edges, readings), log_difference(), plan_.level);
  }
  [[nodiscard]] double   log_difference() const { return std::log1p(0.01 * plan_.settings.difference_pct); }
  [[nodiscard]] PlanSize row(int edges, int readings) const {
    PlanSize out{edges, readings, power(edges, readings)};
    for (const PlannedGroup& g : plan_.groups) {
      const int at_edge = static_cast<int>(g.moments.size()) * readings;
      out.taken += edges * at_edge;
      out.hours += edges * (g.minutes_per_edge + at_edge * plan_.settings.reading_min) / 60.0;
    }
    out.filaments = static_cast<int>(std::ceil(out.taken * (1.0 + 0.01 * plan_.settings.spare_pct) - 1e-9));
    return out;
  }
  // the fewest edges that reach the power; 0 when none up to `most` do
  [[nodiscard]] int fewest_edges(int readings, int most) const {
    for (int e = 2; e <= most; ++e) {
      if (power(e, readings) >= plan_.settings.power) return e;
    }
    return 0;
  }
  [[nodiscard]] double smallest(int edges, int readings) const {
    return 100.0 * std::expm1(smallest_log_difference(plan_.scatter, size(edges, readings),
                                                      plan_.settings.power, plan_.level));
  }

 private:
  const Plan& plan_;
};

// every way to reach the power, and the one that takes the least time
void find_sizes(Plan& plan) {
  const Sizing        sizing(plan);
  const PlanSettings& s       = plan.settings;
  std::vector<int>    choices = reading_choices;
  if (s.readings > 0) choices = {s.readings};
  plan.sizes.clear();
  plan.reaches = true;
  for (const int r : choices) {
    const int e = s.edges > 0 ? (sizing.power(s.edges, r) >= s.power ? s.edges : 0)
                              : sizing.fewest_edges(r, PlanSettings::most_edges);
    if (e > 0) plan.sizes.push_back(sizing.row(e, r));
  }
  if (!plan.sizes.empty()) {
    plan.size = *std::min_element(plan.sizes.begin(), plan.sizes.end(),
                                  [](const PlanSize& a, const PlanSize& b) { return a.hours < b.hours; });
    return;
  }
  const int most = s.readings > 0 ? s.readings : PlanSettings::most_readings;
  if (s.edges == 0) {
    throw Error(
        Exit::usage,
        {.code = "out-of-reach",
         .what =
             fmt::format("not even {} edges per group with {} each tell {:g} % apart with a power of {:g}",
                         PlanSettings::most_edges, counted(most, "reading"), s.difference_pct, s.power),
         .allowed = fmt::format("differences from {:.2g} %", sizing.smallest(PlanSettings::most_edges, most)),
         .cause   = fmt::format("Readings scatter by {:.0f} %, edges of one history by {:.0f} %.",
                                100.0 * plan.scatter.reading_sd, 100.0 * plan.scatter.edge_sd),
         .next    = "Ask for a larger difference, or a smaller --power."});
  }
  // so few edges cannot reach it: as many readings as still help
  plan.reaches = false;
  int readings = choices.back();
  for (const int r : choices) {
    if (sizing.power(s.edges, r) > sizing.power(s.edges, choices.back()) - 0.02) {
      readings = r;
      break;
    }
  }
  plan.size = sizing.row(s.edges, readings);
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

void write_sheet(Plan& plan, const Scenario& scenario, const std::vector<Group>& groups,
                 const std::vector<std::vector<int>>& chosen) {
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
    std::vector<Stop> stops;
    for (const int c : chosen[g]) stops.push_back(groups[g].candidates[static_cast<std::size_t>(c)]);
    int number = 0;
    for (int e = 0; e < E; ++e) {
      EdgePlan edge =
          read_at(scenario.edges[static_cast<std::size_t>(groups[g].pattern)], stops, plan.size.readings);
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

}  // namespace

EdgePlan read_at(const EdgePlan& plan, const std::vector<Stop>& stops, int replicates) {
  EdgePlan    out      = plan;
  std::size_t next     = 0;
  bool        as_route = true;  // the first steps are still those of the route
  out.steps.clear();
  const auto read = [&](int step) {
    ReadStep r;
    r.read       = fmt::format("stage {}", ++next);
    r.replicates = replicates;
    as_route &= step >= plan.route_steps - 1;
    out.steps.emplace_back(std::move(r));
  };
  const auto ends_here = [&](int step) {
    return next < stops.size() && stops[next].step == step && is_end(plan, stops[next]);
  };
  if (ends_here(-1)) read(-1);
  for (int i = 0; i < static_cast<int>(plan.steps.size()) && next < stops.size(); ++i) {
    const Step& whole = plan.steps[static_cast<std::size_t>(i)];
    if (is_read(whole)) {
      as_route &= i >= plan.route_steps;
      continue;
    }
    Step       left  = whole;
    const auto parts = [&](double& count, double all) {
      double done = 0.0;
      while (next < stops.size() && stops[next].step == i && !is_end(plan, stops[next])) {
        count = stops[next].count - done;
        done  = stops[next].count;
        if (count > 0.0) out.steps.push_back(left);
        as_route &= i >= plan.route_steps;
        read(i);
      }
      count = all - done;
    };
    if (auto* strop = std::get_if<StropStep>(&left)) parts(strop->laps, strop->laps);
    if (auto* cut = std::get_if<CutStep>(&left)) parts(cut->passes, cut->passes);
    if (next == stops.size()) break;
    out.steps.push_back(left);
    if (ends_here(i)) read(i);
  }
  if (!as_route || static_cast<int>(out.steps.size()) < plan.route_steps) {
    out.route.clear();
    out.route_steps = 0;
  }
  return out;
}

std::vector<std::string> group_names(const Scenario& scenario) {
  std::vector<std::string> out;
  for (const EdgePlan& plan : scenario.edges) {
    if (!plan.route.empty() && !contains(out, plan.route)) out.push_back(plan.route);
  }
  for (const EdgePlan& plan : scenario.edges) {
    if (!contains(out, plan.name)) out.push_back(plan.name);
  }
  return out;
}

PlanKnowledge knowledge_from_priors(const Scenario& scenario, const FitSettings& settings, int members,
                                    unsigned long long seed) {
  PlanKnowledge out;
  out.parameters  = parameters_of(scenario, settings);
  out.ensemble    = prior_ensemble(scenario, settings.priors, members, seed);
  out.spread      = out.ensemble.spreads.front();
  out.centre      = scaled_row(out.parameters, scenario.model);
  out.information = Eigen::MatrixXd::Identity(out.centre.size(), out.centre.size());
  return out;
}

PlanKnowledge knowledge_from_readings(const Scenario& scenario, const std::vector<Reading>& readings,
                                      const FitSettings& settings, int members, unsigned long long seed,
                                      int threads) {
  constexpr int most_starts =
      4;  // the place is wanted, not the last digit of a certainty that it is the only one
  FitSettings quick = settings;
  quick.starts      = std::min(settings.starts, most_starts);
  const CampaignModel model(scenario, readings, parameters_of(scenario, settings), quick);
  const FitResult     result = fit(model, threads);
  if (!result.converged) {
    PlanKnowledge out = knowledge_from_priors(scenario, settings, members, seed);
    out.cautions.push_back(
        "The readings of the campaign could not be fitted, so that the plan rests on the scatter and the "
        "priors of the "
        "configuration: `arris fit` says why.");
    return out;
  }
  PlanKnowledge out;
  out.parameters        = model.parameters();
  out.centre            = result.best.u;
  out.information       = inverse(result.information.covariance);
  out.now               = identifiability(model, result);
  const Spread stated   = single_member(scenario).spreads.front();
  const auto   measured = [&](EffectKind kind) {
    return std::any_of(model.effects().begin(), model.effects().end(),
                         [&](const Effect& e) { return e.kind == kind; });
  };
  out.spread = result.best.spread;
  if (!measured(EffectKind::edge)) out.spread.edge = stated.edge;
  if (!measured(EffectKind::person)) out.spread.person = stated.person;
  if (!measured(EffectKind::lot)) out.spread.lot = stated.lot;

  const auto P = out.centre.size();
  for (const FreeParameter& p : out.parameters) out.ensemble.paths.push_back(p.path);
  out.ensemble.values.resize(members, P);
  out.ensemble.spreads.assign(static_cast<std::size_t>(members), out.spread);
  const Eigen::MatrixXd                      factor = result.information.covariance.llt().matrixL();
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  for (Eigen::Index i = 0; i < members; ++i) {
    Eigen::VectorXd z(P);
    for (Eigen::Index j = 0; j < P; ++j) z[j] = normal(engine);
    const Eigen::VectorXd u = out.centre + factor * z;
    for (Eigen::Index j = 0; j < P; ++j) {
      const FreeParameter& p    = out.parameters[static_cast<std::size_t>(j)];
      out.ensemble.values(i, j) = std::clamp(p.value(u[j]), p.low, p.high);
    }
  }
  out.ensemble.edges    = model.edges_with_readings();
  out.ensemble.readings = static_cast<int>(model.size());
  out.ensemble.rests_on = fmt::format("Rests on a fit of {} to {} of {}, and on the scatter found there.",
                                      counted(P, "parameter"), counted(out.ensemble.readings, "measurement"),
                                      counted(out.ensemble.edges, "edge"));
  return out;
}

PlanKnowledge knowledge_from_draws(const Scenario& scenario, const std::vector<Reading>& readings,
                                   const FitSettings& settings, const Ensemble& draws, int members) {
  PlanKnowledge out;
  for (const std::string& path : draws.paths)
    out.parameters.push_back(free_parameter(scenario.model, path, settings.priors));
  const auto P = static_cast<Eigen::Index>(draws.paths.size()), n = static_cast<Eigen::Index>(draws.size());
  Eigen::MatrixXd u(n, P);
  out.centre.resize(P);
  for (Eigen::Index j = 0; j < P; ++j) {
    std::vector<double> values;
    for (Eigen::Index i = 0; i < n; ++i) {
      u(i, j) = scaled_inside(out.parameters[static_cast<std::size_t>(j)], draws.values(i, j));
      values.push_back(u(i, j));
    }
    out.centre[j] = median_of(std::move(values));
  }
  const Eigen::MatrixXd centred = u.rowwise() - u.colwise().mean();
  // the last term keeps it regular where the draws are few
  const Eigen::MatrixXd covariance =
      centred.transpose() * centred / static_cast<double>(std::max<Eigen::Index>(1, n - 1)) +
      Eigen::MatrixXd::Identity(P, P) / static_cast<double>(n * n);
  out.information = inverse(covariance);
  out.spread      = median_spread(draws.spreads);

  const auto keep     = std::min<Eigen::Index>(members, n);
  out.ensemble        = draws;
  out.ensemble.values = Eigen::MatrixXd(keep, P);
  out.ensemble.spreads.clear();
  for (Eigen::Index i = 0; i < keep; ++i) {
    out.ensemble.values.row(i) = draws.values.row(i * n / keep);
    out.ensemble.spreads.push_back(draws.spreads[static_cast<std::size_t>(i * n / keep)]);
  }
  if (!readings.empty()) {
    const CampaignModel model(scenario, readings, out.parameters, settings);
    FitResult           there;
    there.best.usable  = true;
    there.best.u       = out.centre;
    there.best.effects = Eigen::VectorXd::Zero(model.effect_count());
    there.best.spread  = out.spread;
    there.information  = information_at(model, there.best);
    if (there.information.data.size() > 0) out.now = identifiability(model, there);
  }
  return out;
}

Plan plan_experiment(const Scenario& scenario, const FitSettings& fit, const Pace& pace,
                     const PlanKnowledge& knowledge, const PlanSettings& settings) {
  Plan plan;
  plan.settings                       = settings;
  const std::vector<Group> groups     = groups_of(scenario, settings, plan.same_tool);
  const auto               rows       = candidate_readings(scenario, groups);
  const Candidates         candidates = candidates_of(rows, groups, fit, knowledge, settings.threads);
  Scenario                 typical    = scenario;  // at the centre of what is known
  typical.model = with_parameters(scenario.model, knowledge.parameters, knowledge.centre);

  const auto pairs    = static_cast<double>(groups.size() * (groups.size() - 1) / 2);
  plan.level          = settings.false_alarm / pairs;
  plan.rests_on       = knowledge.ensemble.rests_on;
  plan.cautions       = knowledge.cautions;
  plan.failed_members = candidates.failed;
  plan.parameters     = knowledge.parameters;

  // the group in which an edge's luck shows most sets the scatter
  std::size_t              worst = 0, first = 0;
  std::vector<std::size_t> compared;
  for (const Group& g : groups) {
    compared.push_back(first + static_cast<std::size_t>(g.comparison));
    first += g.candidates.size();
  }
  const auto by_edge = [&](std::size_t i) {
    return std::abs(candidates.centre_by_edge[static_cast<Eigen::Index>(i)]);
  };
  for (const std::size_t i : compared)
    worst = by_edge(i) > by_edge(worst) || i == compared.front() ? i : worst;
  plan.scatter = {knowledge.spread.edge * by_edge(worst), knowledge.spread.reading};

  for (const Group& g : groups) {
    PlannedGroup planned;
    planned.name     = g.name;
    planned.is_route = g.is_route;
    planned.pattern  = g.pattern;
    plan.groups.push_back(std::move(planned));
  }
  // moments and size lean on each other: where to read on how often, how often on how long an edge takes
  std::vector<std::vector<int>> chosen;
  int                           edges = settings.edges > 0 ? settings.edges : 10,
      readings                        = settings.readings > 0 ? settings.readings : 2;
  for (int round = 0; round < 3; ++round) {
    auto now = choose(candidates, groups, knowledge, settings, edges, readings);
    if (now == chosen) break;
    chosen = std::move(now);
    first  = 0;
    for (std::size_t g = 0; g < groups.size(); ++g) {
      const EdgePlan&   pattern = scenario.edges[static_cast<std::size_t>(groups[g].pattern)];
      std::vector<Stop> stops;
      plan.groups[g].moments.clear();
      for (const int c : chosen[g]) {
        stops.push_back(groups[g].candidates[static_cast<std::size_t>(c)]);
        plan.groups[g].moments.push_back({describe_stop(pattern, stops.back()),
                                          candidates.reading_N[first + static_cast<std::size_t>(c)],
                                          c == groups[g].comparison});
      }
      plan.groups[g].minutes_per_edge = minutes_of(typical, read_at(pattern, stops, 1), pace);
      first += groups[g].candidates.size();
    }
    find_sizes(plan);
    edges    = plan.size.edges;
    readings = plan.size.readings;
  }
  plan.blocks = blocks_for(settings, edges);

  // is the power what the formula says, on the curve of the tester itself?
  const Sizing sizing(plan);
  const auto   tester      = tester_law(candidates.apex.tester);
  const auto   log_reading = [&](double luck) {
    const double factor = std::exp(luck);
    return std::log(tester.reading_N(factor * candidates.apex.radius_um[worst],
                                       factor * candidates.apex.burr_um[worst],
                                       candidates.apex.half_angle[worst]));
  };
  plan.checked =
      simulate_power(sizing.size(edges, readings), knowledge.spread.edge, knowledge.spread.reading,
                     std::hypot(knowledge.spread.person, knowledge.spread.lot), sizing.log_difference(),
                     plan.level, log_reading, settings.campaigns, settings.seed);
  plan.smallest_pct = sizing.smallest(edges, readings);
  std::vector<double> powers;
  for (std::size_t k = 0; k < candidates.slopes.size(); ++k) {
    const ReadingScatter s{
        candidates.spreads[k].edge * std::abs(candidates.by_edge[k][static_cast<Eigen::Index>(worst)]),
        candidates.spreads[k].reading};
    powers.push_back(comparison_power(s, sizing.size(edges, readings), sizing.log_difference(), plan.level));
  }
  plan.power_low  = quantile(powers, 0.1);
  plan.power_high = quantile(powers, 0.9);

  // what the planned readings would tell, and leave open: one edge per group, as many times as there are edges
  CandidateReadings one;
  one.scenario = scenario;
  one.scenario.edges.clear();
  for (std::size_t g = 0; g < groups.size(); ++g) {
    std::vector<Stop> stops;
    for (const int c : chosen[g]) stops.push_back(groups[g].candidates[static_cast<std::size_t>(c)]);
    one.scenario.edges.push_back(
        read_at(scenario.edges[static_cast<std::size_t>(groups[g].pattern)], stops, readings));
    const auto& steps = one.scenario.edges.back().steps;
    for (std::size_t i = 0; i < steps.size(); ++i) {
      for (int r = 0; is_read(steps[i]) && r < readings; ++r) {
        Reading reading;
        reading.edge      = static_cast<int>(g);
        reading.moment    = {static_cast<int>(i), 0.0};
        reading.reading_N = 1.0;  // its value enters no slope
        one.readings.push_back(std::move(reading));
      }
    }
  }
  const CampaignModel model(one.scenario, one.readings, knowledge.parameters, edge_luck_only(fit));
  FitResult           then;
  then.best.usable  = true;
  then.best.u       = knowledge.centre;
  then.best.effects = Eigen::VectorXd::Zero(model.effect_count());
  then.best.spread  = knowledge.spread;
  then.information  = information_at(model, then.best);
  if (then.information.data.size() == 0)
    throw Error(Exit::integration,
                {.code = "no-convergence",
                 .what = "the planned histories could not be run",
                 .next = "`arris simulate` shows the history of each edge."});
  const auto P                = knowledge.centre.size();
  then.information.data       = edges * then.information.data + beyond_prior(knowledge.information);
  then.information.covariance = inverse(then.information.data + Eigen::MatrixXd::Identity(P, P));
  then.converged              = true;
  plan.before                 = knowledge.now;
  plan.after                  = identifiability(model, then);
  const Eigen::MatrixXd known =
      inverse(beyond_prior(knowledge.information) + Eigen::MatrixXd::Identity(P, P));
  for (Eigen::Index j = 0; j < P; ++j) {
    plan.share_before.push_back(std::sqrt(known(j, j)));
    plan.share_after.push_back(std::sqrt(then.information.covariance(j, j)));
  }
  write_sheet(plan, scenario, groups, chosen);
  return plan;
}

// ---- sentences and tables ----

namespace {

AnswerTable size_table(const Plan& plan) {
  AnswerTable t;
  t.name = "sizes";
  t.axis = "size";
  t.says = fmt::format("Ways to find {:g} % with a power of {:g}", plan.settings.difference_pct,
                       plan.settings.power);
  if (!plan.reaches) t.says += ": none with so few edges; what was asked for";
  std::vector<PlanSize> rows = plan.sizes;
  if (rows.empty()) rows.push_back(plan.size);
  std::vector<double>      edges, readings, power, taken, filaments, hours;
  std::vector<std::string> best;
  const auto               least = [&](auto member) {
    double low = std::numeric_limits<double>::infinity();
    for (const PlanSize& r : rows) low = std::min(low, static_cast<double>(r.*member));
    return low;
  };
  std::set<std::string> said;  // each is said of one row only
  for (const PlanSize& r : rows) {
    edges.push_back(r.edges);
    readings.push_back(r.readings);
    power.push_back(r.power);
    taken.push_back(r.taken);
    filaments.push_back(r.filaments);
    hours.push_back(r.hours);
    std::vector<std::string> marks;
    const auto               mark = [&](bool is, const char* what) {
      if (is && rows.size() > 1 && said.insert(what).second) marks.emplace_back(what);
    };
    mark(r.edges == least(&PlanSize::edges), "fewest edges");
    mark(r.taken == least(&PlanSize::taken), "fewest filaments");
    mark(r.edges == plan.size.edges && r.readings == plan.size.readings, "least time");
    best.push_back(fmt::format("{}", fmt::join(marks, ", ")));
  }
  t.number("readings_per_edge", "1", "readings", "readings of each edge at each moment", readings, 4);
  t.number("edges_per_group", "1", "edges per group", "edges of each group", edges, 4);
  t.number("power", "1", "power", "chance to find the difference", power, 3);
  t.number("readings", "1", "readings in all", "readings of all edges at all moments", taken, 6);
  t.number("filaments", "1", "filaments", "the same with spare ones", filaments, 6);
  t.number("hours", "h", "hours", "honing, stropping, cutting and reading", hours, 3);
  t.text("best", "", "what it is best at", best);
  t.columns.back().head = "the one with";
  return t;
}

AnswerTable power_table(const Plan& plan) {
  const Sizing     sizing(plan);
  std::vector<int> readings{1, 2, 3, 4, 6, 10};
  if (!contains(readings, plan.size.readings)) readings.push_back(plan.size.readings);
  std::sort(readings.begin(), readings.end());
  std::vector<int> edges{2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200};
  for (const PlanSize& s : plan.sizes) edges.push_back(s.edges);
  edges.push_back(plan.size.edges);
  std::sort(edges.begin(), edges.end());
  edges.erase(std::unique(edges.begin(), edges.end()), edges.end());
  int most = plan.size.edges;
  for (const PlanSize& s : plan.sizes) most = std::max(most, s.edges);
  edges.erase(std::remove_if(edges.begin(), edges.end(), [&](int e) { return e > most; }), edges.end());
  AnswerTable t;
  t.name = "power";
  t.axis = "edges per group";
  t.says = fmt::format(
      "Power, % of experiments that find a difference of {:g} %, by edges per group and readings of each",
      plan.settings.difference_pct);
  t.number("edges_per_group", "1", "edges", "edges of each group", {edges.begin(), edges.end()}, 4);
  for (const int r : readings) {
    std::vector<double> power;
    for (const int e : edges) power.push_back(std::round(1000.0 * sizing.power(e, r)) / 10.0);
    t.number(fmt::format("power_{}_pct", r), "%", counted(r, "reading"),
             "power with so many readings of each edge", power, 3);
  }
  return t;
}

AnswerTable moment_table(const Plan& plan) {
  AnswerTable t;
  t.name = "moments";
  t.axis = "moment";
  t.says = "When to read";
  std::vector<std::string> group, stage, when, why;
  std::vector<double>      reading;
  for (const PlannedGroup& g : plan.groups) {
    for (std::size_t i = 0; i < g.moments.size(); ++i) {
      group.push_back(g.name);
      stage.push_back(fmt::format("stage {}", i + 1));
      when.push_back(g.moments[i].when);
      reading.push_back(g.moments[i].reading_N / laws::standard_gravity * 1000.0);
      why.emplace_back(g.moments[i].comparison ? "groups are compared" : "teaches most about the model");
    }
  }
  t.text("group", "group", "route or edge", group);
  t.text("stage", "stage", "name of the reading on the sheet", stage);
  t.text("when", "when", "moment of the history", when);
  t.number("reading_gf", "gf", "expected gf", "what a typical edge should read there", reading, 3);
  t.text("why", "because here", "why it is read there", why);
  return t;
}

AnswerTable parameter_table(const Plan& plan) {
  AnswerTable t;
  t.name = "parameters";
  t.axis = "parameter";
  t.says = "Uncertainty of the parameters that a fit would tune, % of that of their priors";
  std::vector<std::string> paths;
  std::vector<double>      before, after;
  for (std::size_t i = 0; i < plan.parameters.size(); ++i) {
    paths.push_back(plan.parameters[i].path);
    before.push_back(std::round(100.0 * plan.share_before[i]));
    after.push_back(std::round(100.0 * plan.share_after[i]));
  }
  t.text("parameter", "parameter", "path", paths);
  t.number("now_pct", "%", "now", "standard deviation over that of the prior, before the experiment", before);
  t.number("then_pct", "%", "then", "the same after it", after);
  return t;
}

AnswerTable key_table(const Plan& plan) {
  AnswerTable t;
  t.name        = "key";
  t.axis        = "edge";
  t.says        = "Which edge a code stands for";
  t.on_terminal = false;
  std::vector<std::string> code, edge, group, tool;
  std::vector<double>      block;
  const auto               per_group = static_cast<std::size_t>(plan.size.edges);
  for (std::size_t i = static_cast<std::size_t>(plan.first_edge); i < plan.scenario.edges.size(); ++i) {
    const EdgePlan& e = plan.scenario.edges[i];
    const auto      n = i - static_cast<std::size_t>(plan.first_edge);
    code.push_back(e.code);
    edge.push_back(e.name);
    group.push_back(plan.groups[n / per_group].name);
    tool.push_back(e.tool_name);
    block.push_back(block_of(static_cast<int>(n % per_group), plan.blocks) + 1);
  }
  t.text("code", "", "on the run sheet", code);
  t.text("edge", "", "in the configuration of the plan", edge);
  t.text("group", "", "route or edge", group);
  t.text("tool", "", "blade", tool);
  t.number("block", "1", "", "operator, lot or day it is read in, from 1", block);
  return t;
}

// the direction that is known least, as a sentence; empty when none is open
std::string open_direction(const Identifiability& found, const std::vector<FreeParameter>& parameters,
                           const std::string& subject) {
  if (found.undetermined.empty()) return {};
  const UndeterminedDirection& worst = found.undetermined.back();  // they are in order of information
  std::vector<std::string>     names;
  for (const int i : worst.parameters) names.push_back(parameters[static_cast<std::size_t>(i)].short_name());
  std::string out;
  if (names.size() == 1) {
    out = fmt::format("{} say next to nothing about {}.", subject, names.front());
  } else if (names.size() == 2) {
    out = fmt::format("{} fix {}, but neither {} nor {} alone.", subject, worst.combination, names[0],
                      names[1]);
  } else {
    out = fmt::format(
        "{} leave one combination of {} open: changed together, they leave every reading as it is.", subject,
        and_list(names));
  }
  out += worst.settled_by.empty() ? " No single measurement that was tried would settle it."
                                  : " " + worst.settled_by;
  return out;
}

}  // namespace

Answer plan_answer(const Plan& plan) {
  const PlanSettings&      s = plan.settings;
  std::vector<std::string> names;
  for (const PlannedGroup& g : plan.groups) names.push_back(g.name);
  Answer a;
  a.kind                = "plan";
  std::size_t most_read = 0;
  bool        alike     = true;
  for (const PlannedGroup& g : plan.groups) {
    alike &= g.moments.size() == plan.groups.front().moments.size();
    most_read = std::max(most_read, g.moments.size());
  }
  const std::string how =
      fmt::format("{} for each group and read each edge {} at {}{}", counted(plan.size.edges, "edge"),
                  plan.size.readings == 1 ? "once" : fmt::format("{} times", plan.size.readings),
                  alike ? "" : "up to ", counted(static_cast<long>(most_read), "moment"));
  const std::string cost =
      fmt::format("That is {} and, with {:g} % to spare, {}; about {:.0f} hours at the bench.",
                  counted(plan.size.taken, "reading"), s.spare_pct, counted(plan.size.filaments, "filament"),
                  std::max(1.0, plan.size.hours));
  if (plan.reaches) {
    a.headline = fmt::format(
        "To find a difference of {:g} % between the readings of {}, should there be one, with {:.3g} chances "
        "in 100: hone {}. {}",
        s.difference_pct, and_list(names), 100.0 * s.power, how, cost);
  } else {
    a.headline = fmt::format(
        "With {} per group a difference of {:g} % between the readings of {} is found with {:.0f} chances in "
        "100 only, "
        "however often each is read; {:.3g} chances in 100 need a difference of {:.2g} %. The plan: hone {}. "
        "{}",
        counted(plan.size.edges, "edge"), s.difference_pct, and_list(names), 100.0 * plan.size.power,
        100.0 * s.power, plan.smallest_pct, how, cost);
  }
  a.tables = {size_table(plan), power_table(plan), moment_table(plan), parameter_table(plan),
              key_table(plan)};

  a.remarks.push_back(
      fmt::format("{} simulated experiments of this size found such a difference in {:.1f} % (± {:.1f}), "
                  "where the formula says {:.1f} %.{}",
                  plan.checked.campaigns, 100.0 * plan.checked.power, 100.0 * plan.checked.standard_error,
                  100.0 * plan.size.power,
                  plan.power_high - plan.power_low < 0.01
                      ? ""
                      : fmt::format(" How far edges and readings scatter is itself uncertain: over what is "
                                    "known of it the power lies "
                                    "between {:.0f} and {:.0f} % in 8 cases of 10.",
                                    100.0 * plan.power_low, 100.0 * plan.power_high)));
  a.remarks.push_back(fmt::format(
      "Where the groups are compared, repeated readings of one edge scatter by {:.1f} %, and edges that were "
      "treated alike by "
      "{:.1f} %. More readings of the same edge average out only the first; the second needs more edges. Of "
      "a hundred "
      "experiments without any true difference about {:.2g} will show one{}.",
      100.0 * plan.scatter.reading_sd, 100.0 * plan.scatter.edge_sd, 100.0 * s.false_alarm,
      plan.groups.size() > 2
          ? fmt::format(", over all {} pairs of groups", plan.groups.size() * (plan.groups.size() - 1) / 2)
          : ""));
  std::vector<std::string> patterns;
  for (const PlannedGroup& g : plan.groups) {
    const EdgePlan& e = plan.scenario.edges[static_cast<std::size_t>(g.pattern)];
    patterns.push_back(fmt::format("{} for {}", e.name, g.name));
  }
  const auto& tool = plan.scenario.edges[static_cast<std::size_t>(plan.groups.front().pattern)].tool_name;
  a.remarks.push_back(
      fmt::format("An edge here is one honing from dull: the same blade can serve several times, if it is "
                  "dulled in between. Every edge has "
                  "the history of one of the configuration: {}{}.",
                  and_list(patterns), plan.same_tool ? fmt::format("; all are of the tool {}", tool) : ""));
  if (plan.blocks > 1) {
    a.remarks.push_back(
        fmt::format("The edges are dealt to {} blocks, each with one operator, one filament lot and as many "
                    "edges of every group: what "
                    "differs between blocks falls out of the comparison.",
                    plan.blocks));
  }
  const std::string now =
      plan.before ? open_direction(*plan.before, plan.parameters, "The readings so far") : "";
  const std::string then = open_direction(plan.after, plan.parameters, "Even the planned readings would");
  if (!now.empty()) a.remarks.push_back(now);
  if (!then.empty()) {
    a.remarks.push_back(then);
  } else {
    a.remarks.push_back(
        "After the planned readings no combination of these parameters would be left to its prior.");
  }
  a.rests_on = plan.rests_on;
  if (!plan.same_tool)
    a.cautions.emplace_back(
        "The groups are honed on different blades: a difference between blades would pass for one between "
        "groups. Put the same "
        "tool on each of them in the configuration.");
  std::vector<std::string> fewer;
  for (const PlannedGroup& g : plan.groups) {
    if (static_cast<int>(g.moments.size()) < s.moments) fewer.push_back(g.name);
  }
  if (!fewer.empty())
    a.cautions.push_back(
        fmt::format("There are fewer moments than {} to read {} at.", s.moments, and_list(fewer)));
  if (plan.failed_members > 0)
    a.cautions.push_back(
        fmt::format("In {} of the versions of the model over which moments were chosen a history failed; "
                    "they are left out.",
                    plan.failed_members));
  a.cautions.insert(a.cautions.end(), plan.cautions.begin(), plan.cautions.end());
  a.cautions.push_back(usual_caution());
  a.settings = {{"difference_pct", s.difference_pct},
                {"power_wanted", s.power},
                {"false_alarm", s.false_alarm},
                {"groups", static_cast<double>(plan.groups.size())},
                {"edges_per_group", plan.size.edges},
                {"readings_per_edge_and_moment", plan.size.readings},
                {"blocks", plan.blocks},
                {"power_by_formula", plan.size.power},
                {"power_simulated", plan.checked.power},
                {"power_simulated_se", plan.checked.standard_error},
                {"smallest_difference_pct", plan.smallest_pct},
                {"edge_sd_log_reading", plan.scatter.edge_sd},
                {"reading_sd_log_reading", plan.scatter.reading_sd},
                {"readings", plan.size.taken},
                {"filaments", plan.size.filaments}};
  return a;
}

}  // namespace arris
