// SPDX-License-Identifier: MIT
#include "sim/output/specimen_text.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/input/loader.hpp"
#include "sim/misses_said.hpp"
#include "sim/output/terminal.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/wording.hpp"

namespace arris {

std::string wear_said(double um, const WearUnits& units) {
  return digits(um * units.per_um) + " " + units.symbol;
}

std::string way_said(double way, const WearUnits& units) { return digits(way) + " " + units.way; }

namespace {

double way_of(const EdgeResult& specimen) {
  return specimen.track.empty() ? 0.0 : specimen.track.back().passes;
}

std::string limit_said(const Loaded& loaded, const WearUnits& units) {
  return wear_said(loaded.scenario.output.wear_limit_um, units);
}

// the load of a step; empty for a reading
std::string load_of(const Scenario& scenario, const EdgeResult& specimen, int step) {
  const auto plan = std::find_if(scenario.edges.begin(), scenario.edges.end(),
                                 [&](const EdgePlan& p) { return p.name == specimen.name; });
  if (plan == scenario.edges.end()) return {};
  const auto* cut = std::get_if<CutStep>(&plan->steps[static_cast<std::size_t>(step)]);
  return cut == nullptr || std::isnan(cut->load_N) ? std::string{} : digits(cut->load_N);
}

}  // namespace

std::string specimens_answer(const Loaded& loaded, const SimulationResult& result) {
  const WearUnits   units    = wear_units(loaded.scenario.model.specimen);
  const EdgeResult* longest  = nullptr;
  const EdgeResult* shortest = nullptr;
  int               failed = 0, outlast = 0;
  for (const EdgeResult& e : result.edges) {
    if (!e.status.usable()) {
      ++failed;
    } else if (e.life.asked && !e.life.reached) {
      ++outlast;
    } else if (e.life.asked) {
      if (longest == nullptr || e.life.passes > longest->life.passes) longest = &e;
      if (shortest == nullptr || e.life.passes < shortest->life.passes) shortest = &e;
    }
  }
  std::string text = counted(std::ssize(result.edges), "specimen") + " simulated";
  if (failed > 0) text += fmt::format("; {} failed, see below", failed);
  if (longest != nullptr && longest == shortest)
    text += fmt::format(". {} reaches a {} of {} after {}", longest->name, units.quantity,
                        limit_said(loaded, units), way_said(longest->life.passes, units));
  else if (longest != nullptr)
    text += fmt::format(". They reach a {} of {} after {} ({}) to {} ({})", units.quantity,
                        limit_said(loaded, units), digits(shortest->life.passes), shortest->name,
                        way_said(longest->life.passes, units), longest->name);
  if (outlast > 0)
    text += fmt::format("; {} {} below {} at the end", outlast, outlast == 1 ? "stays" : "stay",
                        limit_said(loaded, units));
  return with_misses(text + ".", loaded.scenario.beside.misses);
}

std::string specimens_overview(const Loaded& loaded, const SimulationResult& result) {
  const WearUnits          units = wear_units(loaded.scenario.model.specimen);
  const bool               lives = !std::isnan(loaded.scenario.output.wear_limit_um);
  std::vector<std::string> head{"specimen", "tool", "route", units.way,
                                fmt::format("{} {}", units.quantity, units.symbol)};
  std::vector<bool>        right_aligned{false, false, false, true, true};
  if (lives) {
    head.push_back(fmt::format("{} to {}", units.way, limit_said(loaded, units)));
    right_aligned.push_back(true);
  }
  TextTable table(std::move(head), std::move(right_aligned));
  for (const EdgeResult& e : result.edges) {
    const bool               usable = e.status.usable() && !e.track.empty();
    std::vector<std::string> cells{e.name, e.tool, e.route, usable ? digits(way_of(e)) : "failed",
                                   usable ? digits(e.track.back().reading_N * units.per_um) : ""};
    if (lives)
      cells.push_back(!usable          ? ""
                      : e.life.reached ? digits(e.life.passes)
                                       : "more than " + digits(way_of(e)));
    table.add(std::move(cells));
  }
  return table.text();
}

std::string specimen_text(const Loaded& loaded, const EdgeResult& specimen) {
  const WearUnits units = wear_units(loaded.scenario.model.specimen);
  std::string     out   = wrapped(fmt::format("Specimen {}: {}{}", specimen.name, specimen.tool,
                                        specimen.route.empty() ? "" : ", route " + specimen.route));
  TextTable       table({"", "step", "load N", units.way, fmt::format("{} {}", units.quantity, units.symbol)},
                        {true, false, true, true, true});
  for (const StepSummary& s : specimen.steps)
    table.add({std::to_string(s.index + 1), s.verb == "read" ? "read: " + s.subject : "wear on " + s.subject,
               load_of(loaded.scenario, specimen, s.index), digits(s.after.passes),
               digits(s.after.reading_N * units.per_um)});
  out += table.text(2);
  if (specimen.life.asked && specimen.status.usable())
    out += wrapped(specimen.life.reached ? fmt::format("It reaches {} after {}.", limit_said(loaded, units),
                                                       way_said(specimen.life.passes, units))
                                         : fmt::format("It stays below {} for {}.", limit_said(loaded, units),
                                                       way_said(way_of(specimen), units)),
                   text_width(), 2);
  if (!specimen.message.empty()) out += wrapped("Stopped: " + specimen.message, text_width(), 2);
  return out;
}

std::string wear_compared(const Comparison& c, const std::string& agreement) {
  if (c.moments.empty()) return {};
  const WearUnits& units = *c.wear;
  TextTable        table({"specimen", "when", "readings", fmt::format("measured {}", units.symbol),
                          fmt::format("predicted {}", units.symbol), "measured/predicted", "in s.d."},
                         {false, false, true, true, true, true, true});
  for (const ComparedMoment& m : c.moments)
    table.add({m.edge, m.moment, std::to_string(m.count), digits(m.measured_N * units.per_um),
               digits(m.predicted_N * units.per_um), decimals(m.ratio, 2), decimals(m.in_sd, 1)});
  return table.text(2) + "\n" + wrapped(agreement, text_width(), 2);
}

}  // namespace arris
