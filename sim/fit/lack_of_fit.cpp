// SPDX-License-Identifier: MIT
#include "sim/fit/lack_of_fit.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <set>

#include <fmt/format.h>

#include "sim/fit/discrepancy.hpp"
#include "sim/fit/edge_moments.hpp"
#include "sim/fit/reduced_residuals.hpp"
#include "sim/misses_said.hpp"
#include "sim/simulate/slips_of_unit.hpp"
#include "sim/statistics/distributions.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/quantiles.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double alarm        = 0.05;  // false alarms, over all tests of a campaign
constexpr double apart_ratio  = 1.2;   // by which an edge has to differ to be named
constexpr double worth_saying = 0.02;  // a miss that a first sentence names; smaller ones stay in the table
constexpr double unusable     = 0.2;   // a miss from which on a prediction is of no use
constexpr int    least_df     = 3;     // of an error that anything is held against

/// What edges have in common: a name for each edge, empty where it has none.
struct EdgeGrouping {
  std::string                             kind;
  std::function<std::string(std::size_t)> of;
  std::optional<EffectKind>               by =
      std::nullopt;  ///< effects that a fit may have of what edges of one group share
};

/// A value for each edge that has one.
struct EdgeValues {
  std::map<int, double> mean;
  std::map<int, int>    readings;
};

using Wanted = std::function<bool(const EdgeMoment&)>;

EdgeValues values_of_edges(const std::vector<EdgeMoment>& moments, double EdgeMoment::*value,
                           const Wanted& wanted) {
  EdgeValues         out;
  std::map<int, int> count;
  for (const EdgeMoment& m : moments) {
    if (!wanted(m)) continue;
    out.mean[m.edge] += m.*value;
    out.readings[m.edge] += m.readings;
    ++count[m.edge];
  }
  for (auto& [edge, sum] : out.mean) sum /= count[edge];
  return out;
}

// one test for each group: its mean against nothing, over how edges differ within all groups; `name` of an edge's group
void add_group_tests(const EdgeValues& values, const std::function<std::string(int)>& name,
                     const std::function<std::string(const std::string&)>& says, std::vector<MissTest>& out) {
  struct Group {
    int              n = 0, readings = 0;
    double           sum = 0.0;
    std::vector<int> of;
  };
  std::map<std::string, Group> groups;
  for (const auto& [edge, value] : values.mean) {
    const std::string of = name(edge);
    if (of.empty()) continue;
    Group& g = groups[of];
    ++g.n;
    g.readings += values.readings.at(edge);
    g.sum += value;
    g.of.push_back(edge);
  }
  double within = 0.0;
  int    df     = 0;
  for (const auto& [edge, value] : values.mean) {
    const auto g = groups.find(name(edge));
    if (g == groups.end()) continue;
    within += std::pow(value - g->second.sum / g->second.n, 2);
    ++df;
  }
  df -= static_cast<int>(groups.size());
  for (const auto& [of, g] : groups) {
    MissTest test{
        .says = says(of), .of = g.of, .edges = g.n, .readings = g.readings, .ratio = std::exp(g.sum / g.n)};
    if (df >= least_df && within > 0.0) {
      const double se = std::sqrt(within / df / g.n);
      test.p          = 2.0 * t_above(std::abs(g.sum / g.n) / se, df);
    }
    out.push_back(std::move(test));
  }
}

std::string first_wood(const EdgePlan& plan) {
  for (const Step& step : plan.steps) {
    if (const auto* cut = std::get_if<CutStep>(&step)) return cut->cut;
  }
  return {};
}

const StropStep* first_strop(const EdgePlan& plan) {
  for (const Step& step : plan.steps) {
    if (std::holds_alternative<CutStep>(step)) break;
    if (const auto* strop = std::get_if<StropStep>(&step)) return strop;
  }
  return nullptr;
}

// "diamond" of "diamond 1 µm": what one abrasive misses in one size it misses in others
std::string without_size(const std::string& compound) {
  const std::string name = compound.substr(0, compound.find_first_of("0123456789"));
  return name.substr(0, name.find_last_not_of(' ') + 1);
}

// those in which edges differ
std::vector<EdgeGrouping> groupings(const CampaignModel& model) {
  const auto&               edges = model.scenario().edges;
  std::vector<EdgeGrouping> all{
      {"of route {}", [&](std::size_t e) { return edges[e].route; }, EffectKind::way},
      {"stropped on {}",
       [&](std::size_t e) { return first_strop(edges[e]) != nullptr ? first_strop(edges[e])->strop : ""; },
       EffectKind::way},
      {"stropped with {}",
       [&](std::size_t e) {
         return first_strop(edges[e]) != nullptr ? without_size(first_strop(edges[e])->compound) : "";
       },
       EffectKind::way},
      {"of {}", [&](std::size_t e) { return edges[e].tool_name; }},
      {"used in {}", [&](std::size_t e) { return first_wood(edges[e]); }, EffectKind::wood}};
  std::erase_if(all, [&](const EdgeGrouping& grouping) {
    std::set<std::string> names;
    for (const int e : model.edges_read()) names.insert(grouping.of(static_cast<std::size_t>(e)));
    return names.size() < 2;
  });
  return all;
}

// coarser than `when`: a group of edges has few of them at one count of passes
std::string stage_of(const EdgeMoment& m) { return m.phase.passes > 0.0 ? "in wood" : m.phase.says; }

void add_tests_of_groups(const CampaignModel& model, const std::vector<EdgeMoment>& moments,
                         std::vector<MissTest>& out) {
  std::set<std::string> stages;
  for (const EdgeMoment& m : moments) stages.insert(stage_of(m));
  const auto everywhere = [](const EdgeMoment&) { return true; };
  add_group_tests(
      values_of_edges(moments, &EdgeMoment::of_kind, everywhere), [](int) { return std::string("all"); },
      [](const std::string&) { return "edges"; }, out);
  for (const EdgeGrouping& grouping : groupings(model)) {
    const bool in_fit = grouping.by && model.has_effect(*grouping.by);
    const auto beside = in_fit ? &EdgeMoment::of_mean : &EdgeMoment::of_kind;
    const auto name   = [&](int e) { return grouping.of(static_cast<std::size_t>(e)); };
    const auto says   = [&](const std::string& of) {
      return "edges " + fmt::format(fmt::runtime(grouping.kind), of);
    };
    const std::size_t first = out.size();
    add_group_tests(values_of_edges(moments, beside, everywhere), name, says, out);
    for (const std::string& stage : stages) {
      if (stages.size() < 2) break;
      const std::size_t here = out.size();
      add_group_tests(
          values_of_edges(moments, beside, [&](const EdgeMoment& m) { return stage_of(m) == stage; }), name,
          [&](const std::string& of) { return says(of) + " " + stage; }, out);
      for (std::size_t i = here; i < out.size(); ++i) out[i].stage = stage;
    }
    for (std::size_t i = first; i < out.size(); ++i) out[i].in_fit = in_fit;
  }
}

// `in_fit`: the fit knows what its law misses along the passes
void add_tests_of_moments(const std::vector<EdgeMoment>& moments, bool in_fit, std::vector<MissTest>& out) {
  std::vector<std::string> whens;
  for (const EdgeMoment& m : moments) {
    if (std::find(whens.begin(), whens.end(), m.when) == whens.end()) whens.push_back(m.when);
  }
  if (whens.size() < 2) return;
  for (const std::string& when : whens) {
    const std::size_t first = out.size();
    add_group_tests(
        values_of_edges(moments, &EdgeMoment::of_edge, [&](const EdgeMoment& m) { return m.when == when; }),
        [](int) { return std::string("all"); }, [&](const std::string&) { return "edges " + when; }, out);
    const bool at_work = std::any_of(moments.begin(), moments.end(), [&](const EdgeMoment& m) {
      return m.when == when && m.phase.passes > 0.0;
    });
    for (std::size_t i = first; i < out.size(); ++i) {
      out[i].in_fit = in_fit && at_work;
      out[i].stage  = when;
    }
  }
}

// by how much the residual of each edge bends along log(1 + passes): its contrast with the square, made orthogonal to a line
EdgeValues bends(const std::vector<EdgeMoment>& moments) {
  std::map<int, std::vector<const EdgeMoment*>> by_edge;
  for (const EdgeMoment& m : moments) by_edge[m.edge].push_back(&m);
  EdgeValues out;
  for (const auto& [edge, list] : by_edge) {
    const auto n = static_cast<Eigen::Index>(list.size());
    if (n < 3) continue;
    Eigen::MatrixXd basis(n, 3);
    Eigen::VectorXd y(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const EdgeMoment& m = *list[static_cast<std::size_t>(i)];
      const double      t = std::log1p(m.phase.passes);
      basis.row(i) << 1.0, t, t * t;
      y[i] = m.of_edge;
    }
    for (Eigen::Index c = 0; c < 3; ++c) {  // Gram–Schmidt
      for (Eigen::Index b = 0; b < c; ++b) basis.col(c) -= basis.col(b).dot(basis.col(c)) * basis.col(b);
      const double length = basis.col(c).norm();
      basis.col(c) *= length > 1e-6 ? 1.0 / length : 0.0;
    }
    if (basis.col(2).isZero(0.0)) continue;
    out.mean[edge]     = basis.col(2).dot(y);
    out.readings[edge] = static_cast<int>(n);
  }
  return out;
}

void add_test_of_bend(const std::vector<EdgeMoment>& moments, std::vector<MissTest>& out) {
  std::vector<MissTest> found;
  const EdgeValues      bent = bends(moments);
  add_group_tests(
      bent, [](int) { return std::string("all"); },
      [](const std::string&) { return "curves along the passes"; }, found);
  for (MissTest& test : found) {
    test.ratio = not_given;  // a contrast is no ratio
    test.stage = "from moment to moment";
    out.push_back(std::move(test));
  }
}

void add_test_of_order(const std::vector<EdgeMoment>& moments, std::vector<MissTest>& out) {
  const auto levels = values_of_edges(moments, &EdgeMoment::of_mean, [](const auto&) { return true; });
  std::map<int, int> first;
  for (const EdgeMoment& m : moments) {
    const auto at = first.try_emplace(m.edge, m.first).first;
    at->second    = std::min(at->second, m.first);
  }
  std::vector<std::pair<int, double>> in_order;
  for (const auto& [edge, level] : levels.mean) in_order.emplace_back(first.at(edge), level);
  std::sort(in_order.begin(), in_order.end());
  constexpr std::size_t least = 8;
  if (in_order.size() < least) return;
  std::vector<double> values;
  for (const auto& [place, level] : in_order) values.push_back(level);
  std::sort(values.begin(), values.end());
  std::vector<bool> above;
  for (const auto& [place, level] : in_order) above.push_back(level > values[values.size() / 2]);
  out.push_back({.says  = "edges in the order of the readings file",
                 .stage = "in the order of the file",
                 .edges = static_cast<int>(in_order.size()),
                 .p     = runs_test(above).p});
}

// tr((G + 1)⁻¹·G) over all that varies
double numbers_used(const CampaignModel& model, const Information& information) {
  const auto         P = model.parameter_count();
  const EffectLayout layout(model);
  Bordered           k =
      gram_of(model, layout,
              {information.whitened.leftCols(P), information.whitened.rightCols(effect_kinds).transpose()});
  for (Eigen::Matrix2d& own : k.own) own += Eigen::Matrix2d::Identity();
  k.rest.diagonal().array() += 1.0;
  const BorderedFactor  factor(k);
  const Eigen::MatrixXd rest = factor.factor.inverse();
  double                left = rest.trace();  // tr((G + 1)⁻¹)
  for (std::size_t e = 0; e < k.units(); ++e)
    left += factor.own[e].trace() +
            (factor.across[e] * rest(k.met[e], k.met[e])).cwiseProduct(factor.across[e]).sum();
  return static_cast<double>(k.width()) + 2.0 * static_cast<double>(k.units()) - left;
}

// only with the same prediction are readings replicates: of one edge and moment, by one operator, with one lot
PureErrorTest test_of_replicates(const CampaignModel& model, const FitResult& fit) {
  std::vector<double>                                              residuals;
  std::vector<int>                                                 group;
  std::map<std::tuple<std::size_t, std::string, std::string>, int> names;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o = model.observations()[static_cast<std::size_t>(i)];
    if (o.kind != Observation::Kind::reading) continue;
    const Reading& r = model.readings()[static_cast<std::size_t>(o.reading)];
    residuals.push_back(-fit.information.residuals[i] * fit.information.sd[i]);
    group.push_back(names
                        .try_emplace({model.flat_moment(o), r.operator_name, r.filament_lot},
                                     static_cast<int>(names.size()))
                        .first->second);
  }
  // how many numbers the fit has used up: less than one for a parameter or an effect that its prior holds
  return pure_error_test(residuals, group, numbers_used(model, fit.information));
}

std::vector<EdgeApart> edges_apart(const CampaignModel& model, const std::vector<EdgeMoment>& moments) {
  std::map<int, std::vector<double>> by_edge;
  for (const EdgeMoment& m : moments) by_edge[m.edge].push_back(m.of_kind);
  std::vector<EdgeApart> out;
  for (const auto& [edge, values] : by_edge) {
    const auto [least, most] = std::minmax_element(values.begin(), values.end());
    double mean              = 0.0;
    for (const double v : values) mean += v / static_cast<double>(values.size());
    if (values.size() < 2 || !(*least * *most > 0.0) || !(std::abs(mean) > std::log(apart_ratio))) continue;
    out.push_back({model.scenario().edges[static_cast<std::size_t>(edge)].name, std::exp(mean),
                   static_cast<int>(values.size())});
  }
  std::stable_sort(out.begin(), out.end(), [](const EdgeApart& a, const EdgeApart& b) {
    return std::abs(std::log(a.ratio)) > std::abs(std::log(b.ratio));
  });
  return out;
}

/// How an edge went on from its first moment of use to its last, as logs of readings.
struct Course {
  double passes = 0.0, measured = 0.0, predicted = 0.0;
};

// of edges that were read at two numbers of passes or more since they were sharpened or touched up
std::vector<Course> courses_of(const CampaignModel& model, const std::vector<EdgeMoment>& moments) {
  std::map<std::pair<int, int>, std::vector<const EdgeMoment*>> by_start;
  for (const EdgeMoment& m : moments) {
    const Reading&  r    = model.readings()[static_cast<std::size_t>(m.first)];
    const EdgePlan& plan = model.scenario().edges[static_cast<std::size_t>(m.edge)];
    const int       from = start_of_wear(plan, r.moment).step;
    if (from >= 0) by_start[{m.edge, from}].push_back(&m);
  }
  std::vector<Course> out;
  for (const auto& [start, list] : by_start) {
    const auto [first, last] = std::minmax_element(
        list.begin(), list.end(),
        [](const EdgeMoment* a, const EdgeMoment* b) { return a->phase.passes < b->phase.passes; });
    if (!((*last)->phase.passes > (*first)->phase.passes)) continue;
    const double measured = (*last)->measured - (*first)->measured;
    out.push_back({(*last)->phase.passes, measured, measured - (*last)->of_edge + (*first)->of_edge});
  }
  return out;
}

// where edges read less and less in use, and the model has them read more; empty where they do not
std::string falling_sentence(const std::vector<Course>& courses) {
  constexpr double    least = 0.1;   // fall of the log that is worth a sentence
  constexpr double    sure  = 0.01;  // by chance
  std::vector<double> falls, passes;
  double              mean = 0.0, predicted = 0.0;
  for (const Course& c : courses) {
    falls.push_back(c.measured);
    passes.push_back(c.passes);
    mean += c.measured / static_cast<double>(courses.size());
    predicted += c.predicted / static_cast<double>(courses.size());
  }
  if (falls.empty() || !(mean < -least) || predicted < 0.5 * mean) return {};
  const double n  = static_cast<double>(falls.size());
  double       ss = 0.0;
  for (const double f : falls) ss += std::pow(f - mean, 2);
  const bool all_fall = std::all_of(falls.begin(), falls.end(), [&](double f) { return f < -least; });
  const bool by_test  = falls.size() > 2 && t_above(-mean / std::sqrt(ss / (n - 1.0) / n), n - 1.0) < sure;
  if (falls.size() > 2 ? !by_test : !all_fall) return {};
  return fmt::format(
      "Edges read {} less after {} passes than at their first reading in use, so by these readings they get keener with use. No law of wear does that: look for a burr that comes off in the wood, a tester that drifts, or readings under the wrong passes, and {}",
      percent(-std::expm1(mean)), plain(quantile(passes, 0.5)), believe_nothing);
}

// a group that misses everywhere is not named once more for each stage
bool is_part_of(const MissTest& part, const std::vector<const MissTest*>& named) {
  return std::any_of(named.begin(), named.end(), [&](const MissTest* whole) {
    return part.says.rfind(whole->says + " ", 0) == 0 && whole->says != "edges" &&
           std::abs(std::log(part.ratio / whole->ratio)) < 0.1;
  });
}

std::string capital(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

/// A miss that is worth a sentence, and what else the same edges are called.
struct NamedMiss {
  const MissTest*          test;
  std::vector<std::string> twins;
};

// whether two groups are the same edges at the same stage under two names
bool are_same_edges(const MissTest& a, const MissTest& b) { return a.of == b.of && a.stage == b.stage; }

// "edges of route film read 35 % less than the model says"
std::string miss_clause(const MissTest& test) {
  return fmt::format("{} read {} {} than the model says", test.says, percent(std::abs(test.ratio - 1.0)),
                     test.ratio > 1.0 ? "more" : "less");
}

std::string miss_sentence(const MissTest& test) {
  if (test.says.rfind("curves", 0) == 0)
    return "Curves along the passes bend otherwise than the law of wear does: beyond the last reading, do not rely on it.";
  if (std::isnan(test.ratio))
    return "Edges that were read one after the other miss alike: look for something that changed meanwhile (filament, operator, temperature).";
  if (std::abs(test.ratio - 1.0) >= unusable)
    return fmt::format("{}: do not use it for them.", capital(miss_clause(test)));
  return fmt::format("{}: expect so much {} of them than it says.", capital(miss_clause(test)),
                     test.ratio > 1.0 ? "more" : "less");
}

// where edges are too few for any other test, and replicates speak plainly; empty where they do not
std::string few_edges_sentence(const LackOfFit& found) {
  constexpr double plainly = 0.01;
  const bool       others =
      std::any_of(found.tests.begin(), found.tests.end(), [](const MissTest& t) { return !std::isnan(t.p); });
  if (others || !(found.replicates.p < plainly)) return {};
  return fmt::format(
      "Readings at different moments miss the prediction by more than repeated readings of one moment differ, and {} {} too few to tell whether the curve is another or edges differ so much: do not rely on it for other edges, nor beyond the last reading.",
      counted(found.edges, "edge"), found.edges == 1 ? "is" : "are");
}

// where no group of edges and no moment is named, and replicates speak plainly all the same; empty where they do not
std::string replicates_sentence(const LackOfFit& found, const std::vector<NamedMiss>& named) {
  constexpr double plainly = 0.001;
  const bool       tested =
      std::any_of(found.tests.begin(), found.tests.end(), [](const MissTest& t) { return !std::isnan(t.p); });
  if (!tested || !named.empty() || !(found.replicates.p < plainly)) return {};
  return "Readings at different moments miss the prediction by more than repeated readings of one moment differ: the model misses something that no group of edges has plainly in common, or repeated readings were not each taken anew.";
}

// what the fit has effects for, or its discrepancy, in one sentence; empty where there is none
std::string allowed_sentence(const std::vector<NamedMiss>& named) {
  std::vector<std::string> clauses;
  for (const NamedMiss& miss : named) {
    if (!miss.test->in_fit) continue;
    clauses.push_back(miss_clause(*miss.test) +
                      (miss.twins.empty()
                           ? ""
                           : fmt::format(" (they are also the {}: which of the two it is cannot be told)",
                                         and_list(miss.twins))));
  }
  if (clauses.empty()) return {};
  return fmt::format("{}: answers from the fit allow for that.", capital(and_list(clauses)));
}

}  // namespace

bool LackOfFit::found() const {
  return std::any_of(tests.begin(), tests.end(), [](const MissTest& test) { return test.found; });
}

LackOfFit lack_of_fit(const CampaignModel& model, const FitResult& fit) {
  LackOfFit out;
  if (model.scenario().model.specimen.in_use) {
    out.edges = model.edges_with_readings();
    out.untested =
        "Whether the model fits is not tested for specimens, as the tests are of edges: look at the residuals (--residuals FILE), and weigh the wear laws.";
    return out;
  }
  const std::vector<EdgeMoment> moments = edge_moments(model, fit.best, fit.information);
  std::set<int>                 edges;
  for (const EdgeMoment& m : moments) edges.insert(m.edge);
  out.edges = static_cast<int>(edges.size());
  add_tests_of_groups(model, moments, out.tests);
  add_tests_of_moments(moments, discrepancy_of(model, fit.best, fit.information).is_known(), out.tests);
  add_test_of_bend(moments, out.tests);
  add_test_of_order(moments, out.tests);
  std::vector<double> p;
  for (const MissTest& test : out.tests) p.push_back(test.p);
  const std::vector<double> together = holm_adjusted(p);
  for (std::size_t i = 0; i < p.size(); ++i) {
    out.tests[i].p_of_all = together[i];
    out.tests[i].found    = together[i] < alarm;
  }
  out.slips      = slips_of_unit(model.scenario(), model.readings());
  out.falling    = falling_sentence(courses_of(model, moments));
  out.replicates = test_of_replicates(model, fit);
  out.apart      = edges_apart(model, moments);
  return out;
}

std::vector<std::string> misses(const LackOfFit& found) {
  std::vector<const MissTest*> order, named;
  for (const MissTest& test : found.tests) {
    if (test.found && !(std::abs(test.ratio - 1.0) < worth_saying)) order.push_back(&test);
  }
  const auto size = [](const MissTest* test) {
    return std::isnan(test->ratio) ? 0.0 : std::abs(std::log(test->ratio));
  };
  // whole groups before their parts, then the farthest first
  std::stable_sort(order.begin(), order.end(), [&](const MissTest* a, const MissTest* b) {
    return std::abs(size(a) - size(b)) < 0.1 ? a->says.size() < b->says.size() : size(a) > size(b);
  });
  constexpr std::size_t  most = 4;
  std::vector<NamedMiss> chosen;
  for (const MissTest* test : order) {
    if (chosen.size() == most) break;
    const auto same = std::find_if(named.begin(), named.end(),
                                   [&](const MissTest* other) { return are_same_edges(*test, *other); });
    if (same != named.end() || is_part_of(*test, named)) continue;
    named.push_back(test);
    chosen.push_back({test, {}});
    for (const MissTest& other : found.tests) {
      if (&other != test && are_same_edges(other, *test)) chosen.back().twins.push_back(other.says);
    }
  }
  std::vector<std::string> out = found.slips;
  if (!found.falling.empty()) out.push_back(found.falling);
  if (std::string few = few_edges_sentence(found); !few.empty()) out.push_back(std::move(few));
  if (std::string plain = replicates_sentence(found, chosen); !plain.empty()) out.push_back(std::move(plain));
  if (const std::string allowed = allowed_sentence(chosen); !allowed.empty()) out.push_back(allowed);
  for (const NamedMiss& miss : chosen) {
    if (miss.test->in_fit) continue;
    out.push_back(miss_sentence(*miss.test));
    if (!miss.twins.empty())
      out.back() +=
          fmt::format(" They are also the {}: which of the two it is cannot be told.", and_list(miss.twins));
  }
  return out;
}

std::vector<std::string> fit_remarks(const LackOfFit& found) {
  std::vector<std::string> out;
  if (!found.untested.empty()) return {found.untested};
  const auto tested = std::count_if(found.tests.begin(), found.tests.end(),
                                    [](const MissTest& t) { return !std::isnan(t.p); });
  if (tested == 0) {
    out.push_back(
        fmt::format("Whether the model fits cannot be told: {} {} not show what is luck and what a miss.",
                    counted(found.edges, "edge"), found.edges == 1 ? "does" : "do"));
  } else if (!found.found()) {
    out.push_back(fmt::format(
        "Of {} looked for, by groups of edges, moments, bend and order, none is larger than edges scatter.",
        counted(tested, "miss", "misses")));
  }
  if (!std::isnan(found.replicates.p) && found.replicates.p < alarm)
    out.push_back(fmt::format(
        "Readings of one edge at different moments differ from the prediction by more than repeated readings of one moment do (F = {} with {} and {} degrees of freedom): edges wear at rates of their own, readings of one moment are not independent, or the curve is another.",
        plain(found.replicates.F), plain(found.replicates.misfit_df), plain(found.replicates.error_df)));
  constexpr std::size_t    most = 5;
  std::vector<std::string> apart;
  for (std::size_t i = 0; i < std::min(most, found.apart.size()); ++i)
    apart.push_back(fmt::format("{} ({} times)", found.apart[i].edge, plain(found.apart[i].ratio, 2)));
  if (apart.size() == 1)
    out.push_back(fmt::format(
        "Edge {} reads {} times the prediction for the mean edge of its kind, on average, and to the same side at all moments.",
        found.apart[0].edge, plain(found.apart[0].ratio, 2)));
  if (apart.size() > 1)
    out.push_back(fmt::format(
        "These edges read more, or less, than the prediction for the mean edge of their kind at all moments, on average by: {}{}.",
        and_list(apart),
        found.apart.size() > most ? fmt::format("; and {} more", found.apart.size() - most) : ""));
  return out;
}

}  // namespace arris
