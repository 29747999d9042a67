// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/law_forecasts.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/laws/gram_force.hpp"
#include "sim/numbers.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/studies/laws_said.hpp"
#include "sim/wording.hpp"

namespace arris {

std::string law_sentence(const std::string& begin, const std::vector<LawForecast>& laws, double passes_seen,
                         const std::string& unit) {
  double                   least = infinity, most = 0.0;
  std::vector<std::string> ruled_out;
  std::size_t              left = 0;
  std::string              alone;  // where one is left
  for (const LawForecast& law : laws) {
    if (law.ruled_out) {
      ruled_out.push_back(law.law);
    } else if (!std::isnan(law.passes)) {
      least = std::min(least, law.passes);
      most  = std::max(most, law.passes);
      alone = law.law;
      ++left;
    }
  }
  if (left == 0) return {};
  const auto        said  = [&](double passes) { return passes_text(rounded_passes(passes), passes_seen); };
  const std::string under = left == 1            ? "under " + alone
                            : left < laws.size() ? fmt::format("under each of {} wear laws", left)
                                                 : "under every wear law";
  const std::string span  = said(least) == said(most) ? fmt::format("{} {} {}", said(least), unit, under)
                                                      : fmt::format("{} to {} {} depending on the wear law",
                                                                    said(least), said(most), unit);
  const std::string speak =
      left == 1 && ruled_out.empty() ? "no other wear law has a part in it" : laws_said(left, ruled_out);
  return fmt::format("{} {}; {}.", begin, span, speak);
}

namespace {

struct LawOfEdge {
  std::string edge;
  LawForecast of;
};

}  // namespace

AnswerTable laws_table(const std::vector<LawsOfEdge>& edges, double passes_seen, const std::string& says) {
  std::vector<LawOfEdge> all;
  for (const LawsOfEdge& e : edges) {
    for (const LawForecast& law : e.laws) all.push_back({e.edge, law});
  }
  AnswerTable table{.name = "laws", .says = says, .axis = "edge and law", .on_terminal = edges.size() == 1};
  ItemColumns<LawOfEdge> rows(table, all);
  rows.text("edge", "edge", "name of the edge", &LawOfEdge::edge);
  rows.text("law", "wear law", "name of the law", [](const LawOfEdge& l) { return l.of.law; });
  rows.number(
      "weight", "1", "weight", "share of the members that have it",
      [](const LawOfEdge& l) { return l.of.weight; }, 2);
  rows.text("life", "passes", "passes under it, median of its members", [&](const LawOfEdge& l) {
    return std::isnan(l.of.passes) ? std::string{} : passes_text(rounded_passes(l.of.passes), passes_seen);
  });
  rows.number("passes", "1", "", "the same as a number; missing when it outlasts those simulated",
              [](const LawOfEdge& l) { return std::isinf(l.of.passes) ? not_given : l.of.passes; });
  rows.number("ruled_out", "1", "", "1 where the readings speak against the law",
              [](const LawOfEdge& l) { return l.of.ruled_out ? 1.0 : 0.0; });
  return table;
}

AnswerTable law_curves_table(const std::vector<LawsOfEdge>& edges) {
  struct Point {
    std::string edge, law;
    double      passes, reading_N;
  };
  std::vector<Point> all;
  for (const LawsOfEdge& e : edges) {
    for (const LawForecast& law : e.laws) {
      for (std::size_t k = 0; k < law.curve_N.size(); ++k)
        all.push_back({e.edge, law.law, e.at[k], law.curve_N[k]});
    }
  }
  AnswerTable        table{.name        = "law_curves",
                           .says        = "Reading against passes under each wear law",
                           .axis        = "point",
                           .on_terminal = false};
  ItemColumns<Point> points(table, all);
  points.text("edge", "", "name of the edge", &Point::edge);
  points.text("law", "", "name of the law", &Point::law);
  points.number("passes", "1", "", "passes since the edge was sharpened", &Point::passes);
  points.number("reading_gf", "gf", "", "reading under the law, median of its members",
                [](const Point& p) { return laws::in_gram_force(p.reading_N); });
  return table;
}

}  // namespace arris
