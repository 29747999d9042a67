// SPDX-License-Identifier: MIT
#include "sim/report/verdict.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/misses_said.hpp"
#include "sim/report/parts.hpp"
#include "sim/wording.hpp"

namespace arris::report {
namespace {

// the row of "caution" with the most passes that nine of ten versions of the model bear; −1 where there is none
int sure_routine(const StoredResult* upkeep) {
  if (upkeep == nullptr || upkeep->table("caution") == nullptr) return -1;
  const auto &passes  = upkeep->column("caution", "passes"),
             &keeping = upkeep->column("caution", "keeping_pct");
  int best            = -1;
  for (std::size_t i = 0; i < passes.size(); ++i) {
    if (!(keeping[i] >= 90.0)) continue;
    if (best < 0 || passes[i] > passes[static_cast<std::size_t>(best)]) best = static_cast<int>(i);
  }
  return best;
}

// ways whose reading is no more than the margin above the lowest, the lowest left out
std::vector<std::string> as_sharp(const std::vector<std::string>& ways, const std::vector<double>& reading,
                                  std::size_t best, double margin) {
  std::vector<std::string> out;
  for (std::size_t i = 0; i < ways.size(); ++i) {
    if (i != best && reading[i] <= (1.0 + margin) * reading[best]) out.push_back(ways[i]);
  }
  return out;
}

std::string or_count(const std::vector<std::string>& names) {
  constexpr std::size_t most = 3;
  return names.size() <= most ? and_list(names) : fmt::format("{} other ways", names.size());
}

// whether ways went together with operators, lots or days in the readings, so that these do not tell them apart
bool is_confounded(const StoredResult& compared) {
  if (compared.has_column("ways", "evidence")) {
    const auto& evidence = compared.words("ways", "evidence");
    if (std::find(evidence.begin(), evidence.end(), "confounded") != evidence.end()) return true;
  }
  if (compared.table("measured") == nullptr || !compared.has_column("measured", "confounded")) return false;
  const auto& why = compared.words("measured", "confounded");
  return std::any_of(why.begin(), why.end(), [](const std::string& text) { return !text.empty(); });
}

// whether the routine is that of an edge which follows the way; an old file does not say
bool is_of_way(const StoredResult& upkeep, const StoredResult& compared, std::size_t way) {
  if (!upkeep.has_column("caution", "edge")) return true;
  const std::string& edge  = upkeep.words("caution", "edge").front();
  const std::string& edges = compared.words("ways", "edges")[way];
  return (", " + edges + ", ").find(", " + edge + ", ") != std::string::npos;
}

// `which`: "an edge of film + MDF", or "edge A1"
void add_routine(const StoredResult& upkeep, std::size_t row, const std::string& which, Verdict& v) {
  const double passes = upkeep.column("caution", "passes")[row],
               kept   = upkeep.column("caution", "keeping_pct")[row];
  const bool strops =
      upkeep.has_column("routines", "stroppings") && upkeep.column("routines", "stroppings").front() > 0.0;
  const std::string wood = upkeep.has_column("caution", "wood")
                               ? "In " + upkeep.words("caution", "wood")[row] + ", "
                               : std::string();
  v.sentence += fmt::format(
      ". {}{} {} every {} passes: a mean edge then stays within {} gf in {} % of the versions of the model",
      wood, wood.empty() ? (strops ? "Strop" : "Hone") : (strops ? "strop" : "hone"), which,
      figures::figure_number(passes), figures::figure_number(setting(upkeep, "limit_gf")),
      figures::figure_number(kept));
  v.certainty.emplace_back(
      "The routine is that of a mean edge: single edges differ from it, and the forecast says by how much.");
}

// which of these ways costs least, or is quickest where nothing has a price; a sentence
std::string cheapest_of(const StoredResult& compared, const std::vector<std::string>& names) {
  const auto& ways = compared.words("ways", "way");
  const bool  year = compared.table("costs") != nullptr && compared.has_column("costs", "money_per_year");
  const bool  unpriced =
      std::any_of(compared.answer.remarks.begin(), compared.answer.remarks.end(),
                  [](const std::string& remark) { return remark.rfind("No price is stated for", 0) == 0; });
  const std::string left_out = unpriced ? ", leaving out what has no price" : "";
  const auto said = [&](const char* table, const char* value, const char* how, const std::string& unit) {
    const auto& price = compared.column(table, value);
    std::size_t least = ways.size();
    for (std::size_t i = 0; i < ways.size(); ++i) {
      if (std::find(names.begin(), names.end(), ways[i]) == names.end() || std::isnan(price[i])) continue;
      if (least == ways.size() || price[i] < price[least]) least = i;
    }
    return least == ways.size() ? std::string()
                                : fmt::format("Of these {} {}: {} {}{}.", ways[least], how,
                                              figures::figure_number(price[least]), unit, left_out);
  };
  if (year) {
    std::string text = said("costs", "money_per_year", "costs least",
                            column(compared.needed("costs"), "money_per_year").head);
    if (!text.empty()) return text;
  }
  std::string text =
      said("ways", "money", "costs least", column(compared.needed("ways"), "money").head + " a sharpening");
  return text.empty() ? said("ways", "minutes", "is quickest", "minutes a sharpening") : text;
}

// the way whose edges were read lowest; as many as there are ways where none was read
std::size_t read_lowest_way(const StoredResult& compared) {
  const std::size_t none = compared.words("ways", "way").size();
  if (!compared.has_column("ways", "read_gf")) return none;
  const auto& read   = compared.column("ways", "read_gf");
  std::size_t lowest = none;
  for (std::size_t i = 0; i < read.size(); ++i) {
    if (!std::isnan(read[i]) && (lowest == none || read[i] < read[lowest])) lowest = i;
  }
  return lowest;
}

bool is_one_tool(const std::vector<std::string>& tools) {
  return std::all_of(tools.begin(), tools.end(), [&](const std::string& t) { return t == tools.front(); });
}

// what was read, then what the model has: "On the iron, ready for work, A was read lowest, 110 gf; by the model B reads lowest, about 105 gf"
std::string lowest_said(const StoredResult& compared, std::size_t best) {
  const auto&       ways = compared.words("ways", "way");
  const std::string tool =
      compared.has_column("ways", "tool") && is_one_tool(compared.words("ways", "tool"))
          ? fmt::format("On the {}, ready for work, ", compared.words("ways", "tool").front())
          : std::string("Ready for work, ");
  const std::string about = fmt::format("about {:.0f} gf", compared.column("ways", "reading_gf")[best]);
  const std::size_t read  = read_lowest_way(compared);
  if (read == ways.size()) return fmt::format("{}{} reads lowest by the model, {}", tool, ways[best], about);
  const std::string was = fmt::format("{}{} was read lowest, {:.0f} gf", tool, ways[read],
                                      compared.column("ways", "read_gf")[read]);
  if (read == best) return fmt::format("{}; by the model it reads lowest too, {}", was, about);
  const double      own = compared.column("ways", "read_gf")[best];
  const std::string beside =
      std::isnan(own) ? std::string() : fmt::format(" (it was read as {:.0f} gf)", own);
  return fmt::format("{}; by the model {} reads lowest, {}{}", was, ways[best], about, beside);
}

std::size_t lowest_way(const StoredResult& compared) {
  const auto& reading = compared.column("ways", "reading_gf");
  return static_cast<std::size_t>(std::min_element(reading.begin(), reading.end()) - reading.begin());
}

}  // namespace

std::optional<std::string> edge_of_lowest_way(const StoredResult& compared) {
  const auto& edges = compared.words("ways", "edges");
  if (edges.empty()) return std::nullopt;
  const std::string& all = edges[lowest_way(compared)];
  return all.substr(0, all.find(", "));
}

std::optional<Verdict> verdict_of(const StoredResult& compared, const StoredResult* upkeep) {
  const auto& ways    = compared.words("ways", "way");
  const auto& reading = compared.column("ways", "reading_gf");
  if (ways.empty()) return std::nullopt;
  const std::size_t best = lowest_way(compared);
  Verdict           v;
  v.question        = "Which way of sharpening, and when is an edge touched up?";
  v.sentence        = lowest_said(compared, best);
  const auto others = as_sharp(ways, reading, best, setting(compared, "margin"));
  if (!others.empty())
    v.sentence += fmt::format(", and {} {} within {} % of that", or_count(others),
                              others.size() == 1 ? "comes" : "come",
                              figures::figure_number(100.0 * setting(compared, "margin")));
  const auto& verdicts = compared.words("against", "verdict");
  if (best > 0)
    v.certainty.push_back(fmt::format("{} compared with {}: {}.", ways[best], ways.front(), verdicts[best]));
  if (const std::size_t read = read_lowest_way(compared); read > 0 && read < ways.size() && read != best)
    v.certainty.push_back(fmt::format("{} compared with {}: {}.", ways[read], ways.front(), verdicts[read]));
  if (is_confounded(compared))
    v.certainty.emplace_back(
        "Some ways went together with who or what read them, so the readings cannot tell those apart.");
  if (const auto at = compared.answer.headline.find(misses_lead); at != std::string::npos)
    v.certainty.push_back(compared.answer.headline.substr(at));
  if (const int row = sure_routine(upkeep); row >= 0) {
    const bool same = is_of_way(*upkeep, compared, best);
    add_routine(*upkeep, static_cast<std::size_t>(row),
                same ? "an edge of " + ways[best] : "edge " + upkeep->words("caution", "edge").front(), v);
  }
  v.sentence += ".";
  if (!others.empty()) {
    std::vector<std::string> alike = others;
    alike.push_back(ways[best]);
    v.next.push_back(cheapest_of(compared, alike));
  }
  v.next.emplace_back("Look at the readings first: they come next, before any model.");
  Section section;
  add_comparison(compared, section);
  if (!section.figures.empty()) {
    v.figure = section.figures.front();
    v.figure->tables.clear();
  }
  return v;
}

}  // namespace arris::report
