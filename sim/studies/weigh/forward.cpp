// SPDX-License-Identifier: MIT
#include "sim/studies/weigh/forward.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <optional>
#include <set>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/edge_folds.hpp"
#include "sim/fit/law_draws.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/way.hpp"
#include "sim/statistics/quantiles.hpp"
#include "sim/studies/forecast/in_hand.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

bool is_sharpening(const Step& step) {
  return std::holds_alternative<HoneStep>(step) || std::holds_alternative<BackStep>(step) ||
         std::holds_alternative<StropStep>(step);
}

// the step that sharpened an edge last before a moment; −1 where none did
int sharpened_by(const EdgePlan& plan, const Moment& moment) {
  int out = -1;
  for (int i = 0; i <= moment.step && i < static_cast<int>(std::ssize(plan.steps)); ++i) {
    if (is_sharpening(plan.steps[static_cast<std::size_t>(i)])) out = i;
  }
  return out;
}

bool is_tester_reading(const Reading& r) { return r.excluded.empty() && !std::isnan(r.reading_N); }

int measures_of(const Reading& r) {
  int out = 0;
  for (const double value : {r.apex_radius_um, r.recession_um, r.mass_loss_mg})
    out += std::isnan(value) ? 0 : 1;
  return r.excluded.empty() ? out : 0;
}

/// Where the readings of an edge are parted: after so many passes since that sharpening.
struct Parting {
  int    sharpening = -1;
  double passes     = 0.0;
};

/// Passes after which an edge was read, by the sharpening before.
using PassesRead = std::map<int, std::set<double>>;

PassesRead passes_read(const EdgePlan& plan, int edge, const std::vector<Reading>& readings) {
  PassesRead out;
  for (const Reading& r : readings) {
    if (r.edge == edge && is_tester_reading(r))
      out[sharpened_by(plan, r.moment)].insert(passes_since_sharpened(plan, r.moment));
  }
  return out;
}

// after the first sharpening with more moments than are kept
std::optional<Parting> parting_of(const PassesRead& read, int kept) {
  for (const auto& [sharpening, passes] : read) {
    if (static_cast<int>(passes.size()) > kept)
      return Parting{sharpening, *std::next(passes.begin(), kept - 1)};
  }
  return std::nullopt;
}

/// What becomes of a reading of an edge that is parted.
enum class Side { kept, held, later };

Side side_of(const EdgePlan& plan, const Parting& parting, const Reading& r) {
  const int sharpening = sharpened_by(plan, r.moment);
  if (sharpening != parting.sharpening) return sharpening < parting.sharpening ? Side::kept : Side::later;
  return passes_since_sharpened(plan, r.moment) > parting.passes ? Side::held : Side::kept;
}

/// The campaign as it is parted.
struct Parted {
  const Scenario&             scenario;
  const std::vector<Reading>& readings;
  std::map<int, Parting>      partings;  ///< by edge

  [[nodiscard]] const EdgePlan& plan(int edge) const {
    return scenario.edges[static_cast<std::size_t>(edge)];
  }
  [[nodiscard]] Side side(const Reading& r) const {
    const auto at = partings.find(r.edge);
    return at == partings.end() ? Side::kept : side_of(plan(r.edge), at->second, r);
  }
  /// What a fit sees where these edges are forecast.
  [[nodiscard]] std::vector<Reading> without_later(const std::vector<int>& edges) const {
    std::vector<Reading> out;
    for (const Reading& r : readings) {
      const bool parted = std::find(edges.begin(), edges.end(), r.edge) != edges.end();
      if (!parted || side(r) == Side::kept) out.push_back(r);
    }
    return out;
  }
};

Parted parted(const Scenario& scenario, const std::vector<Reading>& readings, int kept) {
  Parted      out{scenario, readings, {}};
  std::size_t most = 0;
  for (std::size_t e = 0; e < scenario.edges.size(); ++e) {
    const auto read = passes_read(scenario.edges[e], static_cast<int>(e), readings);
    for (const auto& [sharpening, passes] : read) most = std::max(most, passes.size());
    if (const auto parting = parting_of(read, kept)) out.partings.emplace(static_cast<int>(e), *parting);
  }
  if (!out.partings.empty()) return out;
  if (most < 2)
    throw Error(Exit::usage,
                {.code = "nothing-held-back",
                 .what = "no edge was read at two moments after one sharpening, so nothing can be held back",
                 .next = "Read edges again as they wear."});
  throw Error(
      Exit::usage,
      {.code = "nothing-held-back",
       .what = fmt::format("no edge was read at more than {} after one sharpening, so nothing is held back",
                           counted(kept, "moment")),
       .allowed = most > 2 ? fmt::format("1 … {}", most - 1) : std::string("1")});
}

ForwardUnit unit_of(const Parted& campaign, int edge) {
  const EdgePlan&  plan    = campaign.plan(edge);
  const Parting&   parting = campaign.partings.at(edge);
  ForwardUnit      out{.edge = edge, .name = plan.name, .now = parting.passes};
  std::set<double> ahead;
  for (const Reading& r : campaign.readings) {
    if (r.edge != edge || !is_tester_reading(r) || sharpened_by(plan, r.moment) != parting.sharpening)
      continue;
    const double passes = passes_since_sharpened(plan, r.moment);
    if (campaign.side(r) == Side::kept) {
      out.kept.push_back({passes, r.reading_N});
    } else {
      out.held.push_back({.moment        = r.moment_name,
                          .operator_name = r.operator_name,
                          .passes        = passes,
                          .reading_N     = r.reading_N});
      ahead.insert(passes);
    }
  }
  for (HeldReading& h : out.held)
    h.moments_ahead = 1 + static_cast<int>(std::distance(ahead.begin(), ahead.find(h.passes)));
  std::stable_sort(out.held.begin(), out.held.end(),
                   [](const HeldReading& a, const HeldReading& b) { return a.passes < b.passes; });
  return out;
}

// the wear laws that a forecast rests on, fitted to these readings as `fit` does
LawFits fits_to(const Scenario& scenario, const std::vector<Reading>& readings,
                const ForwardSettings& settings) {
  if (!settings.laws.empty())
    return fit_laws(scenario, readings, settings.fit, settings.laws, settings.threads);
  LawFit law;
  law.name              = std::string(scenario.model.wear.name());
  law.model             = std::make_shared<const CampaignModel>(scenario, readings,
                                                    parameters_of_fit(scenario, settings.fit), settings.fit);
  const FitResult found = fit_untested(*law.model, settings.threads);
  law.usable            = found.converged;
  law.failure           = found.best.failure;
  law.weight            = 1.0;
  if (law.usable) set_optimum(law, found);
  LawFits out;
  out.edges = law.model->edges_with_readings();
  out.laws.push_back(std::move(law));
  return out;
}

// versions of the model by the weights of the laws; none, and why, where no law can be used
Ensemble ensemble_from(LawFits fits, const Scenario& scenario, const ForwardSettings& settings,
                       std::string& failure) {
  for (const LawFit& law : fits.laws) {
    if (!law.usable && failure.empty()) failure = fmt::format("{}: {}", law.name, law.failure);
  }
  std::erase_if(fits.laws, [](const LawFit& law) { return !law.usable || !(law.weight > 0.0); });
  if (fits.laws.empty()) return {};
  failure.clear();
  const CampaignModel& model = *fits.laws.front().model;
  FittedDraws          draws;
  draws.laws  = draws_of_laws(fits, {.draws = settings.members, .quick = false, .threads = settings.threads});
  draws.edges = model.edges_with_readings();
  draws.readings = static_cast<int>(model.size());
  return ensemble_of(draws, scenario, settings.members);
}

// the farthest passes after which other edges were read
double range_without(const Parted& campaign, const std::vector<Reading>& seen, int edge) {
  double out = 0.0;
  for (const Reading& r : seen) {
    if (r.edge != edge && is_tester_reading(r))
      out = std::max(out, passes_since_sharpened(campaign.plan(r.edge), r.moment));
  }
  return out;
}

/// What was held back of an edge: rows of the readings, and the moments that they are of.
struct HeldRows {
  std::vector<const Reading*> rows;     ///< by passes, as ForwardUnit::held
  std::vector<Moment>         moments;  ///< ascending
};

HeldRows held_rows(const Parted& campaign, const ForwardUnit& unit) {
  const EdgePlan& plan = campaign.plan(unit.edge);
  HeldRows        out;
  const auto      passes = [&](const Reading* r) { return passes_since_sharpened(plan, r->moment); };
  for (const Reading& r : campaign.readings) {
    if (r.edge == unit.edge && is_tester_reading(r) && campaign.side(r) == Side::held) out.rows.push_back(&r);
  }
  std::stable_sort(out.rows.begin(), out.rows.end(),
                   [&](const Reading* a, const Reading* b) { return passes(a) < passes(b); });
  double last = unit.now;
  for (const Reading* r : out.rows) {
    if (passes(r) > last) out.moments.push_back(r->moment);
    last = passes(r);
  }
  return out;
}

// sets what is foretold of the readings that were held back of an edge
void foretell_held(const Parted& campaign, const std::vector<Reading>& seen, const Ensemble& ensemble,
                   const ForwardSettings& settings, ForwardUnit& unit) {
  const HeldRows held = held_rows(campaign, unit);
  HandSettings   hand;
  hand.fit                 = settings.fit;
  hand.life.threads        = settings.threads;
  const HandReadings ahead = readings_ahead(at_best(campaign.scenario, ensemble), ensemble,
                                            static_cast<std::size_t>(unit.edge), seen, held.moments, hand);
  const double       range = range_without(campaign, seen, unit.edge);
  for (std::size_t i = 0; i < unit.held.size(); ++i) {
    HeldReading& h  = unit.held[i];
    const double cv = held.rows[i]->reading_cv, known = std::isnan(cv) ? 0.0 : std::sqrt(std::log1p(cv * cv));
    const auto   moment = static_cast<Eigen::Index>(h.moments_ahead - 1);
    h.most              = ahead.band(moment, forward_most, known);
    h.half              = ahead.band(moment, forward_half, known);
    h.log_score         = ahead.log_density(moment, std::log(h.reading_N), known);
    h.beyond            = h.passes > range;
  }
}

// why some work of a fit could not be done, which the answer tells beside the edges that it concerns; empty where it was. What is wrong with
// the question itself is thrown on
std::string failure_of(const std::function<void()>& work) {
  try {
    work();
    return {};
  } catch (const Error& error) {
    if (error.exit() == Exit::usage) throw;
    return error.diagnostics().front().what;
  }
}

// one fit, and the forecasts of the edges that are parted in it
void forecast_group(const Parted& campaign, const std::vector<int>& edges, const ForwardSettings& settings,
                    const std::vector<ForwardUnit*>& units) {
  const auto        seen = campaign.without_later(edges);
  Ensemble          ensemble;
  std::string       failure;
  const std::string thrown = failure_of([&] {
    ensemble =
        ensemble_from(fits_to(campaign.scenario, seen, settings), campaign.scenario, settings, failure);
  });
  if (!thrown.empty()) failure = thrown;
  for (ForwardUnit* unit : units) {
    unit->failure = failure;
    if (failure.empty())
      unit->failure = failure_of([&] { foretell_held(campaign, seen, ensemble, settings, *unit); });
  }
}

}  // namespace

ForwardResult weigh_forward(const Scenario& scenario, const std::vector<Reading>& readings,
                            const ForwardSettings&                               settings,
                            const std::function<void(std::size_t, std::size_t)>& progress) {
  const Parted     campaign = parted(scenario, readings, settings.moments);
  ForwardResult    out{.settings = settings};
  std::vector<int> edges;
  for (const auto& [edge, parting] : campaign.partings) {
    edges.push_back(edge);
    out.units.push_back(unit_of(campaign, edge));
  }
  for (const Reading& r : readings) {
    const Side side = campaign.side(r);
    if (side == Side::later && is_tester_reading(r)) ++out.later;
    if (side == Side::held) out.lengths += measures_of(r);
  }
  const auto groups =
      edge_folds(scenario, edges, std::min(edges.size(), static_cast<std::size_t>(most_folds)));
  out.groups = groups.size();
  std::mutex  speaking;
  std::size_t done = 0;
  for_each_index(groups.size(), settings.threads, [&](std::size_t g) {
    std::vector<ForwardUnit*> units;
    for (ForwardUnit& unit : out.units) {
      if (std::find(groups[g].begin(), groups[g].end(), unit.edge) != groups[g].end()) units.push_back(&unit);
    }
    forecast_group(campaign, groups[g], settings, units);
    if (!progress) return;
    const std::scoped_lock lock(speaking);
    progress(++done, groups.size());
  });
  return out;
}

namespace {

/// Which readings a score is of.
using Counts = std::function<bool(const HeldReading&)>;

// of those that count; no readings where there are none
ForwardScore score_of(const ForwardResult& result, std::string says, const Counts& counts) {
  ForwardScore         out;
  std::vector<Cluster> most, half;
  std::vector<double>  widths;
  double               logs = 0.0;
  out.says                  = std::move(says);
  for (const ForwardUnit& unit : result.units) {
    if (!unit.failure.empty()) continue;
    Cluster of_most, of_half;
    for (const HeldReading& h : unit.held) {
      if (!counts(h)) continue;
      of_most.members = of_half.members += 1.0;
      of_most.hits += h.in_most() ? 1.0 : 0.0;
      of_half.hits += h.in_half() ? 1.0 : 0.0;
      out.above += h.reading_N > h.most.high ? 1 : 0;
      out.below += h.reading_N < h.most.low ? 1 : 0;
      widths.push_back(h.most.high / h.most.low);
      logs += h.log_score;
    }
    out.edges += of_most.members > 0.0 ? 1 : 0;
    out.in_most += static_cast<int>(of_most.hits);
    out.in_half += static_cast<int>(of_half.hits);
    most.push_back(of_most);
    half.push_back(of_half);
  }
  out.readings  = static_cast<int>(widths.size());
  out.most      = clustered_share(most, 0.9);
  out.half      = clustered_share(half, 0.9);
  out.width     = quantile(widths, 0.5);
  out.log_score = out.readings > 0 ? logs / out.readings : not_given;
  return out;
}

}  // namespace

std::vector<ForwardScore> scores_of(const ForwardResult& result) {
  constexpr int             most_ahead = 6;  // as many rows as one reads
  std::vector<ForwardScore> out{score_of(result, "all", [](const HeldReading&) { return true; })};
  const auto                add = [&](ForwardScore score) {
    if (score.readings > 0) out.push_back(std::move(score));
  };
  const ForwardScore beyond =
      score_of(result, "beyond the passes of other edges", [](const HeldReading& h) { return h.beyond; });
  if (beyond.readings > 0 && beyond.readings < out.front().readings)
    add(score_of(result, "within the passes of other edges", [](const HeldReading& h) { return !h.beyond; }));
  add(beyond);
  ForwardScore next =
      score_of(result, "the next moment", [](const HeldReading& h) { return h.moments_ahead == 1; });
  if (next.readings == out.front().readings) return out;  // that is all of them
  add(std::move(next));
  for (int ahead = 2; ahead < most_ahead; ++ahead)
    add(score_of(result, fmt::format("{} moments ahead", ahead),
                 [ahead](const HeldReading& h) { return h.moments_ahead == ahead; }));
  add(score_of(result, fmt::format("{} moments ahead or more", most_ahead),
               [](const HeldReading& h) { return h.moments_ahead >= most_ahead; }));
  return out;
}

}  // namespace arris
