// SPDX-License-Identifier: MIT
#include "sim/simulate/readings.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <tuple>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/parallel.hpp"
#include "sim/simulate/way.hpp"

namespace arris {
namespace {

// standard deviation of log(x) for a log-normal x with the given coefficient of variation
double log_sd(double cv) { return std::sqrt(std::log1p(cv * cv)); }

bool earlier(const Moment& a, const Moment& b) {
  return std::tie(a.step, a.count) < std::tie(b.step, b.count);
}

struct Instrument {
  double Reading::*value;
  double Reading::*sd;
  double           unstated_sd;  // where the row leaves it out
  double TrackPoint::*predicted;
};

constexpr Measured all_measured[] = {Measured::apex_radius, Measured::recession, Measured::mass_loss};

Instrument instrument(Measured kind) {
  switch (kind) {
    case Measured::apex_radius:
      return {&Reading::apex_radius_um, &Reading::apex_radius_sd_um, not_given, &TrackPoint::apex_radius_um};
    case Measured::recession:
      return {&Reading::recession_um, &Reading::recession_sd_um, not_given, &TrackPoint::tip_setback_um};
    case Measured::mass_loss:
      break;
  }
  return {&Reading::mass_loss_mg, &Reading::mass_loss_sd_mg, unstated_mass_loss_sd_mg,
          &TrackPoint::mass_loss_mg};
}

// what was measured of an edge at one moment; `point` is null where there is no prediction
ComparedMeasure compared(Measured kind, const std::vector<const Reading*>& group, const TrackPoint* point,
                         const Scatter<double>& scatter) {
  const Instrument by = instrument(kind);
  ComparedMeasure  row;
  row.kind   = kind;
  double sum = 0.0, weights = 0.0;
  for (const Reading* r : group) {
    const double value = r->*by.value;
    if (std::isnan(value) || !r->excluded.empty()) continue;
    // a length without an uncertainty of its own scatters as readings do
    const double unstated = std::isnan(by.unstated_sd) ? log_sd(scatter.reading_cv) : by.unstated_sd / value;
    const double sd       = std::isnan(r->*by.sd) ? unstated : r->*by.sd / value;
    const double weight   = 1.0 / (sd * sd);
    sum += weight * std::log(value);
    weights += weight;
    ++row.count;
  }
  if (row.count == 0) return row;
  row.measured = std::exp(sum / weights);
  if (point == nullptr) return row;
  row.predicted = point->*by.predicted;
  row.ratio     = row.measured / row.predicted;
  // most of a loss of mass comes off the stones, whatever the luck of the apex
  const double of_edge = kind == Measured::mass_loss ? 0.0 : log_sd(scatter.edge_cv);
  row.in_sd            = std::log(row.ratio) / std::sqrt(1.0 / weights + of_edge * of_edge);
  return row;
}

// readings by the moment at which they were taken, of one edge
using ReadingGroups = std::map<Moment, std::vector<const Reading*>, decltype(&earlier)>;

// what the tester gave at one moment: the geometric mean, and the scatter about it
ComparedMoment tester_readings(const std::vector<const Reading*>& group) {
  ComparedMoment row;
  double         sum = 0.0, squares = 0.0;
  for (const Reading* r : group) {
    if (std::isnan(r->reading_N)) continue;
    if (!r->excluded.empty()) {
      ++row.excluded;
      continue;
    }
    ++row.count;
    sum += std::log(r->reading_N);
  }
  const double mean = sum / row.count;
  for (const Reading* r : group) {
    if (r->excluded.empty() && !std::isnan(r->reading_N))
      squares += std::pow(std::log(r->reading_N) - mean, 2);
  }
  if (row.count > 0) row.measured_N = std::exp(mean);
  if (row.count > 1) row.spread_cv = std::sqrt(std::expm1(squares / (row.count - 1)));
  return row;
}

// the same of the wear of a specimen, where it was seen
ComparedMoment wear_readings(const std::vector<const Reading*>& group, bool additive) {
  if (!additive) {
    std::vector<const Reading*> seen;
    std::copy_if(group.begin(), group.end(), std::back_inserter(seen),
                 [](const Reading* r) { return !r->is_below; });
    return tester_readings(seen);
  }
  ComparedMoment row;
  double         sum = 0.0;
  for (const Reading* r : group) {
    if (!r->excluded.empty()) ++row.excluded;
    if (!r->excluded.empty() || r->is_below || std::isnan(r->reading_N)) continue;
    ++row.count;
    sum += r->reading_N;
  }
  if (row.count > 0) row.measured_N = sum / row.count;
  return row;
}

void compare_wear_with_prediction(ComparedMoment& row, const TrackPoint& point, const Model<double>& model) {
  const auto&  s     = model.scatter;
  const double count = std::max(row.count, 1);
  row.predicted_N    = point.reading_N;
  if (row.count == 0) return;
  if (row.predicted_N > 0.0 && row.measured_N > 0.0) row.ratio = row.measured_N / row.predicted_N;
  const double relative = std::pow(log_sd(s.rate_cv), 2) + std::pow(log_sd(s.operator_cv), 2);
  if (!model.specimen.is_additive()) {
    row.in_sd = std::log(row.ratio) / std::sqrt(relative + std::pow(log_sd(s.reading_cv), 2) / count);
    return;
  }
  const double of_reading = std::isnan(model.specimen.reading_sd_um) ? 0.0 : model.specimen.reading_sd_um;
  const double sd = std::sqrt(relative * row.predicted_N * row.predicted_N + of_reading * of_reading / count);
  if (sd > 0.0) row.in_sd = (row.measured_N - row.predicted_N) / sd;
}

// sets what was measured against what is predicted
void compare_with_prediction(ComparedMoment& row, const TrackPoint& point, const Model<double>& model) {
  // the edge's own scatter is on the apex, so only the part of the reading above the filament's own moves with it
  const auto& s          = model.scatter;
  row.predicted_N        = point.reading_N;
  row.ratio              = row.measured_N / row.predicted_N;
  const double from_apex = 1.0 - model.tester.cut_resistance_N / row.predicted_N;
  const double sd        = std::sqrt(std::pow(log_sd(s.reading_cv), 2) / std::max(row.count, 1) +
                                     std::pow(from_apex * log_sd(s.edge_cv), 2) +
                                     std::pow(log_sd(s.operator_cv), 2) + std::pow(log_sd(s.lot_cv), 2));
  if (row.count > 0 && sd > 0.0) row.in_sd = std::log(row.ratio) / sd;
}

// all that was measured of one edge, against its prediction
struct ComparedEdge {
  std::vector<ComparedMoment>  moments;
  std::vector<ComparedMeasure> measures;
  std::string                  failure;  // why there is no prediction
};

ComparedEdge compare_edge(const Scenario& scenario, const EdgePlan& edge, const ReadingGroups& groups) {
  ComparedEdge out;
  if (groups.empty()) return out;
  std::vector<Moment> moments;
  for (const auto& [moment, group] : groups) moments.push_back(moment);
  const Prediction prediction = predict(scenario, edge, moments);
  const bool       usable     = prediction.status.usable();
  if (!usable) out.failure = describe(prediction.status, edge);
  std::size_t i = 0;
  for (const auto& [moment, group] : groups) {
    const TrackPoint* point = usable ? &prediction.points[i] : nullptr;
    for (const Measured kind : all_measured) {
      ComparedMeasure measure = compared(kind, group, point, scenario.model.scatter);
      if (measure.count == 0) continue;
      measure.edge   = edge.name;
      measure.moment = group.front()->moment_name;
      out.measures.push_back(std::move(measure));
    }
    const bool     wears = scenario.model.specimen.in_use;
    ComparedMoment row =
        wears ? wear_readings(group, scenario.model.specimen.is_additive()) : tester_readings(group);
    row.edge   = edge.name;
    row.moment = group.front()->moment_name;
    if (point != nullptr)
      (wears ? compare_wear_with_prediction : compare_with_prediction)(row, *point, scenario.model);
    // a moment at which nobody used the tester has no place among its readings
    if (row.count + row.excluded > 0) out.moments.push_back(std::move(row));
    ++i;
  }
  return out;
}

// all edges in one, and how well predictions do over all of them
Comparison gathered(std::vector<ComparedEdge> edges) {
  Comparison result;
  double     sum = 0.0, squares = 0.0;
  int        used = 0;
  for (ComparedEdge& edge : edges) {
    if (!edge.failure.empty()) result.failed.push_back(std::move(edge.failure));
    for (ComparedMoment& row : edge.moments) {
      result.readings += row.count;
      result.excluded += row.excluded;
      if (!std::isnan(row.ratio)) {
        sum += std::log(row.ratio);
        squares += std::pow(std::log(row.ratio), 2);
        ++used;
        if (std::abs(row.in_sd) > 2.0) ++result.beyond_2sd;
      }
      result.moments.push_back(std::move(row));
    }
    for (ComparedMeasure& measure : edge.measures) result.measures.push_back(std::move(measure));
  }
  if (used > 0) {
    result.mean_ratio    = std::exp(sum / used);
    result.typical_error = std::sqrt(squares / used);
  }
  return result;
}

}  // namespace

const char* name_of(Measured kind) {
  return kind == Measured::apex_radius ? "apex radius"
         : kind == Measured::recession ? "recession"
                                       : "mass loss";
}
const char* unit_of(Measured kind) { return kind == Measured::mass_loss ? "mg" : "µm"; }

int read_step(const EdgePlan& plan, const std::string& name) {
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const auto* read = std::get_if<ReadStep>(&plan.steps[i]);
    if (read != nullptr && read->read == name) return static_cast<int>(i);
  }
  return -1;
}

bool loses_steel_before(const EdgePlan& plan, const Moment& moment) {
  const auto at = [&](int i) -> const Step& { return plan.steps[static_cast<std::size_t>(i)]; };
  for (int i = 0; i < moment.step; ++i) {
    if (count_of(at(i)) > 0.0) return true;
  }
  return count_of(at(moment.step)) > 0.0 && moment.count > 0.0;
}

Moment moment_after_passes(const EdgePlan& plan, double passes) {
  double before = 0.0;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const auto* cut = std::get_if<CutStep>(&plan.steps[i]);
    if (cut == nullptr) continue;
    if (passes <= before + cut->passes) return {static_cast<int>(i), passes - before};
    before += cut->passes;
  }
  return {-1, 0.0};
}

Moment start_of_wear(const EdgePlan& plan, const Moment& moment) {
  const auto cuts = [&](int i) {
    return std::holds_alternative<CutStep>(plan.steps[static_cast<std::size_t>(i)]);
  };
  const auto reads = [&](int i) {
    return std::holds_alternative<ReadStep>(plan.steps[static_cast<std::size_t>(i)]);
  };
  int first = -1;
  for (int i = moment.step; i >= 0 && (cuts(i) || reads(i)); --i) {
    if (cuts(i) && (i < moment.step || moment.count != 0.0)) first = i;
  }
  return {first, 0.0};
}

namespace {

/// How ways of sharpening, or woods, differ from the model: factors, drawn as they are met.
class FactorsByName {
 public:
  FactorsByName(double cv, unsigned long long seed) : sd_(log_sd(cv)), engine_(seed) {}
  double of(const std::string& way) {
    const auto found = factors_.find(way);
    if (found != factors_.end()) return found->second;
    return factors_[way] = std::exp(sd_ * boost::random::normal_distribution<double>()(engine_));
  }

 private:
  double                        sd_;
  boost::random::mt19937_64     engine_;
  std::map<std::string, double> factors_;
};

/// How edges, ways of sharpening and woods differ from the model. Each kind is drawn by an engine of its own, so that what is invented
/// without it stays as it is.
class InventedLuck {
 public:
  InventedLuck(const Scatter<double>& scatter, std::size_t edges, unsigned long long seed)
      : of_rate_(edges),
        of_way_(scatter.way_cv, seed + 2),
        wear_after_(scatter.way_wear_cv, seed + 3),
        wear_in_(scatter.wood_cv, seed + 4) {
    boost::random::mt19937_64 rates(seed + 1);
    for (double& f : of_rate_)
      f = std::exp(log_sd(scatter.rate_cv) * boost::random::normal_distribution<double>()(rates));
  }

  /// The factor on the apex of edges that were sharpened in this way.
  double of_way(const std::string& way) { return of_way_.of(way); }

  /// The radius that a reading at this point meets, where the wear since the stones has been faster or slower than the model says.
  double met_radius_um(const EdgePlan& plan, std::size_t edge, const Prediction& predicted,
                       const TrackPoint& at) {
    const Moment here{at.step, 0.0};
    const Moment start = start_of_wear(plan, here);
    const auto   fresh =
        std::find_if(predicted.points.begin(), predicted.points.end(),
                     [&](const TrackPoint& p) { return p.step == start.step && p.count == 0.0; });
    if (fresh == predicted.points.end()) return at.met_radius_um;
    return worn_with_luck(
        fresh->met_radius_um, at.met_radius_um,
        of_rate_[edge] * wear_after_.of(way_at(plan, here)) * wear_in_.of(wood_at(plan, here)));
  }

 private:
  std::vector<double> of_rate_;
  FactorsByName       of_way_, wear_after_, wear_in_;
};

// what an edge is read at, and where its wear began before that, where that is asked for
std::vector<Moment> invented_moments(const EdgePlan& plan, bool with_starts) {
  std::vector<Moment> moments;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const Moment here{static_cast<int>(i), 0.0};
    if (!std::holds_alternative<ReadStep>(plan.steps[i])) continue;
    const Moment start = start_of_wear(plan, here);
    if (with_starts && start.step >= 0) moments.push_back(start);
    moments.push_back(here);
  }
  std::sort(moments.begin(), moments.end(), earlier);
  const auto same = [](const Moment& a, const Moment& b) { return a.step == b.step && a.count == b.count; };
  moments.erase(std::unique(moments.begin(), moments.end(), same), moments.end());
  return moments;
}

}  // namespace

Comparison compare_with_readings(const Scenario& scenario, const std::vector<Reading>& readings,
                                 int threads) {
  std::vector<ReadingGroups> groups(scenario.edges.size(), ReadingGroups(&earlier));
  for (const Reading& r : readings) groups[static_cast<std::size_t>(r.edge)][r.moment].push_back(&r);

  std::vector<ComparedEdge> edges(groups.size());
  for_each_index(groups.size(), threads,
                 [&](std::size_t e) { edges[e] = compare_edge(scenario, scenario.edges[e], groups[e]); });
  Comparison out = gathered(std::move(edges));
  if (scenario.model.specimen.in_use) out.wear = wear_units(scenario.model.specimen);
  return out;
}

std::vector<Reading> invent_readings(const Scenario& scenario, unsigned long long seed,
                                     const std::vector<std::string>& operators,
                                     const std::vector<std::string>& lots, int threads) {
  const auto&                                scatter = scenario.model.scatter;
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  const auto                                 draw = [&](std::size_t count, double cv) {
    std::vector<double> factors(count);
    for (double& f : factors) f = std::exp(log_sd(cv) * normal(engine));
    return factors;
  };
  const auto   of_operator = draw(operators.size(), scatter.operator_cv);
  const auto   of_lot      = draw(lots.size(), scatter.lot_cv);
  const auto   of_edge     = draw(scenario.edges.size(), scatter.edge_cv);
  InventedLuck luck(scatter, scenario.edges.size(), seed);
  const bool   luck_in_wear = scatter.rate_cv > 0.0 || scatter.way_wear_cv > 0.0 || scatter.wood_cv > 0.0;

  std::vector<Prediction> predictions(scenario.edges.size());
  for_each_index(scenario.edges.size(), threads, [&](std::size_t e) {
    predictions[e] = predict(scenario, scenario.edges[e], invented_moments(scenario.edges[e], luck_in_wear));
  });

  const Specimen<double>& specimen = scenario.model.specimen;
  if (specimen.is_additive() && std::isnan(specimen.reading_sd_um)) {
    throw Error(Exit::usage,
                {.code = "no-scatter",
                 .what = "readings of specimens scatter by micrometres, and it is not said by how many",
                 .next = "State reading_sd_um under [specimen].",
                 .key  = "specimen.reading_sd_um"});
  }
  const auto           tester = tester_law(scenario.model.tester);
  std::vector<Reading> readings;
  for (std::size_t e = 0; e < scenario.edges.size(); ++e) {
    if (!predictions[e].status.usable()) {
      throw Error(Exit::integration,
                  {.code = "no-convergence", .what = describe(predictions[e].status, scenario.edges[e])});
    }
    const EdgePlan& plan = scenario.edges[e];
    const auto&     tool = scenario.model.tools[static_cast<std::size_t>(plan.tool)];
    const double    half = 0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg);
    for (const TrackPoint& p : predictions[e].points) {
      const Step& step = plan.steps[static_cast<std::size_t>(p.step)];
      if (!std::holds_alternative<ReadStep>(step)) continue;
      const auto&  read   = std::get<ReadStep>(step);
      const double by_way = luck.of_way(way_at(plan, {p.step, 0.0}));
      const double met    = luck.met_radius_um(plan, e, predictions[e], p);
      // an edge's own luck and how it was sharpened are factors on its apex; the person and the lot of filament are factors on the force
      const double typical =
          tester.reading_N(of_edge[e] * by_way * met, of_edge[e] * by_way * p.burr_um, half);
      const auto by  = (e + static_cast<std::size_t>(p.step)) % operators.size();
      const auto lot = e % lots.size();
      for (int replicate = 1; replicate <= read.replicates; ++replicate) {
        Reading r;
        r.edge            = static_cast<int>(e);
        r.moment          = {p.step, 0.0};
        r.moment_name     = read.read;
        r.replicate       = replicate;
        r.operator_name   = operators[by];
        r.filament_lot    = lots[lot];
        const double mean = typical * of_operator[by] * of_lot[lot], off = normal(engine);
        r.reading_N = specimen.is_additive() ? mean + specimen.reading_sd_um * off
                                             : mean * std::exp(log_sd(scatter.reading_cv) * off);
        r.is_below  = r.reading_N < specimen.detection_um;
        if (r.is_below) r.reading_N = specimen.detection_um;
        // what has not worn yet scatters by no per cent of that
        if (specimen.in_use && !specimen.is_additive() && !(mean > 0.0)) continue;
        readings.push_back(std::move(r));
      }
    }
  }
  return readings;
}

}  // namespace arris
