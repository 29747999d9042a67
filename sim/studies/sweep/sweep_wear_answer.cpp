// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/studies/sweep/sweep_answer_parts.hpp"
#include "sim/wording.hpp"

/// How long the edge lasts in wood: the questions bevel-angle and wood.
namespace arris::sweep_parts {
namespace {

struct Worn {
  std::size_t row   = 0;
  double      fresh = not_given, own = not_given, limit = not_given, radius = not_given;
  double      chip =
      not_given;  ///< depth of chips after the passes of the configuration; NaN where it was not asked for
};

std::vector<Worn> worn_rows(const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis& passes = d.axes[1];
  const int reading = d.output("reading_gf"), radius = d.output("apex_radius_um"), chip = d.output("chip_um");
  std::vector<Worn> rows;
  for_each_row(grid, get, [&](std::size_t row, const Row& r) {
    Worn w;
    w.row    = row;
    w.fresh  = r.value(reading, 0);
    w.own    = r.at(reading, passes.values, passes.own);
    w.radius = r.at(radius, passes.values, passes.own);
    w.limit  = r.crossing(reading, passes.values, d.limit_gf);
    if (chip >= 0) w.chip = r.at(chip, passes.values, passes.own);
    rows.push_back(w);
  });
  return rows;
}

// longest first: those that never get dull by how sharp they still are
bool lasts_longer(const Worn& a, const Worn& b) {
  const bool a_dull = !std::isnan(a.limit), b_dull = !std::isnan(b.limit);
  if (std::isnan(a.own) != std::isnan(b.own)) return std::isnan(b.own);
  if (a_dull && b_dull && a.limit != b.limit) return a.limit > b.limit;
  if (a_dull != b_dull) return b_dull;
  return a.own < b.own;
}

AnswerTable worn_table(const SweepDefinition& d, const std::vector<Worn>& rows) {
  std::vector<std::size_t> at;
  std::vector<double>      fresh, own, limit, radius, chip;
  for (const Worn& w : rows) {
    at.push_back(w.row);
    fresh.push_back(w.fresh);
    own.push_back(w.own);
    limit.push_back(w.limit);
    radius.push_back(w.radius);
    chip.push_back(w.chip);
  }
  AnswerTable table;
  table.name = "optima";
  table.axis = d.axes[0].says;
  add_axis(table, d.axes[0], at);
  table.number("reading_fresh_gf", "gf", "gf fresh", "reading before the first pass", std::move(fresh));
  const std::string after = plain(d.axes[1].own);
  table.number("reading_after_gf", "gf", "gf after " + after, "reading after the passes of the configuration",
               std::move(own));
  table.number("apex_radius_after_um", "um", "µm then", "apex radius then", std::move(radius));
  if (!chip.empty() && !std::isnan(chip.front()))
    table.number("chip_after_um", "um", "chips µm", "depth of chips then", std::move(chip), 2);
  if (!std::isnan(d.limit_gf))
    table.number("passes_to_limit", "1", fmt::format("passes to {} gf", plain(d.limit_gf)),
                 "passes of this step until the limit is crossed; missing where it is not", std::move(limit),
                 1);
  return table;
}

void beyond_remark(Answer& answer, const SweepDefinition& d, const std::vector<Worn>& rows) {
  if (std::isnan(d.limit_gf)) {
    answer.remark(
        About::next,
        "No reading is given at which the edge counts as dull, so no life is given: state --limit, or reading_limit_gf in [output].");
    return;
  }
  if (std::any_of(rows.begin(), rows.end(),
                  [](const Worn& w) { return std::isnan(w.limit) && !std::isnan(w.own); }))
    answer.remarks.push_back(
        fmt::format("Where no number of passes stands the edge stays below {} gf for {} passes.",
                    plain(d.limit_gf), plain(d.axes[1].values.back())));
}

std::string life_text(const SweepDefinition& d, const Worn& w) {
  if (std::isnan(d.limit_gf)) return fmt::format("{} gf after {} passes", plain(w.own), plain(d.axes[1].own));
  if (std::isnan(w.limit)) return fmt::format("more than {} passes", plain(d.axes[1].values.back()));
  if (w.limit == 0.0) return "no pass at all";
  return fmt::format("{} passes", plain(w.limit));
}

// below which angle the edge chips, and whether that or wear decides
void weigh_chips(Answer& answer, const SweepDefinition& d, const std::vector<Worn>& rows, std::size_t best) {
  constexpr double worth_saying_um = 0.2;
  const SweepAxis& angles          = d.axes[0];
  const auto       chips           = [&](const Worn& w) { return w.chip > worth_saying_um; };
  const auto       whole           = std::find_if_not(rows.begin(), rows.end(), chips);
  if (whole == rows.begin()) {
    answer.remarks.emplace_back("No angle looked at chips: keenness and wear decide.");
  } else if (whole == rows.end()) {
    answer.remarks.push_back(fmt::format(
        "Every angle looked at chips in this wood, {}° by {} µm after {} passes: look at a steeper bevel or a tougher steel.",
        plain(angles.values[rows.back().row]), short_number(rows.back().chip), plain(d.axes[1].own)));
  } else {
    answer.remarks.push_back(fmt::format(
        "Below {}° the edge chips, at {}° by {} µm after {} passes: there chips decide, from {}° on keenness and wear do.",
        plain(angles.values[whole->row]), plain(angles.values[rows.front().row]),
        short_number(rows.front().chip), plain(d.axes[1].own), plain(angles.values[whole->row])));
    if (best < whole->row)
      answer.remarks.emplace_back(
          "The angle that lasts longest by the tester chips: lines on the planed surface may be what ends its use.");
  }
  answer.remark(
      About::certainty,
      "Chips follow from the strength of a thin wedge, carbide size and the hardness of the wood; their size is an estimate, not a measurement.");
}

}  // namespace

void bevel_angle_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const auto       rows   = worn_rows(d, grid, get);
  const SweepAxis& angles = d.axes[0];
  const auto       best   = std::min_element(rows.begin(), rows.end(), lasts_longer);
  // those that outlast the passes looked at: which of them lasts longest was not seen
  std::vector<std::string> outlast;
  std::vector<std::size_t> where;
  bool                     own_outlasts = false;
  for (const Worn& w : rows) {
    if (std::isnan(d.limit_gf) || std::isnan(w.own) || !std::isnan(w.limit)) continue;
    outlast.push_back(plain(angles.values[w.row]) + "°");
    where.push_back(w.row);
    own_outlasts |= angles.values[w.row] == angles.own;
  }
  if (outlast.size() > 1) {
    answer.headline = fmt::format(
        "{} of {} honed bevels keep the edge of {} below {} gf for more than {} passes: {}. After {} passes {}° reads least, {} gf.",
        outlast.size() == rows.size() ? "All" : std::to_string(outlast.size()), rows.size(), d.edge,
        plain(d.limit_gf), plain(d.axes[1].values.back()),
        where.back() - where.front() + 1 == where.size() ? outlast.front() + " to " + outlast.back()
                                                         : or_list(outlast),
        plain(d.axes[1].own), plain(angles.values[best->row]), plain(best->own));
  } else if (best->limit == 0.0) {
    answer.headline = fmt::format(
        "No honed bevel brings the edge of {} below {} gf. After {} passes {}° reads least, {} gf.", d.edge,
        plain(d.limit_gf), plain(d.axes[1].own), plain(angles.values[best->row]), plain(best->own));
  } else {
    answer.headline = fmt::format("A honed bevel of {}° keeps the edge of {} longest: {}{}.",
                                  plain(angles.values[best->row]), d.edge, life_text(d, *best),
                                  std::isnan(d.limit_gf) ? "" : fmt::format(" to {} gf", plain(d.limit_gf)));
  }
  for (const Worn& w : rows) {
    if (angles.values[w.row] == angles.own && w.row != best->row && !own_outlasts && best->limit != 0.0)
      answer.headline += fmt::format(" With its own {}° it is {}.", plain(angles.own), life_text(d, w));
  }
  double least = not_given;
  for (const Worn& w : rows) {
    if (!(w.fresh >= least)) least = std::isnan(w.fresh) ? least : w.fresh;
  }
  const auto fine =
      std::find_if(rows.begin(), rows.end(), [&](const Worn& w) { return w.fresh <= (1.0 + alike) * least; });
  if (fine != rows.end())
    answer.remarks.push_back(
        fmt::format("Fresh from honing the least reading is {} gf, and {}° comes within 2 % of it.",
                    plain(least), plain(angles.values[fine->row])));
  weigh_chips(answer, d, rows, best->row);
  AnswerTable table = worn_table(d, rows);
  table.says = fmt::format("Each bevel honed and stropped by the same steps, then used: {}", d.axes[1].says);
  beyond_remark(answer, d, rows);
  add_table(answer, std::move(table));
}

void wood_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  auto rows = worn_rows(d, grid, get);
  std::stable_sort(rows.begin(), rows.end(), lasts_longer);
  const SweepAxis& woods = d.axes[0];
  const bool       is_never_sharp =
      !std::isnan(d.limit_gf) &&
      std::all_of(rows.begin(), rows.end(), [](const Worn& w) { return w.limit == 0.0; });
  answer.headline =
      is_never_sharp
          ? fmt::format(
                "Edge {} lasts no pass in any of these woods: fresh it reads {} gf, and the limit is {} gf. After {} passes it reads least in {}, {} gf, and most in {}, {} gf.",
                d.edge, plain(rows.front().fresh), plain(d.limit_gf), plain(d.axes[1].own),
                woods.labels[rows.front().row], plain(rows.front().own), woods.labels[rows.back().row],
                plain(rows.back().own))
          : fmt::format("Edge {} lasts longest in {}: {}; least in {}: {}.", d.edge,
                        woods.labels[rows.front().row], life_text(d, rows.front()),
                        woods.labels[rows.back().row], life_text(d, rows.back()));
  for (const Worn& w : rows) {
    if (static_cast<double>(w.row) == woods.own && w.row != rows.front().row && w.row != rows.back().row &&
        !is_never_sharp)
      answer.headline += fmt::format(" In {}, as the configuration has it: {}.", d.about, life_text(d, w));
  }
  AnswerTable table = worn_table(d, rows);
  table.says        = fmt::format("Woods, the kindest first: {}", d.axes[1].says);
  beyond_remark(answer, d, rows);
  answer.remark(
      About::certainty,
      "Wear by hand in wood has no published curve: take the order more seriously than the numbers.");
  answer.tables.push_back(std::move(table));  // whole, so that everyone finds the wood at hand
}

}  // namespace arris::sweep_parts
