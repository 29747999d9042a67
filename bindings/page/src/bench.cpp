// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <deque>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "page.hpp"
#include "sim/figures/edge_section.hpp"
#include "sim/figures/ways.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/columns.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/simulate/life.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/text.hpp"

/// What the page shows while something is dragged, all of it from one campaign:
///
///     title, edges, readings_file, is_lacking_readings, notes, rests_on, members, limit {name, gf}, law
///     model      the tools, media, steels, backings, compounds, woods in use, resolved: kind → name → fields
///     tables     tester, output, scatter and workshop as resolved
///     chart      reading against passes of all ways, an <svg>; empty where none cuts wood
///     ways       for each edge asked for:
///       edge, tool, route, code, steps (verb and fields), summary (a row per step), message (why it failed, or empty)
///       moments  start, stones, ready, worn: {step, label, apex_radius_um, scratch_um, burr_um, dub_um, chip_um, land_mm, reading_gf}
///       section  the cross-section at the moment asked for, an <svg>
///       ready    {low, middle, high}: reading ready for work, gf; as of the passes, the middle is that of the values as set
///       forecast passes to the limit (low and high over the members, middle of the values as set), horizon, wood, failed (members);
///                null where the edge cuts no wood
///       readings measured after the edge was ready: {passes, gf, moment, excluded}
namespace arris::page {
namespace {

double gf(double newton) { return laws::in_gram_force(newton); }

Json band_json(const Band& band, double unit = 1.0) {
  return {{"low", number(unit * band.low)},
          {"middle", number(unit * band.middle)},
          {"high", number(unit * band.high)}};
}

bool is_read(const Step& step) { return std::holds_alternative<ReadStep>(step); }
bool is_cut(const Step& step) { return std::holds_alternative<CutStep>(step); }

std::size_t first(const EdgePlan& plan, bool (*is)(const Step&)) {
  return static_cast<std::size_t>(std::find_if(plan.steps.begin(), plan.steps.end(), is) -
                                  plan.steps.begin());
}

/// A moment that people look at: after step `step`, or before all of them (−1).
struct Look {
  const char* name;
  int         step;
  std::string label;
};

std::vector<Look> looks(const EdgePlan& plan) {
  const auto cut = static_cast<int>(first(plan, is_cut));
  const auto strop =
      static_cast<int>(first(plan, [](const Step& s) { return std::holds_alternative<StropStep>(s); }));
  std::vector<Look> out{{"start", -1, "as it was"}};
  if (strop < cut) out.push_back({"stones", strop - 1, "off the stones"});
  out.push_back({"ready", cut - 1, "ready for work"});
  if (static_cast<std::size_t>(cut) < plan.steps.size()) {
    const auto& work = std::get<CutStep>(plan.steps[static_cast<std::size_t>(cut)]);
    out.push_back({"worn", cut, fmt::format("after {:g} passes", work.passes)});
  }
  return out;
}

const TrackPoint& point_at(const EdgeResult& edge, int step) {
  return step < 0 ? edge.steps.front().before : edge.steps[static_cast<std::size_t>(step)].after;
}

figures::EdgeOutline outline_of(const TrackPoint& p, std::string label) {
  return {p.apex_radius_um, p.scratch_um, p.burr_um, p.land_mm, std::move(label)};
}

struct Drawn {
  figures::EdgeSection section;
  double               view_um = 0.0;
};

// the moment asked for, and the one before it dashed behind it
Drawn section_of(const Scenario& scenario, const EdgePlan& plan, const EdgeResult& edge,
                 const std::string& moment) {
  const auto& tool   = scenario.model.tools[static_cast<std::size_t>(plan.tool)];
  const auto  all    = looks(plan);
  auto        chosen = std::find_if(all.begin(), all.end(), [&](const Look& l) { return moment == l.name; });
  if (chosen == all.end())
    chosen =
        std::find_if(all.begin(), all.end(), [](const Look& l) { return l.name == std::string("ready"); });
  Drawn out;
  out.section.blade = {tool.primary_bevel_deg, tool.micro_bevel_deg, tool.back_bevel_deg, tool.thickness_mm,
                       tool.honed_sides == 2};
  out.section.now   = outline_of(point_at(edge, chosen->step), chosen->label);
  if (chosen != all.begin()) {
    const Look& before = *(chosen - 1);
    out.section.earlier.push_back(outline_of(point_at(edge, before.step), before.label));
  }
  out.view_um = figures::section_view_um(out.section.blade, out.section.now);
  return out;
}

Json summary_of(const EdgeResult& edge) {
  Json rows = Json::array();
  for (const StepSummary& step : edge.steps) {
    Json row = Json::object();
    for (const auto& column : step_columns().text) row[column.name] = column.value(step);
    for (const auto& column : step_columns().numbers) row[column.name] = number(column.value(step));
    rows.push_back(std::move(row));
  }
  return rows;
}

Json readings_of(const Campaign& campaign, std::size_t edge) {
  const EdgePlan&   plan  = campaign.loaded.scenario.edges[edge];
  const std::size_t ready = first(plan, is_cut);
  Json              out   = Json::array();
  for (const Reading& r : campaign.readings) {
    if (r.edge != static_cast<int>(edge) || std::isnan(r.reading_N)) continue;
    const auto at = static_cast<std::size_t>(r.moment.step);
    // between the last sharpening step and the next
    double passes = 0.0;
    bool   counts = true;
    for (std::size_t i = 0; i < plan.steps.size(); ++i) {
      if (i < at && is_cut(plan.steps[i])) passes += count_of(plan.steps[i]);
      const bool works = is_cut(plan.steps[i]) || is_read(plan.steps[i]);
      if (!works && (i >= ready ? i < at : i > at)) counts = false;
    }
    if (!counts) continue;
    if (is_cut(plan.steps[at]) && !std::isnan(r.moment.count)) passes += r.moment.count;
    out.push_back({{"passes", passes},
                   {"gf", number(gf(r.reading_N))},
                   {"moment", r.moment_name},
                   {"excluded", r.excluded}});
  }
  return out;
}

// the curve of the values as set, and the band of the mean edge over the members
figures::WayCurve curve_of(const EdgeForecast& life, bool with_band) {
  figures::WayCurve curve;
  curve.name = fmt::format("{}, in {}", life.edge, life.wood);
  curve.x    = life.at;
  for (std::size_t k = 0; k < life.at.size(); ++k) {
    curve.y.push_back(gf(life.mean_N[k].middle));
    if (!with_band) continue;
    curve.low.push_back(gf(life.mean_N[k].low));
    curve.high.push_back(gf(life.mean_N[k].high));
  }
  return curve;
}

// the reading at the end, where an edge cuts no wood and so has no forecast
Band reading_over(const Scenario& scenario, const EdgePlan& plan, const Ensemble& ensemble, double share) {
  std::vector<double> values;
  Scenario            one = scenario;
  const Moment        end{static_cast<int>(plan.steps.size()) - 1, not_given};
  for (std::size_t i = 0; i < ensemble.size(); ++i) {
    one.model = member_of(scenario.model, ensemble, i);
    put_member_beside(one.beside, ensemble, i);
    const Prediction seen = predict(one, plan, {end});
    if (seen.status.usable()) values.push_back(seen.points.front().reading_N);
  }
  const Prediction own = predict(scenario, plan, {end});
  return {quantile(values, 0.5 - 0.5 * share), own.status.usable() ? own.points.front().reading_N : not_given,
          quantile(values, 0.5 + 0.5 * share)};
}

Json model_json(const Model<double>& model) {
  Json out = Json::object();
  for_each_table(
      [&](const char* kind, const auto& table) {
        out[kind] = Json::object();
        for (const auto& entry : table) out[kind][entry.name] = fields_json(entry);
      },
      model);
  return out;
}

/// A way as it is shown, but for the cross-section, whose scale depends on the other way.
struct Shown {
  Json                             way;
  std::optional<Drawn>             drawn;  ///< nothing where the history failed
  std::optional<figures::WayCurve> curve;  ///< nothing where it cuts no wood
};

/// What a way is worked out from.
struct Asked {
  const Campaign&  campaign;
  std::size_t      edge;
  const Ensemble&  ensemble;
  ForecastSettings settings;
  std::string      moment;
  bool             with_band;

  [[nodiscard]] const Scenario& scenario() const { return campaign.loaded.scenario; }
  [[nodiscard]] const EdgePlan& plan() const { return scenario().edges[edge]; }
};

/// All that what is shown of a way depends on, so that while one way is dragged the other need not be worked out again.
std::string key_of(const Asked& asked) {
  const Model<double>& model = asked.scenario().model;
  const EdgePlan&      plan  = asked.plan();
  const auto  at = [](const auto& list, int index) { return list[static_cast<std::size_t>(index)].name; };
  std::string key =
      fmt::format("{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n", edge_toml(plan, false), asked.ensemble.rests_on,
                  asked.settings.limit_N, asked.settings.passes, asked.moment, asked.with_band,
                  asked.scenario().numerics.relative_tolerance, asked.scenario().numerics.max_steps,
                  asked.scenario().output.points_per_step, asked.campaign.readings_text);
  std::set<std::string> used{
      "tool." + at(model.tools, plan.tool),
      "steel." + at(model.steels, model.steel_of_tool[static_cast<std::size_t>(plan.tool)])};
  for (const Step& step : plan.steps) {
    if (const auto* hone = std::get_if<HoneStep>(&step))
      used.insert("medium." + at(model.media, hone->medium));
    if (const auto* back = std::get_if<BackStep>(&step))
      used.insert("medium." + at(model.media, back->medium));
    if (const auto* dress = std::get_if<DressStep>(&step))
      used.insert("medium." + at(model.media, dress->medium));
    if (const auto* cut = std::get_if<CutStep>(&step)) used.insert("wood." + at(model.woods, cut->wood));
    if (const auto* strop = std::get_if<StropStep>(&step)) {
      used.insert("backing." + at(model.backings, strop->backing));
      used.insert("compound." + at(model.compounds, strop->compound_index));
    }
  }
  const auto append = [&](const double* numbers, std::size_t count) {
    key.append(reinterpret_cast<const char*>(numbers), count * sizeof *numbers);
  };
  // numbers of tables that stand once, and of those that this edge uses; of each what the members have in its place
  static const std::set<std::string, std::less<>> named{"steel",    "medium", "backing",
                                                        "compound", "wood",   "tool"};
  Model<double>                                   copy = model;
  for_each_number(copy, [&](const std::string& path, const Field& field, const double& number) {
    const std::string table = path.substr(0, path.size() - field.key.size() - 1);
    if (named.count(path.substr(0, path.find('.'))) > 0 && used.count(table) == 0) return;
    key += path;
    append(&number, 1);
    const auto found = std::find(asked.ensemble.paths.begin(), asked.ensemble.paths.end(), path);
    if (found != asked.ensemble.paths.end()) {
      const auto column = found - asked.ensemble.paths.begin();
      append(asked.ensemble.values.col(column).data(), asked.ensemble.size());
    }
  });
  for (const Spread& spread : asked.ensemble.spreads) {
    append(&spread.edge, 1);
    append(&spread.rate, 1);
  }
  append(asked.ensemble.effect_logs.data(), static_cast<std::size_t>(asked.ensemble.effect_logs.size()));
  const auto& tool = model.tools[static_cast<std::size_t>(plan.tool)];
  return key + (tool.honed_sides == 2 ? "both" : "one");
}

Shown worked_out(const Asked& asked) {
  const Scenario&  scenario = asked.scenario();
  const EdgePlan&  plan     = asked.plan();
  const EdgeResult edge     = simulate_edge(scenario, plan);

  Shown out;
  Json& way = out.way;
  way       = {{"edge", plan.name}, {"tool", plan.tool_name}, {"route", plan.route}, {"code", plan.code}};
  way["route_steps"] = plan.route_steps;
  way["message"]     = edge.message;
  way["steps"]       = Json::array();
  for (const Step& step : plan.steps) {
    Json item    = std::visit([](const auto& s) { return fields_json(s); }, step);
    item["verb"] = verb_of(step);
    way["steps"].push_back(std::move(item));
  }
  way["readings"] = readings_of(asked.campaign, asked.edge);
  if (!edge.status.usable()) return out;
  way["summary"] = summary_of(edge);
  way["moments"] = Json::object();
  for (const Look& look : looks(plan)) {
    const TrackPoint& p       = point_at(edge, look.step);
    way["moments"][look.name] = {
        {"step", look.step},          {"label", look.label},  {"apex_radius_um", p.apex_radius_um},
        {"scratch_um", p.scratch_um}, {"burr_um", p.burr_um}, {"dub_um", p.dub_um},
        {"chip_um", p.chip_um},       {"land_mm", p.land_mm}, {"reading_gf", gf(p.reading_N)}};
  }
  out.drawn       = section_of(scenario, plan, edge, asked.moment);
  way["forecast"] = nullptr;
  if (!cuts_wood(plan)) {
    way["ready"] = band_json(reading_over(scenario, plan, asked.ensemble, asked.settings.share), gf(1.0));
    return out;
  }
  // lives by task are not shown, and take as long as all the rest
  Workshop bare = asked.campaign.loaded.workshop;
  bare.limits.clear();
  const EdgeForecast life =
      forecast(scenario, bare, asked.ensemble, {asked.edge}, asked.settings).edges.front();
  way["ready"]    = band_json(life.fresh_N, gf(1.0));
  way["forecast"] = {{"passes", band_json(life.mean_passes)},
                     {"horizon", asked.settings.passes},
                     {"wood", life.wood},
                     {"failed", life.failed}};
  out.curve       = curve_of(life, asked.with_band);
  for (const Json& reading : way["readings"]) {
    if (reading["excluded"].get<std::string>().empty() && reading["passes"] <= asked.settings.passes)
      out.curve->points.emplace_back(reading["passes"].get<double>(), reading["gf"].get<double>());
  }
  return out;
}

/// The same, or what was worked out before of the same.
const Shown& shown(const Asked& asked) {
  struct Kept {
    std::string key;
    Shown       shown;
  };
  static std::deque<Kept>
      before;  // the last first; of the two ways on the bench, with room for one that is gone back to
  constexpr std::size_t most = 4;
  std::string           key  = key_of(asked);
  const auto found = std::find_if(before.begin(), before.end(), [&](const Kept& k) { return k.key == key; });
  if (found != before.end()) return found->shown;
  before.push_front({std::move(key), worked_out(asked)});
  if (before.size() > most) before.pop_back();
  return before.front().shown;
}

/// The versions of the model that all bands are made of.
struct Versions {
  Ensemble    ensemble;
  std::string fit_refused;  ///< why a fit that was asked for is not used
};

/// Draws of the fit where the request wants them and they suit the campaign, else of the priors.
Versions versions_of(const Json& request, const Loaded& loaded, const FittedDraws* draws) {
  const int members = request.value("members", 40);
  Versions  out;
  if (draws != nullptr && request.value("use_fit", false)) {
    try {
      out.ensemble = ensemble_of(*draws, loaded.scenario, members);
      return out;
    } catch (const Error& error) {  // the fit is another campaign's; the priors still hold
      out.fit_refused = error.diagnostics().front().what;
    }
  }
  out.ensemble = prior_ensemble(loaded.scenario, loaded.fit.priors, members, 1);
  return out;
}

/// The limit of the request or of the configuration; how far is looked is each way's own.
ForecastSettings settings_of(const Json& request, const Loaded& loaded) {
  Arguments arguments;
  arguments.is_command_line = false;
  if (const auto limit = request.value("limit", std::string()); !limit.empty())
    arguments.values["limit"] = limit;
  const auto [name, limit_gf] = ask::limit_of(arguments, loaded);
  ForecastSettings out;
  out.limit_name = name;
  out.limit_N    = laws::in_newton(limit_gf);
  out.threads    = 1;
  return out;
}

/// What is the same for all ways: the campaign, the model as resolved, and what the answer rests on.
Json basis_json(const Opened& opened, const Versions& versions, const ForecastSettings& settings) {
  const Loaded&   loaded   = opened.campaign.loaded;
  const Scenario& scenario = loaded.scenario;
  Json            out      = Json::object();
  out["fit_refused"]       = versions.fit_refused;
  out["title"]             = scenario.title;
  out["edges"]             = Json::array();
  for (const EdgePlan& plan : scenario.edges)
    out["edges"].push_back({{"name", plan.name}, {"tool", plan.tool_name}, {"route", plan.route}});
  out["readings_file"]       = loaded.readings_files.empty() ? "" : loaded.readings_files.front();
  out["readings"]            = opened.campaign.readings.size();
  out["is_lacking_readings"] = opened.is_lacking_readings;
  out["notes"]               = Json::array();
  for (const Diagnostic& d : loaded.warnings) out["notes"].push_back(diagnostic_json(d));
  out["rests_on"] = versions.ensemble.rests_on;
  out["members"]  = versions.ensemble.size();
  out["limit"]    = {{"name", settings.limit_name}, {"gf", gf(settings.limit_N)}};
  out["law"]      = std::string(scenario.model.wear.name());
  out["model"]    = model_json(scenario.model);
  out["tables"]   = {{"tester", fields_json(scenario.model.tester)},
                     {"scatter", fields_json(scenario.model.scatter)},
                     {"output", fields_json(scenario.output)},
                     {"workshop", fields_json(loaded.workshop.pace)}};
  out["limits"]   = Json::array();
  for (const Limit& limit : loaded.workshop.limits)
    out["limits"].push_back({{"name", limit.name}, {"reading_gf", limit.reading_gf}});
  return out;
}

/// What the way of this name is worked out from: it is looked as far as its first cut goes, and the way that is edited has a band.
/// Throws Error (Exit::usage, "unknown-edge").
Asked asked_for(const Json& request, const std::string& name, const Campaign& campaign,
                const Ensemble& ensemble, ForecastSettings settings) {
  const auto& edges = campaign.loaded.scenario.edges;
  const auto  found =
      std::find_if(edges.begin(), edges.end(), [&](const EdgePlan& plan) { return plan.name == name; });
  if (found == edges.end()) {
    throw Error(Exit::usage,
                {.code = "unknown-edge", .what = fmt::format("there is no edge \"{}\"", printable(name))});
  }
  if (cuts_wood(*found)) settings.passes = std::max(1.0, count_of(found->steps[first(*found, is_cut)]));
  return {campaign, static_cast<std::size_t>(found - edges.begin()), ensemble,
          settings, request.value("moment", std::string("ready")),   name == request.value("edited", name)};
}

/// The ways with their cross-sections, at one scale for all, so that they can be compared.
Json ways_json(const Json& request, const std::vector<Shown>& ways) {
  double view = 0.0;
  for (const Shown& one : ways) {
    if (one.drawn) view = std::max(view, one.drawn->view_um);
  }
  Json        out  = Json::array();
  std::size_t next = 0;
  for (const Shown& one : ways) {
    Json way = one.way;
    if (one.drawn) {
      figures::EdgeSection section = one.drawn->section;
      section.view_um              = view;
      section.width                = request.value("width", 480.0);
      section.whole                = request.value("whole", true);
      section.name                 = fmt::format("section-{}", ++next);
      way["section"]               = figures::edge_section_svg(section);
    }
    out.push_back(std::move(way));
  }
  return out;
}

/// Reading against passes of the ways that cut wood, an `<svg>`; empty where none does.
std::string chart_of(const Json& request, const std::vector<Shown>& ways, double limit_N) {
  figures::WaysFigure chart;
  for (const Shown& one : ways) {
    if (one.curve) chart.ways.push_back(*one.curve);
  }
  if (chart.ways.empty()) return {};
  chart.title       = "Reading against passes";
  chart.limit       = gf(limit_N);
  chart.description = fmt::format(
      "Curves of {} edges with bands, and the limit of {:.0f} gf. The numbers stand beside the picture.",
      chart.ways.size(), chart.limit);
  chart.x_label    = "passes since it was sharpened";
  chart.y_label    = "reading, gf";
  chart.limit_says = fmt::format("dull at {:.0f} gf", chart.limit);
  chart.band_says  = fmt::format("9 in 10 versions of the model lie here: {}",
                                 request.value("edited", chart.ways.front().name));
  return figures::ways_svg(chart, request.value("chart_width", 640.0), "chart-figure");
}

}  // namespace

Json bench(const Json& request, const FittedDraws* draws) {
  Opened opened = open_campaign(request);
  // a thousand versions in a frame are for the reduced law alone
  opened.campaign.loaded.scenario.numerics.fidelity = Numerics{}.fidelity;
  const Campaign& campaign                          = opened.campaign;
  const Versions  versions                          = versions_of(request, campaign.loaded, draws);
  // numbers and lines lie in the middle of their spans: both are of the fit, or both of the values as set
  if (versions.ensemble.is_fitted())
    opened.campaign.loaded.scenario = as_read(campaign.loaded.scenario, versions.ensemble);
  const ForecastSettings settings = settings_of(request, campaign.loaded);
  std::vector<Shown>     ways;
  for (const Json& name : request.at("ways"))
    ways.push_back(shown(asked_for(request, name.get<std::string>(), campaign, versions.ensemble, settings)));

  Json out     = basis_json(opened, versions, settings);
  out["ways"]  = ways_json(request, ways);
  out["chart"] = chart_of(request, ways, settings.limit_N);
  return out;
}

}  // namespace arris::page
