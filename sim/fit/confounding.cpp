// SPDX-License-Identifier: MIT
#include "sim/fit/confounding.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include <boost/pending/disjoint_sets.hpp>
#include <fmt/format.h>

#include "sim/simulate/way.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

std::string with_capital(std::string sentence) {
  if (!sentence.empty()) sentence.front() = static_cast<char>(std::toupper(sentence.front()));
  return sentence;
}

// a row for each combination of levels that was read, indicators of all factors beside each other
Eigen::MatrixXd indicators(const std::vector<const Levels*>& factors) {
  std::set<std::vector<int>> seen;
  for (std::size_t row = 0; row < factors.front()->of.size(); ++row) {
    std::vector<int> combination;
    for (const Levels* f : factors) combination.push_back(f->of[row]);
    seen.insert(std::move(combination));
  }
  std::size_t columns = 0;
  for (const Levels* f : factors) columns += f->names.size();
  Eigen::MatrixXd out =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(seen.size()), static_cast<Eigen::Index>(columns));
  Eigen::Index row = 0;
  for (const std::vector<int>& combination : seen) {
    std::size_t first = 0;
    for (std::size_t f = 0; f < factors.size(); ++f) {
      out(row, static_cast<Eigen::Index>(first) + combination[f]) = 1.0;
      first += factors[f]->names.size();
    }
    ++row;
  }
  return out;
}

// names of the levels of `other` with which a level of `factor` was read
std::vector<std::string> read_with(const Levels& factor, int level, const Levels& other) {
  std::set<int> met;
  for (std::size_t i = 0; i < factor.of.size(); ++i) {
    if (factor.of[i] == level) met.insert(other.of[i]);
  }
  std::vector<std::string> out;
  for (const int k : met) out.push_back(other.names[static_cast<std::size_t>(k)]);
  return out;
}

std::string goes_together(const Levels& factor, int a, int b, const Levels& other) {
  const auto with = [&](int level) {
    const auto met = read_with(factor, level, other);
    return fmt::format("{} with {} {}", factor.names[static_cast<std::size_t>(level)],
                       met.size() == 1 ? other.one : other.many, and_list(met));
  };
  return fmt::format("every reading of {} and every one of {}", with(a), with(b));
}

}  // namespace

Levels levels_of(std::string one, std::string many, const std::vector<std::string>& name_of_reading,
                 const std::string& unnamed) {
  Levels out{.one = std::move(one), .many = std::move(many), .names = {}, .of = {}};
  for (const std::string& name : name_of_reading) {
    const std::string& level = name.empty() ? unnamed : name;
    const auto         at    = std::find(out.names.begin(), out.names.end(), level);
    out.of.push_back(static_cast<int>(at - out.names.begin()));
    if (at == out.names.end()) out.names.push_back(level);
  }
  return out;
}

std::vector<Levels> circumstances_of(const std::vector<const Reading*>& readings) {
  std::vector<Levels> out;
  const auto          add = [&](const char* one, const char* many, std::string Reading::*member) {
    std::vector<std::string> names;
    for (const Reading* r : readings) names.push_back(r->*member);
    Levels levels = levels_of(one, many, names, "nobody named");
    if (levels.names.size() > 1) out.push_back(std::move(levels));
  };
  add("operator", "operators", &Reading::operator_name);
  add("filament lot", "filament lots", &Reading::filament_lot);
  add("test day", "test days", &Reading::test_day);
  return out;
}

bool are_told_apart(const Levels& factor, int a, int b, const std::vector<Levels>& beside) {
  std::vector<const Levels*> all{&factor};
  for (const Levels& other : beside) all.push_back(&other);
  const Eigen::MatrixXd design = indicators(all);
  Eigen::MatrixXd       with   = Eigen::MatrixXd::Zero(design.rows() + 1, design.cols());
  with.topRows(design.rows())  = design;
  with(design.rows(), a)       = 1.0;
  with(design.rows(), b)       = -1.0;
  return rank_of(with) == rank_of(design);
}

std::string confounding_sentence(const Levels& factor, int a, int b, const std::vector<Levels>& beside) {
  if (are_told_apart(factor, a, b, beside)) return {};
  std::vector<std::string> together, what, whose;
  for (const Levels& other : beside) {
    if (are_told_apart(factor, a, b, {other})) continue;
    together.push_back(goes_together(factor, a, b, other));
    what.push_back("one of " + other.many);
    whose.push_back(other.many);
  }
  if (together.empty()) {  // none alone
    for (const Levels& other : beside) what.push_back(other.many);
    return with_capital(fmt::format(
        "{} {} and {} were read under such {} that a difference between them cannot be told from one of these together.",
        factor.many, factor.names[static_cast<std::size_t>(a)], factor.names[static_cast<std::size_t>(b)],
        and_list(what)));
  }
  return with_capital(fmt::format(
      "{} {} and {} go together with {}, {}: a difference of {} cannot be told from {}.", factor.many,
      factor.names[static_cast<std::size_t>(a)], factor.names[static_cast<std::size_t>(b)], and_list(whose),
      and_list(together), factor.many, or_list(what)));
}

std::string first_confounding(const Levels& factor, const std::vector<Levels>& beside) {
  for (int a = 0; a < std::ssize(factor.names); ++a) {
    for (int b = a + 1; b < std::ssize(factor.names); ++b) {
      if (std::string said = confounding_sentence(factor, a, b, beside); !said.empty()) return said;
    }
  }
  return {};
}

namespace {

// The first level of `factor` that no chain of readings joins to its first one, each reading joining its levels of both factors: of two
// factors alone, levels are told apart where they are joined. Empty where all are.
std::optional<int> first_apart(const Levels& factor, const Levels& other) {
  const std::size_t                   first_of_other = factor.names.size();
  boost::disjoint_sets_with_storage<> joined(first_of_other + other.names.size());
  for (std::size_t i = 0; i < factor.of.size(); ++i)
    joined.union_set(static_cast<std::size_t>(factor.of[i]),
                     first_of_other + static_cast<std::size_t>(other.of[i]));
  for (std::size_t level = 1; level < factor.names.size(); ++level) {
    if (joined.find_set(level) != joined.find_set(std::size_t{0})) return static_cast<int>(level);
  }
  return std::nullopt;
}

// how an edge was stropped before its first cut; empty where it was not
std::string strop_of(const EdgePlan& plan) {
  for (const Step& step : plan.steps) {
    if (std::holds_alternative<CutStep>(step)) break;
    if (const auto* strop = std::get_if<StropStep>(&step))
      return strop->compound.empty() ? strop->strop : strop->strop + " with " + strop->compound;
  }
  return {};
}

std::string steel_of(const Scenario& scenario, const EdgePlan& plan) {
  const auto& model = scenario.model;
  const auto  steel = model.steel_of_tool[static_cast<std::size_t>(plan.tool)];
  return model.steels[static_cast<std::size_t>(steel)].name;
}

// routes, strops, steels and moments of these readings: those of which there are two or more, and that do not part the readings as one before
// does
std::vector<Levels> handling_of(const Scenario& scenario, const std::vector<const Reading*>& readings) {
  std::vector<std::string> routes, strops, steels, moments;
  for (const Reading* r : readings) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r->edge)];
    routes.push_back(plan.route);
    strops.push_back(strop_of(plan));
    steels.push_back(steel_of(scenario, plan));
    moments.push_back(r->moment_name);
  }
  std::vector<Levels> out;
  for (Levels levels :
       {levels_of("route", "routes", routes, "edges without a route"),
        levels_of("strop", "strops", strops, "no strop"), levels_of("steel", "steels", steels, "no steel"),
        levels_of("moment", "moments", moments, "no moment")}) {
    const bool known =
        std::any_of(out.begin(), out.end(), [&](const Levels& before) { return before.of == levels.of; });
    if (levels.names.size() > 1 && !known) out.push_back(std::move(levels));
  }
  return out;
}

// routes, strops and steels against woods, by what was read in wood
template <class Say>
void say_of_woods(const Scenario& scenario, const std::vector<const Reading*>& readings, Say&& say) {
  std::vector<const Reading*> worn;
  std::vector<std::string>    woods;
  for (const Reading* r : readings) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r->edge)];
    std::string     wood = wood_at(plan, r->moment);
    if (wood.empty() || start_of_wear(plan, r->moment).step < 0) continue;
    worn.push_back(r);
    woods.push_back(std::move(wood));
  }
  if (worn.empty()) return;
  const Levels of_wood = levels_of("wood", "woods", woods, "no wood");
  if (of_wood.names.size() < 2) return;
  for (const Levels& factor : handling_of(scenario, worn)) {
    if (factor.one != "moment") say(factor, of_wood);
  }
}

}  // namespace

namespace {

std::vector<const Reading*> counted_ones(const std::vector<Reading>& readings) {
  std::vector<const Reading*> out;
  for (const Reading& r : readings) {
    if (r.excluded.empty() && !std::isnan(r.reading_N)) out.push_back(&r);
  }
  return out;
}

// adds a sentence where levels of the first cannot be told from the second
void say_apart(const Levels& factor, const Levels& other, std::vector<std::string>& out) {
  if (const auto apart = first_apart(factor, other))
    out.push_back(confounding_sentence(factor, 0, *apart, {other}));
}

}  // namespace

std::vector<std::string> confounded_handling(const Scenario& scenario, const std::vector<Reading>& readings) {
  const std::vector<const Reading*> all           = counted_ones(readings);
  const std::vector<Levels>         circumstances = circumstances_of(all);
  std::vector<std::string>          out;
  for (const Levels& factor : handling_of(scenario, all)) {
    for (const Levels& circumstance : circumstances) say_apart(factor, circumstance, out);
  }
  say_of_woods(scenario, all,
               [&](const Levels& factor, const Levels& wood) { say_apart(factor, wood, out); });
  return out;
}

std::vector<std::string> confounding_sentences(const Scenario&             scenario,
                                               const std::vector<Reading>& readings) {
  std::vector<std::string>  out           = confounded_handling(scenario, readings);
  const std::vector<Levels> circumstances = circumstances_of(counted_ones(readings));
  for (std::size_t f = 0; f < circumstances.size(); ++f) {
    for (std::size_t g = f + 1; g < circumstances.size(); ++g)
      say_apart(circumstances[f], circumstances[g], out);
  }
  return out;
}

}  // namespace arris
