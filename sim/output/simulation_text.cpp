// SPDX-License-Identifier: MIT
#include "sim/output/simulation_text.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/fit/wear_numbers.hpp"
#include "sim/input/loader.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/misses_said.hpp"
#include "sim/output/specimen_text.hpp"
#include "sim/output/terminal.hpp"
#include "sim/simulate/collapse_said.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

std::string gf(double newton) { return decimals(laws::in_gram_force(newton)); }

// an edge that no strop has dubbed has none
std::string dub(double um) { return um < 1e-3 ? std::string() : digits(um, 2); }

// a burr below a nanometre is no burr
std::string burr(double um) { return um < 1e-3 ? std::string("0") : digits(um, 2); }

const StepSummary* last_before_cut(const EdgeResult& edge, std::initializer_list<const char*> verbs) {
  const StepSummary* found = nullptr;
  for (const StepSummary& s : edge.steps) {
    if (s.verb == "cut") break;
    if (std::any_of(verbs.begin(), verbs.end(), [&](const char* v) { return s.verb == v; })) found = &s;
  }
  return found;
}

// whether it was honed or stropped between two stretches in wood before its life ended
bool is_touched_up(const EdgeResult& edge) {
  bool cut = false, sharpened = false;
  for (const StepSummary& s : edge.steps) {
    if (s.verb == "cut" && sharpened && s.before.passes < edge.life.passes) return true;
    if (s.verb == "cut") {
      cut = true;
    } else if (s.verb != "read") {
      sharpened = cut;
    }
  }
  return false;
}

// at a fit a life is for a forecast, which has all wear laws and what is not known: two numbers of one name would be one too many
bool leaves_lives_to_forecast(const Loaded& loaded) { return !loaded.scenario.beside.is_empty(); }

std::string life_text(const EdgeResult& edge, double passes_done) {
  const Life& life = edge.life;
  if (!life.asked) return {};
  if (life.from_start) return "over from the start";
  if (life.reached) return decimals(life.passes) + (is_touched_up(edge) ? ", touched up" : "");
  return passes_done > 0.0 ? "more than " + decimals(passes_done) : std::string{};
}

double passes_of(const EdgeResult& edge) { return edge.track.empty() ? 0.0 : edge.track.back().passes; }

// what the first passes do to a fresh edge
struct FirstPasses {
  double fresh_N    = not_given;  // reading before the first pass; NaN where it cuts no wood
  double burr_um    = 0.0;        // what is left of the burr then
  bool   dips       = false;      // it starts above the limit, and comes below it
  double below_from = not_given;  // passes after which it has come below
  bool   ends_below_fresh =
      false;  // after its last pass it reads less than fresh, and was not sharpened in between

  [[nodiscard]] std::string why() const {
    constexpr double felt_um = 0.1;
    return burr_um > felt_um ? "as the burr wears off" : "as the thinnest part of the apex wears off";
  }
};

FirstPasses first_passes_of(const EdgeResult& edge, double limit_gf) {
  FirstPasses out;
  const auto  cut = std::find_if(edge.steps.begin(), edge.steps.end(),
                                 [](const StepSummary& s) { return s.verb == "cut"; });
  if (cut == edge.steps.end()) return out;
  out.fresh_N          = cut->before.reading_N;
  out.burr_um          = cut->before.burr_um;
  const double limit_N = laws::in_newton(limit_gf);
  const bool   again   = std::any_of(cut, edge.steps.end(), [](const StepSummary& s) {
    return s.verb == "hone" || s.verb == "back" || s.verb == "strop";
  });
  out.ends_below_fresh = !again && edge.track.back().reading_N < 0.98 * out.fresh_N;
  if (!(out.fresh_N > limit_N) || edge.life.from_start) return out;
  const auto below = std::find_if(edge.track.begin(), edge.track.end(), [&](const TrackPoint& p) {
    return p.passes > cut->before.passes && p.reading_N <= limit_N;
  });
  if (below == edge.track.end()) return out;
  out.dips       = true;
  out.below_from = below->passes - cut->before.passes;
  return out;
}

// of several edges those that begin above the limit although they last; empty where there are none
std::string dipping_clause(const SimulationResult& result, double limit_gf) {
  std::vector<std::string> names;
  std::string              why;
  for (const EdgeResult& e : result.edges) {
    if (!e.status.usable() || !e.life.asked) continue;
    const FirstPasses first = first_passes_of(e, limit_gf);
    if (!first.dips) continue;
    names.push_back(e.name);
    why = first.why();
  }
  if (names.empty()) return {};
  constexpr std::size_t most = 4;
  const std::string     who  = names.size() <= most
                                   ? and_list(names)
                                   : counted(static_cast<long long>(names.size()), "of them", "of them");
  return fmt::format(". {} start{} above {:g} gf, and come{} below it in the first passes, {}", who,
                     names.size() == 1 ? "s" : "", limit_gf, names.size() == 1 ? "s" : "", why);
}

// what edges read as they go to work: ". Ready for work they read 125 gf (F3) to 209 gf (F4)"
std::string ready_clause(const SimulationResult& result) {
  const auto        ready = [](const EdgeResult& e) { return last_before_cut(e, {"hone", "back", "strop"}); };
  const EdgeResult *least = nullptr, *most = nullptr;
  for (const EdgeResult& e : result.edges) {
    if (!e.status.usable() || !(passes_of(e) > 0.0) || ready(e) == nullptr) continue;
    const double reading = ready(e)->after.reading_N;
    if (least == nullptr || reading < ready(*least)->after.reading_N) least = &e;
    if (most == nullptr || reading > ready(*most)->after.reading_N) most = &e;
  }
  if (least == nullptr) return {};
  const auto said = [&](const EdgeResult& e) { return gf(ready(e)->after.reading_N) + " gf"; };
  if (said(*least) == said(*most)) return ". Ready for work: " + said(*least);
  return fmt::format(". Ready for work they read {} ({}) to {} ({})", said(*least), least->name, said(*most),
                     most->name);
}

}  // namespace

std::string step_said(const std::string& verb, const std::string& subject) {
  if (verb == "hone") return "hone on " + subject;
  if (verb == "back") return "back on " + subject;
  if (verb == "strop") return "strop on " + subject;
  if (verb == "cut") return "cut " + subject;
  if (verb == "read") return "read: " + subject;
  return "dress " + subject;
}

std::string rests_on(const Loaded& loaded) {
  std::string source;
  int         fitted = 0;
  bool        wears  = false;
  for (const auto& [path, origin] : loaded.origins) {
    if (origin.status.rfind("fitted", 0) != 0) continue;
    ++fitted;
    wears |= is_wear_path(path);
    source = origin.source;
  }
  const std::string end = " A prediction is an estimate, not a promise.";
  if (fitted == 0)
    return "The configuration and the shipped defaults, most of which are estimates; no parameter was fitted to readings." +
           end;
  return fmt::format(
             "{} values from a {}{}; otherwise the configuration and the shipped defaults, most of which are estimates.",
             fitted, source,
             wears ? fmt::format(", under the wear law {}", loaded.scenario.model.wear.name()) : "") +
         end;
}

std::string outline_sentence(const SimulationResult& result) {
  int  points  = 0;
  long presses = 0;
  for (const EdgeResult& e : result.edges) {
    points = std::max(points, e.outline_points);
    presses += e.outline_presses;
  }
  if (points == 0) return {};
  std::string text = fmt::format(
      "Readings, dub and depth to flat are those of an outline of {} to a face, followed stroke by stroke",
      counted(points, "point"));
  if (presses > 0) text += fmt::format(" and pressed on pads {}", counted(presses, "time"));
  return text + ", and not of the reduced law.";
}

std::string simulation_answer(const Loaded& loaded, const SimulationResult& result) {
  if (loaded.scenario.model.specimen.in_use) return specimens_answer(loaded, result);
  const double limit  = loaded.scenario.output.reading_limit_gf;
  const auto   failed = std::count_if(result.edges.begin(), result.edges.end(),
                                      [](const EdgeResult& e) { return !e.status.usable(); });
  std::string  text   = counted(static_cast<long long>(result.edges.size()), "edge") + " simulated";
  if (failed > 0) text += fmt::format("; {} failed, see below", failed);
  const EdgeResult* longest  = nullptr;
  const EdgeResult* shortest = nullptr;
  int               reached = 0, outlast = 0, blunt = 0;
  for (const EdgeResult& e : result.edges) {
    if (!e.status.usable() || !e.life.asked || passes_of(e) <= 0.0) continue;
    if (!e.life.reached) {
      ++outlast;
      continue;
    }
    if (e.life.from_start) {
      ++blunt;
      continue;
    }
    ++reached;
    if (longest == nullptr || e.life.passes > longest->life.passes) longest = &e;
    if (shortest == nullptr || e.life.passes < shortest->life.passes) shortest = &e;
  }
  const bool by_forecast = reached > 0 && leaves_lives_to_forecast(loaded);
  if (by_forecast) {
    text += ready_clause(result) + "; the forecast says how long each lasts";
    reached = 0;
  } else if (reached == 1) {
    text += fmt::format(". Edge {} reads {:g} gf after about {:.0f} passes", longest->name, limit,
                        longest->life.passes);
  } else if (reached > 1) {
    text += fmt::format(". They pass {:g} gf after about {:.0f} ({}) to {:.0f} passes ({})", limit,
                        shortest->life.passes, shortest->name, longest->life.passes, longest->name);
  }
  // the limit is named once, by the first clause that speaks of it
  const std::string more = reached > 0 ? std::string("more") : fmt::format("more than {:g} gf", limit);
  if (blunt > 0)
    text += fmt::format("; {} read{} {} before the first pass", blunt, blunt == 1 ? "s" : "", more);
  if (outlast > 0 && !std::isnan(limit)) {
    const std::string less =
        reached + blunt > 0 ? std::string("less") : fmt::format("less than {:g} gf", limit);
    text += outlast == 1 ? fmt::format("; 1 still reads {} after its last pass", less)
                         : fmt::format("; {} still read {} after their last pass", outlast, less);
  }
  text += dipping_clause(result, limit);
  const std::string outline = outline_sentence(result);
  return with_misses(text + (outline.empty() ? "." : ". " + outline), loaded.scenario.beside.misses);
}

std::string simulation_overview(const Loaded& loaded, const SimulationResult& result) {
  if (loaded.scenario.model.specimen.in_use) return specimens_overview(loaded, result);
  const double             limit       = loaded.scenario.output.reading_limit_gf;
  const bool               shows_lives = !std::isnan(limit) && !leaves_lives_to_forecast(loaded);
  std::vector<std::string> head{"edge",     "tool",    "route", "off the stones gf",
                                "ready gf", "worn gf", "passes"};
  std::vector<bool>        right_aligned{false, false, false, true, true, true, true};
  if (shows_lives) {
    head.push_back(fmt::format("passes to {:g} gf", limit));
    right_aligned.push_back(true);
  }
  TextTable  table(std::move(head), std::move(right_aligned));
  const auto add = [&](std::vector<std::string> cells, std::string life) {
    if (shows_lives) cells.push_back(std::move(life));
    table.add(std::move(cells));
  };
  for (const EdgeResult& edge : result.edges) {
    if (!edge.status.usable()) {
      add({edge.name, edge.tool, edge.route, "failed", "", "", ""}, {});
      continue;
    }
    const StepSummary* stones = last_before_cut(edge, {"hone", "back"});
    const StepSummary* ready  = last_before_cut(edge, {"hone", "back", "strop"});
    const double       passes = passes_of(edge);
    add({edge.name, edge.tool, edge.route, stones != nullptr ? gf(stones->after.reading_N) : "",
         ready != nullptr ? gf(ready->after.reading_N) : "",
         passes > 0.0 ? gf(edge.track.back().reading_N) : "", passes > 0.0 ? decimals(passes) : ""},
        life_text(edge, passes));
  }
  return table.text();
}

// what stropping and chips leave for the next honing
std::string next_honing_text(const EdgeResult& edge) {
  constexpr double worth_saying_um = 0.3;
  std::string      out;
  const double     chip_um = edge.track.empty() ? 0.0 : edge.track.back().chip_um;
  if (chip_um > worth_saying_um)
    out += wrapped(
        fmt::format(
            "The edge is chipped: pieces {} µm deep are missing, which leave lines on the planed surface.",
            digits(chip_um, 2)),
        text_width(), 2);
  const NextHoning& next = edge.next_honing;
  if (!(next.depth_um > worth_saying_um)) return out;
  std::string text =
      fmt::format("The next honing must take {} µm off the bevel before it meets all of the edge again",
                  digits(next.depth_um, 2));
  if (!std::isnan(next.strokes))
    text += fmt::format(": {:.0f} strokes on {}", std::ceil(next.strokes), next.medium);
  return out + wrapped(text + ".", text_width(), 2);
}

std::string edge_text(const Loaded& loaded, const EdgeResult& edge) {
  if (loaded.scenario.model.specimen.in_use) return specimen_text(loaded, edge);
  const auto& model = loaded.scenario.model;
  std::string out   = fmt::format("Edge {}: {}, {:g}° at the apex", edge.name, edge.tool,
                                  std::round(edge.included_angle_deg * 100) / 100);
  for (std::size_t i = 0; i < model.tools.size(); ++i) {
    if (model.tools[i].name == edge.tool)
      out += ", " + model.steels[static_cast<std::size_t>(model.steel_of_tool[i])].name;
  }
  if (!edge.route.empty()) out += ", route " + edge.route;
  out = wrapped(out);
  TextTable table({"", "step", "count", "burr after", "radius µm", "dub µm", "scratch µm", "burr µm",
                   "land mm", "steel mg", "gf"},
                  {true, false, true, true, true, true, true, true, true, true, true});
  if (!edge.steps.empty()) {
    const TrackPoint& p = edge.steps.front().before;
    table.add({"", "as it was", "", "", digits(p.apex_radius_um), dub(p.dub_um), digits(p.scratch_um, 2),
               burr(p.burr_um), decimals(p.land_mm, 2), "", gf(p.reading_N)});
  }
  for (const StepSummary& s : edge.steps) {
    const TrackPoint& p       = s.after;
    const bool        abrades = s.verb == "hone" || s.verb == "back" || s.verb == "strop";
    std::string       burr_at = std::isnan(s.strokes_to_burr) ? (s.verb == "hone" ? "none" : "")
                                                              : decimals(std::ceil(s.strokes_to_burr));
    table.add({std::to_string(s.index + 1), step_said(s.verb, s.subject), decimals(s.count), burr_at,
               digits(p.apex_radius_um), dub(p.dub_um), digits(p.scratch_um, 2), burr(p.burr_um),
               decimals(p.land_mm, 2), abrades ? digits(s.steel_removed_mg, 2) : "", gf(p.reading_N)});
  }
  out += table.text(2);
  for (const StepSummary& s : edge.steps) {
    if (!std::isnan(s.skates_after_passes)) {
      out += wrapped(
          fmt::format(
              "Step {}: from about pass {:.0f} the apex is too round for the shaving stated, and the edge skates.",
              s.index + 1, s.skates_after_passes),
          text_width(), 2);
    }
  }
  if (edge.life.asked && passes_of(edge) > 0.0) {
    const double limit = loaded.scenario.output.reading_limit_gf;
    if (edge.life.from_start) {
      out +=
          wrapped(fmt::format("It reads more than {:g} gf from its first pass on.", limit), text_width(), 2);
    } else if (const FirstPasses first = first_passes_of(edge, limit); first.dips) {
      out += wrapped(
          fmt::format(
              "It starts at {} gf, above {:g} gf, and comes below that after about {:.0f} passes, {}; {}.",
              gf(first.fresh_N), limit, std::ceil(first.below_from), first.why(),
              edge.life.reached
                  ? fmt::format("after about {:.0f} passes it is above it again, and stays there",
                                edge.life.passes)
                  : fmt::format("it is still below after {:.0f} passes", passes_of(edge))),
          text_width(), 2);
    } else if (edge.life.reached) {
      const std::string touched_up = is_touched_up(edge) ? ", touched up on the way" : "";
      out += wrapped(
          leaves_lives_to_forecast(loaded)
              ? fmt::format(
                    "At the best values of the fit alone it passes {:g} gf after about {:.0f} passes{}; `arris forecast` says how long such an edge lasts.",
                    limit, edge.life.passes, touched_up)
              : fmt::format("It passes {:g} gf after about {:.0f} passes{}.", limit, edge.life.passes,
                            touched_up),
          text_width(), 2);
    } else {
      out += wrapped(fmt::format("It lasts more than {:.0f} passes below {:g} gf.", passes_of(edge), limit),
                     text_width(), 2);
    }
  }
  out += next_honing_text(edge);
  if (!edge.message.empty()) out += wrapped("Stopped: " + edge.message, text_width(), 2);
  return out;
}

namespace {

// what a microscope or a balance says beside the model
std::string measures_text(const Comparison& c) {
  if (c.measures.empty()) return {};
  TextTable table({"edge", "when", "what", "measured", "predicted", "", "measured/predicted", "in s.d."},
                  {false, false, false, true, true, false, true, true});
  int       far = 0;
  for (const ComparedMeasure& m : c.measures) {
    table.add({m.edge, m.moment, name_of(m.kind), digits(m.measured), digits(m.predicted), unit_of(m.kind),
               decimals(m.ratio, 2), decimals(m.in_sd, 1)});
    far += std::abs(m.in_sd) > 2.0 ? 1 : 0;
  }
  return "\n" + table.text(2) + "\n" +
         wrapped(
             fmt::format(
                 "{} of these {} lie beyond 2 standard deviations of their own uncertainty and, for lengths, the scatter of edges; about {:.0f} would by chance.",
                 far, c.measures.size(), std::round(0.0455 * static_cast<double>(c.measures.size()))),
             text_width(), 2);
}

// how well readings are met, one to three sentences
std::string agreement_sentence(const Comparison& c) {
  const std::string of = fmt::format(
      "{} at {}{}. ", counted(c.readings, "reading"), counted(std::ssize(c.moments), "moment"),
      c.excluded > 0 ? fmt::format(" ({} more excluded, with their reasons in the file)", c.excluded) : "");
  const std::string says =
      std::isnan(c.mean_ratio)
          ? "None of them can be compared."
          : fmt::format(
                "Measured over predicted is {:.2f} on average, and moments are off by {:.0f} % as a root mean square. {} of the moments lie{} beyond 2 standard deviations of the scatter that the configuration states; about {:.0f} would by chance.",
                c.mean_ratio, 100.0 * std::expm1(c.typical_error), c.beyond_2sd, c.beyond_2sd == 1 ? "s" : "",
                std::round(0.0455 * static_cast<double>(c.moments.size())));
  return of + says;
}

std::string readings_compared(const Comparison& c) {
  if (c.wear) return wear_compared(c, agreement_sentence(c));
  if (c.moments.empty()) return {};
  TextTable table(
      {"edge", "when", "readings", "measured gf", "predicted gf", "measured/predicted", "in s.d."},
      {false, false, true, true, true, true, true});
  for (const ComparedMoment& m : c.moments) {
    table.add({m.edge, m.moment, std::to_string(m.count), gf(m.measured_N), gf(m.predicted_N),
               decimals(m.ratio, 2), decimals(m.in_sd, 1)});
  }
  return table.text(2) + "\n" + wrapped(agreement_sentence(c), text_width(), 2);
}

// edges that the model has read less worn than fresh, and why; empty where there are none
std::string blunter_fresh_sentence(const SimulationResult& result) {
  std::vector<std::string> names;
  for (const EdgeResult& e : result.edges) {
    if (e.status.usable() && first_passes_of(e, not_given).ends_below_fresh) names.push_back(e.name);
  }
  if (names.empty()) return {};
  return fmt::format(
      "{} read{} less after the last pass than fresh: what is left of the burr is in the fresh reading, and wears off in the wood.",
      and_list(names), names.size() == 1 ? "s" : "");
}

}  // namespace

std::string comparison_text(const Comparison& c) {
  std::string out = readings_compared(c) + measures_text(c);
  for (const std::string& failure : c.failed) out += wrapped("No prediction: " + failure, text_width(), 2);
  return out;
}

Answer simulation_sentences(const Loaded& loaded, const SimulationResult& result,
                            const std::optional<Comparison>& comparison) {
  Answer answer;
  answer.kind     = "simulate";
  answer.headline = simulation_answer(loaded, result);
  answer.rests_on = rests_on(loaded);
  if (comparison && !comparison->moments.empty())
    answer.remark(About::certainty, agreement_sentence(*comparison));
  if (comparison) {
    for (const std::string& failure : comparison->failed)
      answer.remark(About::certainty, "No prediction: " + failure);
  }
  if (std::string sentence = collapse_said(loaded.scenario); !sentence.empty())
    answer.remarks.push_back(std::move(sentence));
  if (std::string blunter = blunter_fresh_sentence(result); !blunter.empty())
    answer.remarks.push_back(std::move(blunter));
  for (const EdgeResult& edge : result.edges) {
    if (!edge.message.empty()) answer.cautions.push_back(edge.message);
  }
  if (!loaded.scenario.model.specimen.in_use) answer.cautions.push_back(usual_caution());
  return answer;
}

}  // namespace arris
