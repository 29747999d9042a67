// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/laws/gram_force.hpp"
#include "sim/statistics/quantiles.hpp"
#include "sim/studies/confounded_with.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/studies/readings/read_campaign.hpp"
#include "sim/studies/readings/read_changes.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double no_chance = 0.05;  // p below which a difference is called one

// "12 % more", "9 % less", "twice as much"
std::string ratio_said(double ratio) {
  if (ratio >= 1.995) return fmt::format("{} times as much", short_number(ratio));
  return fmt::format("{} {}", percent(std::abs(ratio - 1.0)), ratio >= 1.0 ? "more" : "less");
}

std::vector<const ReadKind*> kinds_at_moment(const ReadCampaign& c, const std::string& moment) {
  std::vector<const ReadKind*> out;
  for (const ReadKind& k : c.kinds) {
    if (k.moment == moment) out.push_back(&k);
  }
  return out;
}

// ---- sentences ----

std::string what_was_read(const ReadCampaign& c) {
  std::string text = fmt::format("{} of {} at {}", counted(c.readings, "reading"), counted(c.edges, "edge"),
                                 counted(static_cast<long long>(c.moments.size()), "moment"));
  if (!c.operators.empty()) text += ", by " + and_list(c.operators);
  return text + ".";
}

// of the other kinds, where `mixed` of them went together with who or what read them
std::string others_sentence(int others, int alike, int mixed, const std::vector<std::string>& with) {
  std::vector<std::string> parts;
  const int                more = others - alike - mixed;
  const auto               say  = [&](int count, const char* one, const char* many) {
    if (count > 0) parts.push_back(fmt::format("{} {}", count, count == 1 ? one : many));
  };
  say(more, "reads more, by more than edges differ", "read more, by more than edges differ");
  say(alike, "cannot be distinguished from it", "cannot be distinguished from it");
  if (others == 1)
    return fmt::format(
        "; the other was read {} than it, so that the readings cannot tell whether that way differs, or only the {}.",
        read_differently(with), or_list(with));
  const std::string left = parts.empty() ? std::string() : " " + and_list(parts);
  return fmt::format(
      "; of the {} others{}{} {} {} read {} than it, so that the readings cannot tell whether {} or only the {}.",
      others, left, left.empty() ? "" : ";", mixed, mixed == 1 ? "was" : "were", read_differently(with),
      mixed == 1 ? "that way differs," : "these ways differ,", or_list(with));
}

// which kind reads least when ready for work, and which of the others cannot be distinguished from it
std::string least_sentence(const ReadCampaign& c) {
  const std::string moment = c.ready.empty() ? c.moments.front() : c.ready;
  const auto        kinds  = kinds_at_moment(c, moment);
  if (kinds.size() < 2) return {};
  const auto  least = *std::min_element(kinds.begin(), kinds.end(), [](const ReadKind* a, const ReadKind* b) {
    return a->mean_gf < b->mean_gf;
  });
  std::string text =
      fmt::format(" Read \"{}\", {} is lowest, {:.0f} gf ({})", moment, least->name, least->mean_gf,
                  counted(static_cast<long long>(least->edges.size()), "edge"));
  int                      alike = 0, others = 0, mixed = 0;
  std::vector<std::string> with;  // of all of them
  for (const ReadDifference& d : c.differences) {
    if (d.moment != moment) continue;
    ++others;
    if (!d.with.empty()) {
      ++mixed;
      for (const std::string& what : d.with) {
        if (std::find(with.begin(), with.end(), what) == with.end()) with.push_back(what);
      }
    } else {
      alike += d.p < no_chance ? 0 : 1;
    }
  }
  if (std::isnan(c.edge_sd))
    return text +
           "; no two edges were treated alike, so what is due to the way and what to the edge is not known.";
  if (mixed > 0) return text + others_sentence(others, alike, mixed, with);
  if (others == 1)
    return text + (alike == 0 ? "; the other reads more, by more than edges differ."
                              : "; the other cannot be distinguished from it.");
  if (alike == 0) return text + fmt::format("; all {} others read more, by more than edges differ.", others);
  if (alike == others)
    return text + fmt::format("; none of the {} others can be distinguished from it.", others);
  return text +
         fmt::format(
             "; {} of the {} others cannot be distinguished from it, since edges of one way differ by {} themselves.",
             alike, others, percent(std::expm1(c.edge_sd)));
}

std::string apart_sentence(const StandsApart& a) {
  if (a.since.empty())
    return fmt::format("Edge {} stands apart when read \"{}\": {} than others of its way.", a.edge, a.moment,
                       ratio_said(a.times));
  return fmt::format(
      "Edge {} stands apart: between \"{}\" and \"{}\" it changed otherwise than others of its way, and reads {} than if it had changed as they did.",
      a.edge, a.since, a.moment, ratio_said(a.times));
}

std::string odd_sentence(const OddReading& o) {
  if (o.others == 1)
    return fmt::format(
        "Edge {} was read {:.0f} gf and {:.0f} gf when read \"{}\" (line {} is one of the two): farther apart than readings of one edge scatter. Look whether one of them is mistyped; if so, correct it, or give a reason under excluded.",
        o.edge, o.reading_gf, o.others_gf, o.moment, o.line);
  return fmt::format(
      "Line {}, {:.0f} gf, edge {} when read \"{}\": its other readings there have {:.0f} gf, farther off than readings of one edge scatter. Look whether it is mistyped; if so, correct it, or give a reason under excluded.",
      o.line, o.reading_gf, o.edge, o.moment, o.others_gf);
}

// "falls by 12 %", "rises by 9.3 %", "does not clearly change (1.2 % more)"
std::string change_said(const ReadChange& c) {
  if (!(c.p_of_all < no_chance)) return fmt::format("does not clearly change ({})", ratio_said(c.ratio));
  if (c.ratio >= 1.995) return fmt::format("rises to {} times", short_number(c.ratio));
  return fmt::format("{} by {}", c.ratio > 1.0 ? "rises" : "falls", percent(std::abs(c.ratio - 1.0)));
}

constexpr const char* burr_said =
    "most likely a burr that was left on {} and wore off. The first reading is then that of the burr, not of the edge.";

// of each kind that falls in wood, where it has fallen farthest
std::vector<const ReadChange*> deepest_falls(const ReadCampaign& c) {
  std::vector<const ReadChange*> out;
  for (const ReadChange& change : c.changes) {
    if (!read::is_fall(change)) continue;
    const auto same = std::find_if(out.begin(), out.end(), [&](const ReadChange* o) {
      return o->edges == change.edges && o->before == change.before;
    });
    if (same == out.end()) {
      out.push_back(&change);
    } else if (change.ratio < (*same)->ratio) {
      *same = &change;
    }
  }
  return out;
}

// kinds that read less after wood than before it, as a whole
std::string falls_sentence(const ReadCampaign& c) {
  const auto               falls = deepest_falls(c);
  std::vector<std::string> said, with, missed;
  for (const ReadChange* f : falls) {
    said.push_back(fmt::format("that of {} by {} from \"{}\" to \"{}\" ({}, {} to {})", f->way,
                               percent(1.0 - f->ratio), f->before, f->after,
                               counted(static_cast<long long>(f->edges.size()), "edge"),
                               percent(1.0 - f->high), percent(1.0 - f->low)));
    for (const std::string& what : f->with) {
      if (std::find(with.begin(), with.end(), what) == with.end()) with.push_back(what);
    }
    if (f->model_ratio >= 1.0) missed.push_back(f->way);
  }
  if (said.empty()) return {};
  std::string text = fmt::format(" The reading falls in wood, {}: {}", and_list(said),
                                 fmt::format(fmt::runtime(burr_said), "the edges"));
  if (!with.empty())
    text += fmt::format(" They were read {} at the two moments, which may be why instead.",
                        read_differently(with));
  if (!missed.empty())
    text += fmt::format(" The model has no such fall of {}: there it does not fit.", and_list(missed));
  return text;
}

// of sharpening, or of wood, the moments that tell most surely that ways change unlike
std::string unlike_sentence(const ReadCampaign& c, bool sharpened) {
  const UnlikeChange* surest = nullptr;
  for (const UnlikeChange& u : c.unlike) {
    if (u.most.sharpened != sharpened || (!sharpened && !u.most.worked)) continue;
    if (surest == nullptr || u.p_of_all < surest->p_of_all) surest = &u;
  }
  if (surest == nullptr) return {};
  return fmt::format(
      " From \"{}\" to \"{}\" the reading of {} {}, and that of {} {}: {}, by more than edges differ.",
      surest->most.before, surest->most.after, surest->least.way, change_said(surest->least),
      surest->most.way, change_said(surest->most),
      sharpened ? "what was done between the two does not change all ways alike"
                : "in wood they do not change alike");
}

// where there is one way only: what wood did to it
std::string rise_sentence(const ReadCampaign& c) {
  const std::string moment = c.ready.empty() ? c.moments.front() : c.ready;
  if (kinds_at_moment(c, moment).size() != 1) return {};
  const ReadChange* last = nullptr;
  for (const ReadChange& change : c.changes) {
    if (change.worked && !change.sharpened && change.before == moment && !read::is_fall(change))
      last = &change;
  }
  if (last == nullptr || last->edges.size() != kinds_at_moment(c, moment).front()->edges.size()) return {};
  const auto to = kinds_at_moment(c, last->after);
  const auto at = std::find_if(to.begin(), to.end(), [&](const ReadKind* k) { return k->name == last->way; });
  return fmt::format(" Read \"{}\" it is {:.0f} gf, and {:.0f} gf at \"{}\" (geometric means of {}).", moment,
                     kinds_at_moment(c, moment).front()->mean_gf, (*at)->mean_gf, last->after,
                     counted(static_cast<long long>(last->edges.size()), "edge"));
}

// edges that fall in wood by themselves
std::string less_sentence(const ReadCampaign& c) {
  if (c.less.empty()) return {};
  std::vector<std::string> names, missed;
  for (const ReadsLess& l : c.less) {
    names.push_back(fmt::format("{} (by {} at \"{}\")", l.edge, percent(1.0 - l.ratio), l.after));
    if (l.model_ratio >= 1.0) missed.push_back(l.edge);
  }
  std::string text = fmt::format("{} read{} less after work in wood than before it: {}", and_list(names),
                                 names.size() == 1 ? "s" : "",
                                 fmt::format(fmt::runtime(burr_said), names.size() == 1 ? "it" : "them"));
  if (!missed.empty())
    text += fmt::format(" The model has no such fall for {}: there it does not fit.", and_list(missed));
  return text;
}

// the half of the moments that the model meets best, and where it misses most
std::string model_sentence(const ReadCampaign& c) {
  std::vector<double> off;
  const ReadMoment*   worst = nullptr;
  const auto          miss  = [](const ReadMoment& m) { return std::abs(std::log(m.mean_gf / m.model_gf)); };
  for (const ReadMoment& m : c.cells) {
    if (std::isnan(m.mean_gf) || std::isnan(m.model_gf)) continue;
    off.push_back(miss(m));
    if (worst == nullptr || miss(m) > miss(*worst)) worst = &m;
  }
  if (worst == nullptr) return {};
  return fmt::format(
      "The model beside it is within {} of the readings at half of the edges and moments; it misses most at {}, \"{}\": {:.0f} gf were read, and it says {:.0f} gf.",
      percent(std::expm1(quantile(off, 0.5))), worst->edge, worst->moment, worst->mean_gf, worst->model_gf);
}

std::string who_read_what(const ReadCampaign& c, const std::vector<Reading>& readings) {
  if (c.operators.size() < 2) return {};
  std::map<std::pair<int, std::string>, std::set<std::string>> people;
  for (const Reading& r : readings) {
    if (!std::isnan(r.reading_N)) people[{r.edge, r.moment_name}].insert(r.operator_name);
  }
  const auto shared =
      std::count_if(people.begin(), people.end(), [](const auto& p) { return p.second.size() > 1; });
  if (shared > 0) return {};
  return "No edge was read by two people at the same moment: what differs between people and what between edges cannot be distinguished.";
}

// ---- tables ----

AnswerTable kinds_table(const ReadCampaign& c) {
  AnswerTable           table{.name = "kinds",
                              .says = "Edges with which all was done alike, at each moment: geometric means",
                              .axis = "kind"};
  ItemColumns<ReadKind> rows(table, c.kinds);
  rows.text("moment", "read", "what the readings are called", &ReadKind::moment);
  rows.text("way", "way", "what was done before", &ReadKind::name);
  rows.number("edges", "1", "edges", "edges of the kind",
              [](const ReadKind& k) { return static_cast<double>(k.edges.size()); })
      .places = 0;
  rows.number("mean_gf", "gf", "gf", "geometric mean of the means of its edges", &ReadKind::mean_gf);
  if (c.has_model) rows.number("model_gf", "gf", "model gf", "the same by the model", &ReadKind::model_gf);
  return table;
}

AnswerTable edges_table(const ReadCampaign& c) {
  AnswerTable table{
      .name = "edges", .says = "Every edge at every moment", .axis = "edge", .on_terminal = false};
  ItemColumns<ReadMoment> rows(table, c.cells);
  rows.text("edge", "edge", "name of the edge", &ReadMoment::edge);
  rows.text("way", "way", "how it was sharpened", &ReadMoment::way);
  rows.text("moment", "read", "what the readings are called", &ReadMoment::moment);
  rows.number("passes", "1", "passes", "in wood until then", &ReadMoment::passes).places = 0;
  rows.number("readings", "1", "readings", "that count", [](const ReadMoment& m) { return m.count; }).places =
      0;
  rows.number("excluded", "1", "", "that do not", [](const ReadMoment& m) { return m.excluded; });
  rows.number("mean_gf", "gf", "gf", "geometric mean", &ReadMoment::mean_gf);
  rows.number("low_gf", "gf", "least", "lowest reading", &ReadMoment::low_gf);
  rows.number("high_gf", "gf", "most", "highest reading", &ReadMoment::high_gf);
  if (c.has_model) rows.number("model_gf", "gf", "model gf", "by the model", &ReadMoment::model_gf);
  return table;
}

AnswerTable differences_table(const ReadCampaign& c) {
  using D = ReadDifference;
  AnswerTable    table{.name = "differences",
                       .says = "Against the way that reads least at the moment, with 90 % intervals",
                       .axis = "pair"};
  ItemColumns<D> rows(table, c.differences);
  rows.text("moment", "read", "what the readings are called", &D::moment);
  rows.text("least", "least", "the way that reads least", &D::least);
  rows.text("way", "way", "the other", &D::other);
  rows.number("times", "1", "times", "its reading over the least", &D::ratio);
  rows.number("low", "1", "from", "lower end of the interval", &D::low);
  rows.number("high", "1", "to", "upper end of the interval", &D::high);
  rows.text("told", "clearly different", "whether they can be distinguished", [](const D& d) {
    if (!d.with.empty()) return "read " + read_differently(d.with);
    return std::string(std::isnan(d.p) ? "" : d.p < no_chance ? "yes" : "no");
  });
  rows.number("p", "1", "", "probability value of no difference, corrected for the ways at the moment (Holm)",
              &D::p);
  return table;
}

AnswerTable changes_table(const ReadCampaign& c) {
  using C = ReadChange;
  AnswerTable table{
      .name = "changes",
      .says = "What sharpening and wood changed, each edge held against itself, with 90 % intervals",
      .axis = "change"};
  ItemColumns<C> rows(table, c.changes);
  rows.text("before", "from", "the moment that it is held against", &C::before);
  rows.text("after", "to", "the later moment", &C::after);
  rows.text("way", "way", "what was done until the later moment", &C::way);
  rows.number("edges", "1", "edges", "edges of the kind that were read at both",
              [](const C& k) { return static_cast<double>(k.edges.size()); })
      .places = 0;
  rows.number("times", "1", "times", "the later reading over the earlier one, geometric mean", &C::ratio);
  rows.number("low", "1", "from", "lower end of the interval", &C::low);
  rows.number("high", "1", "to", "upper end of the interval", &C::high);
  if (c.has_model) rows.number("model_times", "1", "model", "the same by the model", &C::model_ratio);
  rows.text("changed", "clearly changed", "whether it can be distinguished from no change", [](const C& k) {
    return std::string(std::isnan(k.p_of_all) ? "" : k.p_of_all < no_chance ? "yes" : "no");
  });
  rows.number("p_of_all", "1", "", "probability value of no change, corrected for the number of rows (Holm)",
              &C::p_of_all);
  return table;
}

AnswerTable readings_table(const ReadCampaign& c, const std::vector<Reading>& readings,
                           const Scenario& scenario) {
  std::vector<Reading> all;
  for (const Reading& r : readings) {
    if (!std::isnan(r.reading_N)) all.push_back(r);
  }
  AnswerTable table{.name = "readings", .says = "Every reading", .axis = "reading", .on_terminal = false};
  ItemColumns<Reading> rows(table, all);
  const auto name = [&](const Reading& r) { return scenario.edges[static_cast<std::size_t>(r.edge)].name; };
  rows.text("edge", "edge", "name of the edge", name);
  rows.text("way", "way", "how it was sharpened", [&](const Reading& r) {
    const auto at =
        std::find_if(c.cells.begin(), c.cells.end(), [&](const ReadMoment& m) { return m.edge == name(r); });
    return at == c.cells.end() ? std::string{} : at->way;
  });
  rows.text("moment", "read", "what the reading is called", &Reading::moment_name);
  rows.number("reading_gf", "gf", "gf", "reading",
              [](const Reading& r) { return laws::in_gram_force(r.reading_N); });
  rows.text("operator", "by", "who took it", &Reading::operator_name);
  rows.text("excluded", "excluded", "why it does not count", &Reading::excluded);
  return table;
}

}  // namespace

Answer readings_answer(const ReadCampaign& c, const std::vector<Reading>& readings, const Scenario& scenario,
                       const std::string& source) {
  Answer answer;
  answer.kind     = "readings";
  answer.headline = what_was_read(c);
  for (const std::string& slip : c.slips) answer.headline += " " + slip;
  if (!c.all_equal)
    answer.headline += least_sentence(c) + rise_sentence(c) + unlike_sentence(c, true) +
                       unlike_sentence(c, false) + falls_sentence(c);
  answer.tables.push_back(kinds_table(c));
  if (!c.differences.empty() && !c.all_equal) answer.tables.push_back(differences_table(c));
  if (!c.changes.empty() && !c.all_equal) answer.tables.push_back(changes_table(c));
  answer.tables.push_back(edges_table(c));
  answer.tables.push_back(readings_table(c, readings, scenario));
  constexpr double slip = 7.0;  // times off from which on the headline has named it already
  for (const OddReading& o : c.odd) {
    if (c.slips.empty() || std::abs(std::log(o.reading_gf / o.others_gf)) < std::log(slip))
      answer.remarks.push_back(odd_sentence(o));
  }
  for (const StandsApart& a : c.apart) answer.remarks.push_back(apart_sentence(a));
  const auto remark = [&](About about, std::string text) {
    if (!text.empty()) answer.remark(about, std::move(text));
  };
  if (std::string less = less_sentence(c); !less.empty()) answer.remarks.push_back(std::move(less));
  if (c.excluded > 0)
    answer.remarks.push_back(fmt::format("{} {} excluded in the file, with a reason, and {} not counted.",
                                         counted(c.excluded, "reading"), c.excluded == 1 ? "is" : "are",
                                         c.excluded == 1 ? "is" : "are"));
  if (!std::isnan(c.edge_sd) && !c.all_equal)
    remark(
        About::certainty,
        fmt::format(
            "Edges with which all was done alike differ by {} (one standard deviation, from {}){}; intervals rest on that, also where a way has one edge only.",
            percent(std::expm1(c.edges_alike_sd)),
            counted(static_cast<long long>(c.edge_dof), "degree of freedom", "degrees of freedom"),
            c.edge_sd > c.edges_alike_sd
                ? fmt::format(", less than their readings scatter, so that {} is taken",
                              percent(std::expm1(c.edge_sd)))
                : ""));
  if (c.has_model) remark(About::certainty, model_sentence(c));
  remark(About::certainty, who_read_what(c, readings));
  answer.rests_on =
      fmt::format("Rests on {} in {}{}", counted(c.readings, "reading"), source,
                  !c.has_model ? ", and on no model of an edge."
                               : "; the model beside them has the best values of a fit to them.");
  answer.settings = {{"readings", c.readings}, {"edges", c.edges}};
  return answer;
}

}  // namespace arris
