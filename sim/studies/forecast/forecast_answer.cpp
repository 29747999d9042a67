// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/laws/gram_force.hpp"
#include "sim/numbers.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

double gf(double newton) { return laws::in_gram_force(newton); }

double finite(double passes) { return std::isinf(passes) ? not_given : passes; }

double hours_at_work(double passes, const Workshop& workshop) {
  return passes / workshop.pace.passes_per_minute / 60.0;
}

// passes as one would say them, up to as far as was looked
std::string said_passes(double passes, const Forecast& forecast) {
  return passes_text(rounded_passes(passes), forecast.settings.passes);
}

std::string in_ten(const Forecast& forecast) {
  return fmt::format("{:.0f} in 10", 10.0 * forecast.settings.share);
}

// ---- how far edges were read ----

// Passes to which edges were read, by wood; nothing was read beyond them, and in other woods not at all. Empty where no readings were taken.
using ReadTo = std::map<std::string, double>;

ReadTo read_to(const std::vector<MeasuredLives>& measured) {
  ReadTo out;
  for (const MeasuredLives& m : measured) out[m.wood] = m.read_to;
  return out;
}

bool is_beyond(double passes, const EdgeForecast& f, const ReadTo& read) {
  if (read.empty()) return false;
  const auto at = read.find(f.wood);
  return at == read.end() || rounded_passes(passes) > at->second;
}

// with a star where no edge was read so long
std::string marked_passes(double passes, const EdgeForecast& f, const Forecast& forecast,
                          const ReadTo& read) {
  return said_passes(passes, forecast) + (is_beyond(passes, f, read) ? "*" : "");
}

// "no edge was read after more than 200 passes in sugar maple, and none in white oak"
std::string read_to_clause(const std::vector<EdgeForecast>& edges, const ReadTo& read) {
  std::vector<std::string> said;
  std::set<std::string>    woods;
  for (const EdgeForecast& f : edges) {
    if (!woods.insert(f.wood).second) continue;
    const auto at = read.find(f.wood);
    said.push_back(at == read.end() ? "at all in " + f.wood
                                    : fmt::format("after more than {:.0f} passes in {}", at->second, f.wood));
  }
  return "no edge was read " + or_list(said);
}

std::string beyond_sentence(const Forecast& forecast, const ReadTo& read) {
  const EdgeForecast& first = forecast.edges.front();
  if (!is_beyond(first.mean_passes.middle, first, read)) return {};
  std::string clause = read_to_clause({first}, read);
  clause.front()     = 'N';
  return " " + clause + ": what is said beyond that rests on the wear law, not on readings.";
}

bool any_beyond(const Forecast& forecast, const ReadTo& read) {
  return std::any_of(forecast.edges.begin(), forecast.edges.end(), [&](const EdgeForecast& f) {
    return is_beyond(f.mean_passes.middle, f, read) ||
           std::any_of(f.task_passes.begin(), f.task_passes.end(),
                       [&](double passes) { return is_beyond(passes, f, read); });
  });
}

std::string star_remark(const Forecast& forecast, const ReadTo& read) {
  return fmt::format("* {}: a life so marked rests on the wear law, not on readings.",
                     read_to_clause(forecast.edges, read));
}

// ---- the headline ----

// hours, or minutes where it is less than one
std::string time_at_work(double hours) {
  if (hours < 1.0) return fmt::format("{:.2g} min", 60.0 * hours);
  return hours < 10.0 ? fmt::format("{:.2g} h", hours) : fmt::format("{:.0f} h", hours);
}

// how long edges like the first last, to the end of the sentence on its life; nothing more where there is one member only
std::string next_edges_clause(const Forecast& forecast) {
  const EdgeForecast&     first = forecast.edges.front();
  const ForecastSettings& s     = forecast.settings;
  const Band&             n     = first.next_passes;
  const auto              upper = fmt::format("{:.0f} in 100", 100.0 * (0.5 + 0.5 * s.share));
  if (forecast.members == 1) return ".";
  if (n.low <= 0.0) {
    const auto some = fmt::format("; {:.0f} of 100 such edges never read less, and ", 100.0 * first.exceeded);
    return some + (std::isinf(n.high)
                       ? fmt::format("{:.0f} or more of 100 last longer than {:.0f} passes.",
                                     100.0 * (0.5 - 0.5 * s.share), s.passes)
                       : fmt::format("{} last up to {:.0f} passes.", upper, rounded_passes(n.high)));
  }
  if (std::isinf(n.low)) return fmt::format("; {} such edges last more than {:.0f} passes.", upper, s.passes);
  if (std::isinf(n.high))
    return fmt::format("; {} such edges last longer than {:.0f} passes.", upper, rounded_passes(n.low));
  return fmt::format("; {} such edges last between {:.0f} and {:.0f}.", in_ten(forecast),
                     rounded_passes(n.low), rounded_passes(n.high));
}

std::string first_edge_sentence(const Forecast& forecast, const Workshop& workshop) {
  const EdgeForecast& first    = forecast.edges.front();
  const double        limit_gf = gf(forecast.settings.limit_N);
  const double        life     = rounded_passes(first.mean_passes.middle);
  const std::string   who      = fmt::format("edge {} ({}{}{}) in {}", first.edge, first.tool,
                                      first.route.empty() ? "" : ", ", first.route, first.wood);
  if (life == 0.0)
    return fmt::format(
        "No pass is within the limit of {:.0f} gf for {}: it reads about {:.0f} gf fresh and {:.0f} gf at its best. Sharpen it finer, or ask for a higher limit.",
        limit_gf, who, gf(first.fresh_N.middle), gf(first.settled_N.middle));
  if (std::isinf(life))
    return fmt::format("{} is still below {:.0f} gf after {:.0f} passes: it lasts longer than was looked.",
                       "E" + who.substr(1), limit_gf, forecast.settings.passes);
  const std::string above =
      first.fresh_N.middle > forecast.settings.limit_N
          ? fmt::format(" It begins above that, at about {:.0f} gf, and comes below it at work.",
                        gf(first.fresh_N.middle))
          : "";
  // no advice to go on so long: half of such edges are too dull by then, and upkeep looks for what is safe
  return fmt::format("E{} lasts about {:.0f} passes ({:.0f} m, {} at work) until it reads {:.0f} gf",
                     who.substr(1), life, life * first.pass_m, time_at_work(hours_at_work(life, workshop)),
                     limit_gf) +
         next_edges_clause(forecast) + above;
}

// what edges of a forecast have in common and no other has: a tool, a wood, or a route; empty where there is no such thing
std::string in_common(const std::vector<const EdgeForecast*>& these, const Forecast& forecast) {
  const auto by = [&](const std::string EdgeForecast::*what) {
    const std::string& name  = these.front()->*what;
    const auto         has   = [&](const EdgeForecast& f) { return f.*what == name; };
    const auto         count = std::count_if(forecast.edges.begin(), forecast.edges.end(), has);
    const bool         theirs =
        std::all_of(these.begin(), these.end(), [&](const EdgeForecast* f) { return has(*f); });
    return !name.empty() && theirs && count == std::ssize(these);
  };
  if (by(&EdgeForecast::tool)) return "of " + these.front()->tool;
  if (by(&EdgeForecast::wood)) return "in " + these.front()->wood;
  return by(&EdgeForecast::route) ? "of route " + these.front()->route : std::string();
}

// the sentence above is about the first edge; with others beside it the question is which lasts
std::string longest_and_least_sentence(const Forecast& forecast) {
  const auto [least, most] = std::minmax_element(forecast.edges.begin(), forecast.edges.end(),
                                                 [](const EdgeForecast& a, const EdgeForecast& b) {
                                                   return a.mean_passes.middle < b.mean_passes.middle;
                                                 });
  const auto said = [&](const EdgeForecast& f) { return said_passes(f.mean_passes.middle, forecast); };
  if (said(*least) == said(*most)) return {};
  const auto alike = [&](const EdgeForecast& one) {
    std::vector<const EdgeForecast*> these;
    for (const EdgeForecast& f : forecast.edges) {
      if (said(f) == said(one)) these.push_back(&f);
    }
    return these;
  };
  constexpr std::size_t named = 4;
  const auto            who   = [&](const EdgeForecast& one) {
    const auto               these = alike(one);
    std::vector<std::string> names;
    for (const EdgeForecast* f : these) names.push_back(f->edge);
    if (names.size() <= named) return and_list(names);
    const std::string common = in_common(these, forecast);
    return common.empty() ? counted(std::ssize(names), "edge")
                                       : fmt::format("the {} {}", counted(std::ssize(names), "edge"), common);
  };
  const bool one_wood = std::all_of(forecast.edges.begin(), forecast.edges.end(), [&](const EdgeForecast& f) {
    return f.wood == forecast.edges.front().wood;
  });
  return fmt::format(" Of the {} edges{} the model has {} last longest ({} passes) and {} least ({}).",
                     forecast.edges.size(), one_wood ? "" : ", each in its own wood,", who(*most),
                     said(*most), who(*least), said(*least));
}

// ---- tables ----

using EdgeColumns = ItemColumns<EdgeForecast>;

// what the table shows to people
void add_lives_to_read(const Forecast& forecast, const Workshop& workshop, const ReadTo& read,
                       EdgeColumns& edges) {
  edges.text("edge", "edge", "name of the edge", &EdgeForecast::edge);
  edges.text("route", "route", "route it follows", &EdgeForecast::route);
  edges.text("wood", "wood", "wood it cuts", &EdgeForecast::wood);
  edges.number("fresh_gf", "gf", "fresh gf", "reading at the first pass",
               [](const EdgeForecast& f) { return gf(f.fresh_N.middle); });
  edges.number("settled_gf", "gf", "settled gf", "lowest reading, after the first passes",
               [](const EdgeForecast& f) { return gf(f.settled_N.middle); });
  edges
      .number("settled_after_passes", "1", "after passes", "passes at which it is lowest",
              [](const EdgeForecast& f) { return f.settled_after.middle; })
      .places = 0;
  edges.text("life", "mean edge", "passes of the mean edge",
             [&](const EdgeForecast& f) { return marked_passes(f.mean_passes.middle, f, forecast, read); });
  edges.text("next_edges", fmt::format("next edges, {}", in_ten(forecast)),
             "span of passes of the next edges", [&](const EdgeForecast& f) {
               if (forecast.members == 1) return std::string{};
               return said_passes(f.next_passes.low, forecast) + " … " +
                      said_passes(f.next_passes.high, forecast);
             });
  edges.number(
      "metres", "m", "metres", "path of the mean edge until then",
      [](const EdgeForecast& f) { return finite(rounded_passes(f.mean_passes.middle) * f.pass_m); }, 2);
  edges.number(
      "hours", "h", "hours", "hours at work of the mean edge until then",
      [&](const EdgeForecast& f) {
        return finite(hours_at_work(rounded_passes(f.mean_passes.middle), workshop));
      },
      2);
}

// lives as they were worked out, for files
void add_lives_in_full(EdgeColumns& edges) {
  edges.number("passes", "1", "", "passes of the mean edge; missing when it outlasts those simulated",
               [](const EdgeForecast& f) { return finite(f.mean_passes.middle); });
  edges.number("passes_low", "1", "", "lower end of the band of the mean edge",
               [](const EdgeForecast& f) { return finite(f.mean_passes.low); });
  edges.number("passes_high", "1", "", "upper end of the band of the mean edge",
               [](const EdgeForecast& f) { return finite(f.mean_passes.high); });
  edges.number("next_passes", "1", "", "passes of the next edge",
               [](const EdgeForecast& f) { return finite(f.next_passes.middle); });
  edges.number("next_passes_low", "1", "", "lower end of the band of next edges",
               [](const EdgeForecast& f) { return finite(f.next_passes.low); });
  edges.number("next_passes_high", "1", "", "upper end of the band of next edges",
               [](const EdgeForecast& f) { return finite(f.next_passes.high); });
}

AnswerTable lives_table(const Forecast& forecast, const Workshop& workshop, const ReadTo& read) {
  AnswerTable table{.name = "lives",
                    .says = fmt::format("Passes until {:.0f} gf ({})", gf(forecast.settings.limit_N),
                                        forecast.settings.limit_name),
                    .axis = "edge"};
  EdgeColumns edges(table, forecast.edges);
  add_lives_to_read(forecast, workshop, read, edges);
  add_lives_in_full(edges);
  edges.number(
      "above_at_once_pct", "%", "too dull at once %", "next edges that never come below the limit",
      [](const EdgeForecast& f) { return 100.0 * f.exceeded; }, 2);
  return table;
}

AnswerTable tasks_table(const Forecast& forecast, const Workshop& workshop, const ReadTo& read) {
  AnswerTable table{.name = "tasks", .says = "Passes of the mean edge by task", .axis = "edge"};
  EdgeColumns edges(table, forecast.edges);
  edges.text("edge", "edge", "name of the edge", &EdgeForecast::edge);
  for (std::size_t k = 0; k < workshop.limits.size(); ++k) {
    const Limit& limit = workshop.limits[k];
    edges.text(limit.name, fmt::format("{} {:.0f} gf", limit.name, limit.reading_gf),
               "passes until this limit",
               [&](const EdgeForecast& f) { return marked_passes(f.task_passes[k], f, forecast, read); });
  }
  return table;
}

AnswerTable curves_table(const Forecast& forecast) {
  struct Point {
    std::string edge;
    double      passes;
    Band        mean_N, next_N;
  };
  std::vector<Point> all;
  for (const EdgeForecast& f : forecast.edges) {
    for (std::size_t k = 0; k < f.at.size(); ++k) all.push_back({f.edge, f.at[k], f.mean_N[k], f.next_N[k]});
  }
  AnswerTable table{
      .name = "curves", .says = "Reading against passes", .axis = "point", .on_terminal = false};
  ItemColumns<Point> points(table, all);
  points.text("edge", "", "name of the edge", &Point::edge);
  points.number("passes", "1", "", "passes since the edge was sharpened", &Point::passes);
  points.number("reading_gf", "gf", "", "reading of the mean edge",
                [](const Point& p) { return gf(p.mean_N.middle); });
  points.number("reading_low_gf", "gf", "", "lower end of its band",
                [](const Point& p) { return gf(p.mean_N.low); });
  points.number("reading_high_gf", "gf", "", "upper end of its band",
                [](const Point& p) { return gf(p.mean_N.high); });
  points.number("next_reading_gf", "gf", "", "reading of the next edge",
                [](const Point& p) { return gf(p.next_N.middle); });
  points.number("next_reading_low_gf", "gf", "", "lower end of the band of next edges",
                [](const Point& p) { return gf(p.next_N.low); });
  points.number("next_reading_high_gf", "gf", "", "upper end of the band of next edges",
                [](const Point& p) { return gf(p.next_N.high); });
  return table;
}

std::vector<LawsOfEdge> laws_of_edges(const Forecast& forecast) {
  std::vector<LawsOfEdge> all;
  for (const EdgeForecast& f : forecast.edges) all.push_back({f.edge, f.at, f.laws});
  return all;
}

// ---- lives that were measured, by wood, beside those forecast for the same edges ----

// of the mean edges of those that were measured
std::vector<double> forecasts_for(const MeasuredLives& m, const Forecast& forecast) {
  std::vector<double> passes;
  for (const EdgeForecast& f : forecast.edges) {
    if (std::find(m.edges.begin(), m.edges.end(), f.edge) != m.edges.end())
      passes.push_back(f.mean_passes.middle);
  }
  return passes;
}

WeibullFit::Quantile weibull_median(const MeasuredLives& m) {
  return m.weibull.usable ? m.weibull.quantile(0.5) : WeibullFit::Quantile{not_given, not_given, not_given};
}

AnswerTable measured_table(const std::vector<MeasuredLives>& measured, const Forecast& forecast) {
  AnswerTable                       table{.name = "measured_lives",
                                          .says = fmt::format("Lives that were measured, to {:.0f} gf, beside the forecast",
                                                              gf(forecast.settings.limit_N)),
                                          .axis = "wood"};
  std::vector<const MeasuredLives*> lives;
  for (const MeasuredLives& m : measured) lives.push_back(&m);
  ItemColumns<MeasuredLives> woods(table, measured);
  woods.text("wood", "wood", "wood they cut", &MeasuredLives::wood);
  add_life_columns(table, lives);
  woods.text("weibull_median", "half last, Weibull (90 %)", "the same by a Weibull distribution",
             [](const MeasuredLives& m) {
               const auto   half = weibull_median(m);
               const double far  = 10.0 * m.watched;  // beyond that nothing is known of them
               if (!m.weibull.usable || std::isnan(half.low) || half.value > far) return std::string{};
               return fmt::format("{:.0f} ({:.0f} … {})", rounded_passes(half.value),
                                  rounded_passes(half.low),
                                  half.high > far ? fmt::format("more than {:.0f}", rounded_passes(far))
                                                  : fmt::format("{:.0f}", rounded_passes(half.high)));
             });
  woods.number("weibull_scale", "1", "",
               "scale of the Weibull distribution, passes; missing where it cannot be determined",
               [](const MeasuredLives& m) { return m.weibull.scale; });
  woods.number(
      "weibull_shape", "1", "shape", "shape of the Weibull distribution",
      [](const MeasuredLives& m) { return m.weibull.shape; }, 2);
  woods.number("weibull_median_low", "1", "", "lower end of 90 % of its median",
               [](const MeasuredLives& m) { return weibull_median(m).low; });
  woods.number("weibull_median_passes", "1", "", "its median, passes",
               [](const MeasuredLives& m) { return weibull_median(m).value; });
  woods.number("weibull_median_high", "1", "", "upper end of 90 % of its median",
               [](const MeasuredLives& m) { return weibull_median(m).high; });
  woods.text("forecast_life", "forecast", "the forecast for the same edges, as it is said",
             [&](const MeasuredLives& m) {
               const auto forecasts = forecasts_for(m, forecast);
               return forecasts.empty() ? std::string() : said_passes(quantile(forecasts, 0.5), forecast);
             });
  woods.number("forecast_passes", "1", "", "median of the forecasts of the mean edge for the same edges",
               [&](const MeasuredLives& m) { return finite(quantile(forecasts_for(m, forecast), 0.5)); });
  return table;
}

std::string measured_sentence(const MeasuredLives& m, const Forecast& forecast) {
  const auto        forecasts = forecasts_for(m, forecast);
  const std::string half =
      std::isinf(m.median)
          ? fmt::format("fewer than half have crossed, and none was read after more than {:.0f} passes",
                        m.watched)
          : fmt::format("half last {:.0f} passes or fewer", rounded_passes(m.median));
  const std::string beside = forecasts.empty() ? std::string{}
                                               : fmt::format(" The forecast for the same edges is {}.",
                                                             said_passes(quantile(forecasts, 0.5), forecast));
  return fmt::format(
      "Readings in {}: of {}, {} crossed {:.0f} gf, and {} {} still good at the last reading; {}.{}", m.wood,
      counted(static_cast<long long>(m.edges.size()), "edge"), m.ended, gf(forecast.settings.limit_N),
      m.still_good, m.still_good == 1 ? "was" : "were", half, beside);
}

// ---- remarks ----

// "3 wear laws": those that any version has
std::string laws_in(const Ensemble& ensemble) {
  const std::set<std::size_t> there(ensemble.law_of.begin(), ensemble.law_of.end());
  return there.size() == 1 ? "the wear law " + ensemble.laws[*there.begin()].name
                           : fmt::format("{} wear laws", there.size());
}

std::string how_to_read_it(const Workshop& workshop, const Ensemble& ensemble) {
  if (ensemble.has_laws())
    return fmt::format(
        "{} versions of the model were run, under {}. For the mean edge the median of all versions is given; the next edge differs from it as edges sharpened alike do. "
        "Fresh is the reading before the first pass; the burr goes in the first passes, so the reading may fall before it rises (settled). Hours at {:g} passes a minute, [workshop] passes_per_minute.",
        ensemble.size(), laws_in(ensemble), workshop.pace.passes_per_minute);
  return fmt::format(
      "The mean edge is what the model gives {}; the next edge differs from it as edges sharpened alike do, and as the model may be off. "
      "Fresh is the reading before the first pass; the burr goes in the first passes, so the reading may fall before it rises (settled). Hours at {:g} passes a minute, [workshop] passes_per_minute.",
      ensemble.is_fitted() ? "at the best values of the fit"
                           : "at the values as they stand, which arris simulate takes",
      workshop.pace.passes_per_minute);
}

// members that could not be run, by edge; empty where all could
std::string failed_sentence(const Forecast& forecast) {
  std::string         counts;
  const EdgeForecast* first = nullptr;
  for (const EdgeForecast& f : forecast.edges) {
    if (f.failed == 0) continue;
    if (first == nullptr) first = &f;
    counts += fmt::format("{}{} of {}", counts.empty() ? "" : ", ", f.failed, f.edge);
  }
  if (first == nullptr) return {};
  return fmt::format("Of {} members these could not be run and are left out: {}. The first: {}",
                     forecast.members, counts, first->failure);
}

}  // namespace

Answer forecast_answer(const Forecast& forecast, const Workshop& workshop, const Ensemble& ensemble,
                       const std::vector<MeasuredLives>& measured) {
  Answer       answer;
  const ReadTo read = ensemble.is_fitted() ? read_to(measured) : ReadTo{};
  answer.kind       = "forecast";
  answer.headline   = first_edge_sentence(forecast, workshop) + beyond_sentence(forecast, read) +
                    longest_and_least_sentence(forecast);
  answer.tables  = {lives_table(forecast, workshop, read), tasks_table(forecast, workshop, read),
                    curves_table(forecast)};
  answer.remarks = {how_to_read_it(workshop, ensemble)};
  if (any_beyond(forecast, read)) answer.remark(About::certainty, star_remark(forecast, read));
  if (ensemble.has_laws()) {
    const EdgeForecast& first = forecast.edges.front();
    answer.headline +=
        " " + law_sentence("Edge " + first.edge + " lasts", first.laws, forecast.settings.passes);
    answer.tables.push_back(laws_table(laws_of_edges(forecast), forecast.settings.passes,
                                       "Passes of the mean edge under each wear law"));
    answer.tables.push_back(law_curves_table(laws_of_edges(forecast)));
    if (std::any_of(ensemble.laws.begin(), ensemble.laws.end(),
                    [](const EnsembleLaw& law) { return law.discrepancy.is_known(); }))
      answer.remark(
          About::certainty,
          "Each law is corrected along the passes by what it missed where edges were read, so that lives under it differ from those of "
          "the law alone, which arris fit names.");
  }
  if (!measured.empty()) {
    answer.tables.push_back(measured_table(measured, forecast));
    for (const MeasuredLives& m : measured) answer.remark(About::certainty, measured_sentence(m, forecast));
    answer.remarks.emplace_back(
        "Measured lives are taken from the readings alone, between the last reading below the limit and the first above; edges in one wood are taken together, whatever their tool and route, up to where they are sharpened again.");
  }
  if (std::string failed = failed_sentence(forecast); !failed.empty())
    answer.remarks.push_back(std::move(failed));
  if (!ensemble.is_fitted() && forecast.members > 1)
    answer.remark(
        About::next,
        "With nothing fitted the span is that of all workshops the defaults allow, so it is wide. Readings of your own edges narrow it: arris fit FILE --draws 2000 --out fit.h5, then --fit fit.h5 here.");
  answer.rests_on = ensemble.rests_on;
  answer.settings = {{"limit_gf", gf(forecast.settings.limit_N)},
                     {"passes", forecast.settings.passes},
                     {"share", forecast.settings.share},
                     {"members", static_cast<double>(forecast.members)}};
  return answer;
}

}  // namespace arris
