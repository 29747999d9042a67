// SPDX-License-Identifier: MIT
#include "sim/fit/confounding.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <Eigen/QR>
#include <fmt/format.h>

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

Eigen::Index rank_of(const Eigen::MatrixXd& m) {
  return Eigen::ColPivHouseholderQR<Eigen::MatrixXd>(m).rank();
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

std::vector<std::string> confounding_sentences(const Scenario&             scenario,
                                               const std::vector<Reading>& readings) {
  std::vector<const Reading*> counted_ones;
  std::vector<std::string>    routes;
  for (const Reading& r : readings) {
    if (!r.excluded.empty() || std::isnan(r.reading_N)) continue;
    counted_ones.push_back(&r);
    routes.push_back(scenario.edges[static_cast<std::size_t>(r.edge)].route);
  }
  std::vector<Levels> factors{levels_of("route", "routes", routes, "edges without a route")};
  for (Levels& circumstance : circumstances_of(counted_ones)) factors.push_back(std::move(circumstance));
  std::vector<std::string> out;
  for (std::size_t f = 0; f < factors.size(); ++f) {
    for (std::size_t g = f + 1; g < factors.size(); ++g) {
      // of two factors every difference can be told where the design lacks nothing but the one mean that both have
      if (rank_of(indicators({&factors[f], &factors[g]})) ==
          std::ssize(factors[f].names) + std::ssize(factors[g].names) - 1)
        continue;
      if (std::string said = first_confounding(factors[f], {factors[g]}); !said.empty())
        out.push_back(std::move(said));
    }
  }
  return out;
}

}  // namespace arris
