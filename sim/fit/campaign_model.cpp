// SPDX-License-Identifier: MIT
#include "sim/fit/campaign_model.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/rules_of_thumb.hpp"
#include "sim/integrate/jet.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/way.hpp"

namespace arris {
namespace {

bool same(const Moment& a, const Moment& b) { return a.step == b.step && a.count == b.count; }
bool earlier(const Moment& a, const Moment& b) {
  return a.step != b.step ? a.step < b.step : a.count < b.count;
}

template <class T>
std::array<T, 5> tester_numbers(const Tester<T>& t) {
  return {t.cut_resistance_N, t.slope_N_per_um, t.saturation_N, t.burr_share, t.wedge_share};
}

// log of the reading as a function of the radius met, burr, the tester's five numbers and the edge's effect
bool has_luck_in_wear(const FitSettings& settings) {
  return settings.rate_effect || settings.way_wear_effect || settings.wood_effect;
}

bool sees_apex(const Reading& r) {
  return !std::isnan(r.reading_N) || !std::isnan(r.apex_radius_um) || !std::isnan(r.recession_um);
}

}  // namespace

const char* name_of(EffectKind kind) {
  switch (kind) {
    case EffectKind::edge:
      return "edge";
    case EffectKind::person:
      return "operator";
    case EffectKind::lot:
      return "filament lot";
    case EffectKind::rate:
      return "rate of wear";
    case EffectKind::day:
      return "test day";
    case EffectKind::way:
      return "way of sharpening";
    case EffectKind::way_wear:
      return "wear after a way of sharpening";
    case EffectKind::wood:
      break;
  }
  return "wear in a wood";
}

FitSettings with_effects_of(const Scenario& scenario, const std::vector<Reading>& readings,
                            const FitSettings& settings) {
  std::set<std::string> people, lots, days, ways, worn_ways, woods;
  for (const Reading& r : readings) {
    if (!r.excluded.empty()) continue;
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r.edge)];
    if (sees_apex(r) && start_of_wear(plan, r.moment).step >= 0) {
      worn_ways.insert(way_at(plan, r.moment));
      if (const std::string wood = wood_at(plan, r.moment); !wood.empty()) woods.insert(wood);
    }
    if (std::isnan(r.reading_N)) continue;
    if (!r.operator_name.empty()) people.insert(r.operator_name);
    if (!r.filament_lot.empty()) lots.insert(r.filament_lot);
    if (!r.test_day.empty()) days.insert(r.test_day);
    ways.insert(way_at(plan, {static_cast<int>(std::ssize(plan.steps)) - 1, not_given}));
  }
  FitSettings out = settings;
  out.rate_effect &= !worn_ways.empty();
  out.operator_effect &= people.size() > 1;
  out.lot_effect &= lots.size() > 1;
  out.day_effect &= days.size() > 1;
  out.way_effect &= ways.size() > 1;
  out.way_wear_effect &= worn_ways.size() > 1;
  out.wood_effect &= woods.size() > 1;
  return out;
}

namespace {

// W of rules of thumb, and of an earlier fit
Eigen::MatrixXd all_rules(const Scenario& scenario, const std::vector<FreeParameter>& parameters,
                          const FitSettings& settings) {
  const auto P      = static_cast<Eigen::Index>(parameters.size());
  auto       stated = settings.priors;  // what an earlier fit knows has heard the rules
  for (const FreeParameter& p : parameters) {
    if (is_from_earlier(p)) stated[p.path] = p.prior;
  }
  Eigen::MatrixXd of_trade =
      settings.rules_of_thumb ? rules_on(scenario.model, parameters, stated) : Eigen::MatrixXd(0, P);
  if (settings.earlier == nullptr) return of_trade;
  const Eigen::MatrixXd earlier = earlier_rules(*settings.earlier, scenario.model, parameters);
  Eigen::MatrixXd       out(of_trade.rows() + earlier.rows(), P);
  out << of_trade, earlier;
  return out;
}

}  // namespace

CampaignModel::CampaignModel(const Scenario& scenario, const std::vector<Reading>& readings,
                             const std::vector<FreeParameter>& parameters, const FitSettings& settings)
    : CampaignModel(scenario, readings, parameters, settings, all_rules(scenario, parameters, settings),
                    0.0) {}

CampaignModel::CampaignModel(const CampaignModel& model, const std::vector<Reading>& readings)
    : CampaignModel(model.scenario_, readings, model.parameters_, model.settings_, model.rules_,
                    model.typical_um_) {}

CampaignModel::CampaignModel(const Scenario& scenario, const std::vector<Reading>& readings,
                             const std::vector<FreeParameter>& parameters, const FitSettings& settings,
                             Eigen::MatrixXd rules, double typical_um)
    : scenario_(scenario),
      readings_(readings),
      parameters_(parameters),
      rules_(std::move(rules)),
      settings_(settings.lone_effects ? settings : with_effects_of(scenario, readings, settings)),
      earlier_(settings.earlier != nullptr ? law_of(*settings.earlier, scenario.model) : nullptr),
      moments_(scenario.edges.size()),
      first_moment_(scenario.edges.size(), 0) {
  find_moments();
  tree_ = HistoryTree(scenario.edges,
                      moments_);  // a history ends with its last reading: what follows cannot be seen
  find_tester_numbers();
  if (typical_um > 0.0)
    typical_um_ = typical_um;
  else
    find_typical();
  find_observations();
  find_distinct();
  find_centring();
  if (observations_.empty()) {
    throw Error(Exit::data,
                {.code = "no-readings",
                 .what = "there are no readings to fit",
                 .next = "Name a readings file in [readings], or take some of the readings back in."});
  }
}

Tolerances CampaignModel::tolerances() const {
  constexpr double many =
      200.0;  // 2000 measurements at 1e-6 ended up to 0.4 of the log posterior apart, at 1e-8 within 0.03
  Tolerances   out   = tolerances_of(scenario_);
  const double share = std::min(1.0, many / static_cast<double>(size()));
  out.relative *= share;
  out.absolute_um *= share;
  return out;
}

void CampaignModel::find_centring() {
  centring_.resize(0, effect_count());
  for (const EffectKind kind : kinds_shared) {
    const int count = members(kind);
    // what ways have in common of the apex is held by the priors of the laws of sharpening
    if (count < 2 || kind == EffectKind::way) continue;
    const bool   of_growth = kind == EffectKind::way_wear || kind == EffectKind::wood;
    const double sd        = of_growth ? common_growth_sd : common_sd;
    centring_.conservativeResize(centring_.rows() + 1, Eigen::NoChange);
    for (Eigen::Index j = 0; j < effect_count(); ++j) {
      centring_(centring_.rows() - 1, j) =
          effects_[static_cast<std::size_t>(j)].kind == kind ? 1.0 / (count * sd) : 0.0;
    }
  }
}

Eigen::MatrixXd CampaignModel::prior_precision() const {
  return Eigen::MatrixXd::Identity(parameter_count(), parameter_count()) + rules_.transpose() * rules_;
}

void CampaignModel::find_moments() {
  for (const Reading& r : readings_) {
    if (!r.excluded.empty()) continue;
    auto&      moments = moments_[static_cast<std::size_t>(r.edge)];
    const auto add     = [&](const Moment& moment) {
      if (std::none_of(moments.begin(), moments.end(), [&](const Moment& m) { return same(m, moment); }))
        moments.push_back(moment);
    };
    add(r.moment);
    const Moment start = start_of_wear(scenario_.edges[static_cast<std::size_t>(r.edge)], r.moment);
    if (has_luck_in_wear(settings_) && start.step >= 0) add(start);
  }
  for (std::size_t e = 0; e < moments_.size(); ++e) {
    std::vector<Moment>& moments = moments_[e];
    std::sort(moments.begin(), moments.end(), earlier);
    first_moment_[e] = moment_count_;
    for (const Moment& m : moments) {
      const Moment start = start_of_wear(scenario_.edges[e], m);
      const auto   began = std::find_if(moments.begin(), moments.end(),
                                        [&](const Moment& other) { return same(other, start); });
      const bool   lucky = has_luck_in_wear(settings_) && start.step >= 0 && began != moments.end();
      wear_began_.push_back(lucky ? moment_count_ + static_cast<int>(began - moments.begin()) : -1);
    }
    moment_count_ += static_cast<int>(moments.size());
  }
}

void CampaignModel::find_tester_numbers() {
  Model<double>              model  = scenario_.model;
  const std::vector<double*> place  = places(model, parameters_);
  Tester<double>&            tester = model.tester;
  for (std::size_t i = 0; i < parameters_.size(); ++i) {
    int number = -1, k = 0;
    for (double* of : {&tester.cut_resistance_N, &tester.slope_N_per_um, &tester.saturation_N,
                       &tester.burr_share, &tester.wedge_share}) {
      if (place[i] == of) number = k;
      ++k;
    }
    tester_number_.push_back(number);
    if (number < 0) in_histories_.push_back(i);
  }
}

int CampaignModel::column_of(bool wanted, EffectKind kind, const std::string& name) {
  if (!wanted || name.empty()) return -1;
  // rows of an edge stand beside each other, so that what is its own was made last; what edges share was made among the first
  const auto is_it = [&](std::size_t j) { return effects_[j].kind == kind && effects_[j].name == name; };
  for (std::size_t j = 0; 2 * j < effects_.size(); ++j) {
    const std::size_t last = effects_.size() - 1 - j;
    if (is_it(last)) return static_cast<int>(last);
    if (is_it(j)) return static_cast<int>(j);
  }
  effects_.push_back({kind, name});
  return static_cast<int>(effects_.size()) - 1;
}

void CampaignModel::find_typical() {
  if (!is_additive()) return;
  double squares = 0.0, count = 0.0;
  for (const Reading& r : readings_) {
    if (!r.excluded.empty() || r.is_below || std::isnan(r.reading_N)) continue;
    squares += r.reading_N * r.reading_N;
    count += 1.0;
  }
  if (squares > 0.0) typical_um_ = std::sqrt(squares / count);
}

void CampaignModel::find_observations() {
  const auto set = [](Observation& o, EffectKind kind, int column) {
    o.effect[static_cast<int>(kind)] = column;
  };
  const auto add = [&](Observation o, Observation::Kind kind, double value, double known_sd) {
    if (std::isnan(value)) return;
    o.kind      = kind;
    o.log_value = std::log(value);
    o.known_sd  = std::isnan(known_sd) ? 0.0 : known_sd;
    observations_.push_back(o);
  };
  for (std::size_t i = 0; i < readings_.size(); ++i) {
    const Reading& r = readings_[i];
    if (!r.excluded.empty()) continue;
    const auto&        moments = moments_[static_cast<std::size_t>(r.edge)];
    const std::string& edge    = scenario_.edges[static_cast<std::size_t>(r.edge)].name;
    Observation        bare;
    bare.reading = static_cast<int>(i);
    bare.edge    = r.edge;
    bare.moment  = static_cast<int>(
        std::find_if(moments.begin(), moments.end(), [&](const Moment& m) { return same(m, r.moment); }) -
        moments.begin());
    Observation of_apex = bare;
    set(of_apex, EffectKind::edge, column_of(settings_.edge_effect && sees_apex(r), EffectKind::edge, edge));
    const bool        in_wood = sees_apex(r) && wear_began_[flat_moment(bare)] >= 0;
    const EdgePlan&   plan    = scenario_.edges[static_cast<std::size_t>(r.edge)];
    const std::string way     = way_at(plan, r.moment);
    set(of_apex, EffectKind::rate, column_of(settings_.rate_effect && in_wood, EffectKind::rate, edge));
    set(of_apex, EffectKind::way_wear,
        column_of(settings_.way_wear_effect && in_wood, EffectKind::way_wear, way));
    set(of_apex, EffectKind::wood,
        column_of(settings_.wood_effect && in_wood, EffectKind::wood, wood_at(plan, r.moment)));
    set(of_apex, EffectKind::way, column_of(settings_.way_effect && sees_apex(r), EffectKind::way, way));
    Observation of_force = of_apex;
    if (!std::isnan(r.reading_N)) {
      set(of_force, EffectKind::person,
          column_of(settings_.operator_effect, EffectKind::person, r.operator_name));
      set(of_force, EffectKind::lot, column_of(settings_.lot_effect, EffectKind::lot, r.filament_lot));
      set(of_force, EffectKind::day, column_of(settings_.day_effect, EffectKind::day, r.test_day));
    }
    if (scenario_.model.specimen.in_use) {
      of_force.is_below = r.is_below;
      of_force.known_sd =
          std::isnan(r.reading_sd) ? 0.0 : r.reading_sd / (is_additive() ? typical_um_ : r.reading_N);
      of_force.log_value = is_additive() ? r.reading_N / typical_um_ : std::log(r.reading_N);
      observations_.push_back(of_force);
      continue;
    }
    add(of_force, Observation::Kind::reading, r.reading_N,
        std::sqrt(std::log1p(r.reading_cv * r.reading_cv)));
    add(of_apex, Observation::Kind::apex_radius, r.apex_radius_um, r.apex_radius_sd_um / r.apex_radius_um);
    add(of_apex, Observation::Kind::recession, r.recession_um, r.recession_sd_um / r.recession_um);
    add(bare, Observation::Kind::mass_loss, r.mass_loss_mg,
        (std::isnan(r.mass_loss_sd_mg) ? unstated_mass_loss_sd_mg : r.mass_loss_sd_mg) / r.mass_loss_mg);
  }
}

void CampaignModel::find_distinct() {
  // what lies below what can be seen is foretold like any other reading, and tells other things
  using Sight = std::tuple<Observation::Kind, int, int, std::array<int, effect_kinds>>;
  std::map<Sight, Eigen::Index> places;
  for (Eigen::Index i = 0; i < size(); ++i) {
    const Observation& o  = observations_[static_cast<std::size_t>(i)];
    const auto [at, anew] = places.emplace(Sight{o.kind, o.edge, o.moment, std::to_array(o.effect)},
                                           static_cast<Eigen::Index>(distinct_.size()));
    if (anew) distinct_.push_back(i);
    distinct_of_.push_back(at->second);
  }
}

int CampaignModel::members(EffectKind kind) const {
  return static_cast<int>(
      std::count_if(effects_.begin(), effects_.end(), [&](const Effect& e) { return e.kind == kind; }));
}

int CampaignModel::edges_with_readings() const {
  return static_cast<int>(
      std::count_if(moments_.begin(), moments_.end(), [](const auto& m) { return !m.empty(); }));
}

std::vector<int> CampaignModel::edges_read() const {
  std::vector<int> out;
  for (std::size_t e = 0; e < moments_.size(); ++e) {
    if (!moments_[e].empty()) out.push_back(static_cast<int>(e));
  }
  return out;
}

bool CampaignModel::has_reading_noise() const {
  return std::any_of(observations_.begin(), observations_.end(),
                     [](const Observation& o) { return !(o.known_sd > 0.0); });
}

Eigen::VectorXd CampaignModel::measured() const {
  Eigen::VectorXd y(size());
  for (Eigen::Index i = 0; i < size(); ++i) y[i] = observations_[static_cast<std::size_t>(i)].log_value;
  return y;
}

template <class T>
std::vector<T> CampaignModel::widths_m(const Model<T>& model) const {
  std::vector<T> width_m;
  for (std::size_t e = 0; e < moments_.size(); ++e) {
    const auto& tool = model.tools[static_cast<std::size_t>(scenario_.edges[e].tool)];
    width_m.insert(width_m.end(), moments_[e].size(), T(1e-3 * tool.width_mm));
  }
  return width_m;
}

template <class T>
bool CampaignModel::run_edges(const Model<T>& model, Seen<T>& seen, std::string& failure) const {
  for (std::vector<T>* list : {&seen.radius, &seen.met, &seen.burr, &seen.mass})
    list->resize(static_cast<std::size_t>(moment_count_));
  const std::vector<T> width_m = widths_m(model);
  const auto           see     = [&](std::size_t /*model*/, std::size_t place, const EdgeState<T>& edge,
                       const Ledger<T>& ledger) {
    seen.radius[place] = edge.apex_radius_um;
    seen.met[place]    = edge.met_radius_um();
    seen.burr[place]   = edge.burr_um;
    seen.mass[place]   = mass_loss_mg(ledger, width_m[place]);
  };
  const HistoryTree::Failure failed =
      tree_
          .run<T>(
              1, [&](std::size_t) -> const Model<T>& { return model; }, tolerances(), see)
          .front();
  if (failed.plan >= 0) {
    failure = describe(failed.status, scenario_.edges[static_cast<std::size_t>(failed.plan)]);
    return false;
  }
  return true;
}

template <class T>
bool CampaignModel::see_edges(Bench<T>& bench, const std::vector<double>& values, std::size_t first_slot,
                              std::string& failure) const {
  std::vector<double> at{static_cast<double>(first_slot)};
  for (const std::size_t i : in_histories_) at.push_back(values[i]);
  if (at == bench.seen_at) return true;
  bench.seen_at.clear();
  if (!run_edges(bench.model, bench.seen, failure)) return false;
  bench.seen_at = std::move(at);
  return true;
}

template <class T>
std::unique_ptr<CampaignModel::Bench<T>> CampaignModel::borrow(Benches<T>& benches) const {
  {
    const std::scoped_lock lock(benches.lock);
    if (!benches.idle.empty()) {
      auto bench = std::move(benches.idle.back());
      benches.idle.pop_back();
      return bench;
    }
  }
  auto bench    = std::make_unique<Bench<T>>();
  bench->model  = convert<T>(scenario_.model);
  bench->places = places(bench->model, parameters_);
  return bench;
}

template <class T>
void CampaignModel::give_back(Benches<T>& benches, std::unique_ptr<Bench<T>> bench) {
  const std::scoped_lock lock(benches.lock);
  benches.idle.push_back(std::move(bench));
}

bool CampaignModel::find_values(const Eigen::Ref<const Eigen::VectorXd>& u, std::vector<double>& values,
                                std::string& failure) const {
  values.resize(parameters_.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    const FreeParameter& p = parameters_[i];
    values[i]              = p.value(u[static_cast<Eigen::Index>(i)]);
    if (!(values[i] >= p.low && values[i] <= p.high)) {
      failure = fmt::format("{} = {:g} is out of its range", p.path, values[i]);
      return false;
    }
  }
  return true;
}

void CampaignModel::set_what_needs_no_history(const Model<double>& model, Apex& apex) const {
  apex.tester = model.tester;
  apex.half_angle.reserve(static_cast<std::size_t>(moment_count_));
  apex.tester_at.reserve(static_cast<std::size_t>(moment_count_));
  for (std::size_t e = 0; e < moments_.size(); ++e) {
    const auto&  tool = model.tools[static_cast<std::size_t>(scenario_.edges[e].tool)];
    const double half = 0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg);
    apex.half_angle.insert(apex.half_angle.end(), moments_[e].size(), half);
    apex.tester_at.insert(apex.tester_at.end(), moments_[e].size(), tester_law(model.tester).at_angle(half));
  }
}

CampaignModel::Apex CampaignModel::apex(const Eigen::VectorXd& u, bool with_slopes) const {
  if (!with_slopes) return std::move(apexes(u).front());
  Apex                apex;
  std::vector<double> values;
  if (!find_values(u, values, apex.failure)) return apex;
  auto bench = borrow(benches_);
  for (std::size_t i = 0; i < values.size(); ++i) *bench->places[i] = values[i];
  set_what_needs_no_history(bench->model, apex);
  give_back(benches_, std::move(bench));
  add_slopes(u, values, apex);
  return apex;
}

std::vector<CampaignModel::Apex> CampaignModel::apexes(const Eigen::MatrixXd& u) const {
  std::vector<Apex>                all(static_cast<std::size_t>(u.cols()));
  std::vector<Apex*>               runs;  // those within their ranges
  std::vector<std::vector<double>> values, width_m;
  auto                             bench    = borrow(benches_);
  const auto                       model_of = [&](std::size_t k) -> const Model<double>& {
    for (std::size_t i = 0; i < parameters_.size(); ++i) *bench->places[i] = values[k][i];
    return bench->model;
  };
  const auto moments = static_cast<std::size_t>(moment_count_);
  for (std::size_t c = 0; c < all.size(); ++c) {
    std::vector<double> here;
    if (!find_values(u.col(static_cast<Eigen::Index>(c)), here, all[c].failure)) continue;
    values.push_back(std::move(here));
    runs.push_back(&all[c]);
    const Model<double>& model = model_of(runs.size() - 1);
    width_m.push_back(widths_m(model));
    set_what_needs_no_history(model, all[c]);
    for (std::vector<double>* list : {&all[c].radius_um, &all[c].met_um, &all[c].burr_um, &all[c].mass_mg})
      list->resize(moments);
  }
  const auto see = [&](std::size_t k, std::size_t place, const EdgeState<double>& edge,
                       const Ledger<double>& ledger) {
    runs[k]->radius_um[place] = edge.apex_radius_um;
    runs[k]->met_um[place]    = edge.met_radius_um();
    runs[k]->burr_um[place]   = edge.burr_um;
    runs[k]->mass_mg[place]   = mass_loss_mg(ledger, width_m[k][place]);
  };
  const auto failed = tree_.run<double>(runs.size(), model_of, tolerances(), see);
  for (std::size_t k = 0; k < runs.size(); ++k) {
    runs[k]->usable = failed[k].plan < 0;
    if (!runs[k]->usable)
      runs[k]->failure =
          describe(failed[k].status, scenario_.edges[static_cast<std::size_t>(failed[k].plan)]);
  }
  give_back(benches_, std::move(bench));
  return all;
}

void CampaignModel::add_slopes(const Eigen::VectorXd& u, const std::vector<double>& values,
                               Apex& apex) const {
  apex.radius_slopes.assign(static_cast<std::size_t>(moment_count_),
                            Eigen::VectorXd::Zero(parameter_count()));
  apex.met_slopes = apex.burr_slopes = apex.mass_slopes = apex.radius_slopes;
  apex.tester_slopes.assign(5, Eigen::VectorXd::Zero(parameter_count()));
  for (std::size_t i = 0; i < parameters_.size(); ++i) {
    if (tester_number_[i] >= 0)
      apex.tester_slopes[static_cast<std::size_t>(tester_number_[i])][static_cast<Eigen::Index>(i)] =
          parameters_[i].slope(u[static_cast<Eigen::Index>(i)]);
  }
  if (in_histories_.size() <= 4)
    add_history_slopes(jet4_benches_, u, values, apex);
  else
    add_history_slopes(jet8_benches_, u, values, apex);
}

template <class Jet>
void CampaignModel::add_history_slopes(Benches<Jet>& benches, const Eigen::VectorXd& u,
                                       const std::vector<double>& values, Apex& apex) const {
  constexpr std::size_t slots = Jet::DIMENSION;
  auto                  bench = borrow(benches);
  const Seen<Jet>&      seen  = bench->seen;
  for (std::size_t first = 0; first == 0 || first < in_histories_.size(); first += slots) {
    const std::size_t end = std::min(in_histories_.size(), first + slots);
    for (std::size_t k = 0; k < in_histories_.size(); ++k) {
      const std::size_t i = in_histories_[k];
      *bench->places[i]   = Jet(values[i]);
      if (k >= first && k < end)
        bench->places[i]->v[static_cast<Eigen::Index>(k - first)] =
            parameters_[i].slope(u[static_cast<Eigen::Index>(i)]);
    }
    apex.usable = see_edges(*bench, values, first, apex.failure);
    if (!apex.usable) break;
    for (std::size_t k = first; k < end; ++k) {
      const auto column = static_cast<Eigen::Index>(in_histories_[k]),
                 slot   = static_cast<Eigen::Index>(k - first);
      for (std::size_t m = 0; m < seen.radius.size(); ++m) {
        apex.radius_slopes[m][column] = seen.radius[m].v[slot];
        apex.met_slopes[m][column]    = seen.met[m].v[slot];
        apex.burr_slopes[m][column]   = seen.burr[m].v[slot];
        apex.mass_slopes[m][column]   = seen.mass[m].v[slot];
      }
    }
  }
  for (std::size_t m = 0; apex.usable && m < seen.radius.size(); ++m) {
    apex.radius_um.push_back(seen.radius[m].a);
    apex.met_um.push_back(seen.met[m].a);
    apex.burr_um.push_back(seen.burr[m].a);
    apex.mass_mg.push_back(seen.mass[m].a);
  }
  give_back(benches, std::move(bench));
}

namespace {

// sum of the effects of some kinds that an observation has
template <std::size_t n>
double sum_of(const std::array<EffectKind, n>& kinds, const Observation& o, const Eigen::VectorXd& effects) {
  double out = 0.0;
  for (const EffectKind kind : kinds) {
    if (o.column(kind) >= 0) out += effects[o.column(kind)];
  }
  return out;
}

template <std::size_t n>
void set_slopes(const std::array<EffectKind, n>& kinds, const Observation& o, Eigen::Index k, double slope,
                CampaignModel::SlopesByKind& by_kind) {
  for (const EffectKind kind : kinds) {
    if (o.column(kind) >= 0) by_kind.of(k, kind) = slope;
  }
}

}  // namespace

CampaignModel::Worn CampaignModel::worn(const Observation& o, const std::vector<double>& lengths,
                                        const Eigen::VectorXd& effects) const {
  const double now   = lengths[flat_moment(o)];
  const int    began = wear_began_[flat_moment(o)];
  if (began < 0 || !(now > lengths[static_cast<std::size_t>(began)])) return {now, 1.0, 0.0, 0.0};
  const double fresh = lengths[static_cast<std::size_t>(began)],
               times = std::exp(sum_of(kinds_on_growth, o, effects));
  return {worn_with_luck(fresh, now, times), times, 1.0 - times, times * (now - fresh)};
}

Eigen::VectorXd CampaignModel::slope_of(const Observation& o, const Worn& worn,
                                        const std::vector<Eigen::VectorXd>& slopes) const {
  const auto      m     = flat_moment(o);
  Eigen::VectorXd slope = worn.by_now * slopes[m];
  if (worn.by_start != 0.0) slope += worn.by_start * slopes[static_cast<std::size_t>(wear_began_[m])];
  return slope;
}

// a length of the apex: the radius, or the set-back of the tip in proportion to it
void CampaignModel::observe_length(Eigen::Index k, const Observation& o, const Apex& apex,
                                   const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                                   Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const {
  const Worn   radius = worn(o, apex.radius_um, effects);
  const double factor = o.kind == Observation::Kind::recession
                            ? laws::Wedge<double>{2.0 * apex.half_angle[flat_moment(o)]}.tip_setback(1.0)
                            : 1.0;
  f[k]                = std::log(factor * radius.value) + sum_of(kinds_on_apex, o, effects);
  if (by_parameter != nullptr)
    by_parameter->row(k) = slope_of(o, radius, apex.radius_slopes).transpose() / radius.value;
  if (by_kind == nullptr) return;
  set_slopes(kinds_on_apex, o, k, 1.0, *by_kind);
  set_slopes(kinds_on_growth, o, k, radius.by_luck / radius.value, *by_kind);
}

CampaignModel::Shown CampaignModel::shown(const Observation& o, const Apex& apex,
                                          const Eigen::VectorXd& effects, Wanted wanted) const {
  const auto   m    = flat_moment(o);
  const auto&  at   = apex.tester_at[m];
  const double luck = sum_of(kinds_on_apex, o, effects);
  Shown        out{worn(o, apex.met_um, effects), ReadingJet(0.0)};
  if (wanted == Wanted::values) {
    const double factor = std::exp(luck);
    out.log_N.a         = std::log(at.reading_N(factor * out.met.value, factor * apex.burr_um[m]));
  } else if (wanted == Wanted::by_luck) {
    // the modes of effects are sought for every posterior density: two slopes, by the luck of the apex and by the radius met
    using LuckJet = ceres::Jet<double, 2>;
    const laws::TesterAtAngle<LuckJet> lucky{LuckJet(at.start_N), LuckJet(at.slope_N_per_um),
                                             LuckJet(at.saturation_N), LuckJet(at.burr_share)};
    const LuckJet                      factor = exp(LuckJet(luck, 0));
    const LuckJet log_N = log(lucky.reading_N(factor * LuckJet(out.met.value, 1), factor * apex.burr_um[m]));
    out.log_N.a         = log_N.a;
    out.log_N.v[0]      = log_N.v[1];
    out.log_N.v[7]      = log_N.v[0];
  } else {
    const auto numbers = tester_numbers(apex.tester);
    ReadingJet input[reading_inputs];
    input[0] = ReadingJet(out.met.value, 0);
    input[1] = ReadingJet(apex.burr_um[m], 1);
    for (int t = 0; t < 5; ++t) input[2 + t] = ReadingJet(numbers[static_cast<std::size_t>(t)], 2 + t);
    input[7]                                 = ReadingJet(luck, 7);
    const ReadingJet                  factor = exp(input[7]);
    const laws::TesterLaw<ReadingJet> tester{input[2], input[3], input[4], input[5], input[6]};
    out.log_N = log(tester.reading_N(factor * input[0], factor * input[1], ReadingJet(apex.half_angle[m])));
  }
  return out;
}

void CampaignModel::observe_reading(Eigen::Index k, const Observation& o, const Apex& apex,
                                    const Shown& shown, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                                    Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const {
  const auto& slope = shown.log_N.v;
  f[k]              = shown.log_N.a + sum_of(kinds_on_force, o, effects);
  if (by_parameter != nullptr) {
    auto row = by_parameter->row(k);
    row      = slope[0] * slope_of(o, shown.met, apex.met_slopes).transpose() +
          slope[1] * apex.burr_slopes[flat_moment(o)].transpose();
    for (int t = 0; t < 5; ++t)
      row += slope[2 + t] * apex.tester_slopes[static_cast<std::size_t>(t)].transpose();
  }
  if (by_kind == nullptr) return;
  set_slopes(kinds_on_apex, o, k, slope[7], *by_kind);
  set_slopes(kinds_on_growth, o, k, slope[0] * shown.met.by_luck, *by_kind);
  set_slopes(kinds_on_force, o, k, 1.0, *by_kind);
}

// wear of a specimen: the length itself, on the scale on which it scatters
void CampaignModel::observe_wear(Eigen::Index k, const Observation& o, const Apex& apex,
                                 const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                                 Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const {
  const Worn   wear   = worn(o, apex.met_um, effects);
  const double factor = std::exp(sum_of(kinds_on_force, o, effects)), now = factor * wear.value;
  const double scale = is_additive() ? typical_um_ : now;  // slopes of the log are those over the value
  f[k]               = is_additive() ? now / typical_um_ : std::log(now);
  if (by_parameter != nullptr)
    by_parameter->row(k) = factor / scale * slope_of(o, wear, apex.met_slopes).transpose();
  if (by_kind == nullptr) return;
  set_slopes(kinds_on_growth, o, k, factor * wear.by_luck / scale, *by_kind);
  set_slopes(kinds_on_force, o, k, now / scale, *by_kind);
}

void CampaignModel::observe_distinct(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                                     Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const {
  const auto rows = std::ssize(distinct_);
  f.resize(rows);
  if (by_parameter != nullptr) by_parameter->setZero(rows, parameter_count());
  if (by_kind != nullptr) by_kind->slopes.setZero(effect_kinds, rows);
  const Wanted wanted = by_parameter != nullptr ? Wanted::all
                        : by_kind != nullptr    ? Wanted::by_luck
                                                : Wanted::values;
  // readings of one edge at one moment show one apex, and stand beside each other
  std::optional<std::size_t> moment;
  Shown                      of_moment{};
  for (Eigen::Index k = 0; k < rows; ++k) {
    const Observation& o = observations_[static_cast<std::size_t>(distinct_[static_cast<std::size_t>(k)])];
    if (scenario_.model.specimen.in_use) {
      observe_wear(k, o, apex, effects, f, by_parameter, by_kind);
      continue;
    }
    switch (o.kind) {
      case Observation::Kind::reading:
        if (moment != flat_moment(o)) of_moment = shown(o, apex, effects, wanted);
        moment = flat_moment(o);
        observe_reading(k, o, apex, of_moment, effects, f, by_parameter, by_kind);
        break;
      case Observation::Kind::apex_radius:
      case Observation::Kind::recession:
        observe_length(k, o, apex, effects, f, by_parameter, by_kind);
        break;
      case Observation::Kind::mass_loss:
        f[k] = std::log(apex.mass_mg[flat_moment(o)]);
        if (by_parameter != nullptr)
          by_parameter->row(k) = apex.mass_slopes[flat_moment(o)].transpose() / apex.mass_mg[flat_moment(o)];
        break;
    }
  }
}

void CampaignModel::observe_all(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                                Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const {
  Eigen::VectorXd each;
  Eigen::MatrixXd each_by_parameter;
  SlopesByKind    each_by_kind;
  observe_distinct(apex, effects, each, by_parameter != nullptr ? &each_by_parameter : nullptr,
                   by_kind != nullptr ? &each_by_kind : nullptr);
  f = each(distinct_of_);
  if (by_parameter != nullptr) *by_parameter = each_by_parameter(distinct_of_, Eigen::all);
  if (by_kind != nullptr) by_kind->slopes = each_by_kind.slopes(Eigen::all, distinct_of_);
}

void CampaignModel::observe(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                            SlopesByKind& by_kind) const {
  observe_all(apex, effects, f, nullptr, &by_kind);
}

void CampaignModel::observe(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                            Eigen::MatrixXd* by_parameter, Eigen::MatrixXd* by_effect) const {
  SlopesByKind by_kind;
  observe_all(apex, effects, f, by_parameter, by_effect != nullptr ? &by_kind : nullptr);
  if (by_effect == nullptr) return;
  by_effect->setZero(size(), effect_count());
  for (Eigen::Index i = 0; i < size(); ++i) {
    for (int kind = 0; kind < effect_kinds; ++kind) {
      const int column = observations_[static_cast<std::size_t>(i)].effect[kind];
      if (column >= 0) (*by_effect)(i, column) = by_kind.slopes(kind, i);
    }
  }
}

namespace {

// the first number of the wear law; how wear grows with the load where there are two loads, and by counterface but the first where there are two
std::vector<std::string> usual_of_specimens(const Scenario& scenario) {
  std::set<double>         loads;
  std::vector<std::string> faces, wanted;
  for (const EdgePlan& plan : scenario.edges) {
    for (const Step& step : plan.steps) {
      const auto* cut = std::get_if<CutStep>(&step);
      if (cut == nullptr) continue;
      if (!std::isnan(cut->load_N)) loads.insert(cut->load_N);
      const std::string& face = scenario.model.counterfaces[static_cast<std::size_t>(cut->wood)].name;
      if (std::find(faces.begin(), faces.end(), face) == faces.end()) faces.push_back(face);
    }
  }
  const auto known = fittable_parameters(scenario.model);
  for (const std::string& path : known) {
    if (path.rfind("wear.", 0) != 0) continue;
    wanted.push_back(path);
    break;
  }
  if (loads.size() > 1) wanted.emplace_back("specimen.load_exponent");
  for (std::size_t i = 1; i < faces.size(); ++i) wanted.push_back("counterface." + faces[i] + ".wear_factor");
  return wanted;
}

// steels of the edges that were read, or of all where none was; the one that wear is relative to first, where it is among them
std::vector<std::string> steels_read(const Scenario& scenario, const std::vector<Reading>& readings) {
  const Model<double>&     model = scenario.model;
  std::vector<std::string> out;
  const auto               add = [&](const EdgePlan& plan) {
    const auto         tool = static_cast<std::size_t>(plan.tool);
    const std::string& name = model.steels[static_cast<std::size_t>(model.steel_of_tool[tool])].name;
    if (std::find(out.begin(), out.end(), name) == out.end()) out.push_back(name);
  };
  for (const Reading& r : readings) {
    if (r.excluded.empty()) add(scenario.edges[static_cast<std::size_t>(r.edge)]);
  }
  if (readings.empty()) std::for_each(scenario.edges.begin(), scenario.edges.end(), add);
  std::stable_partition(out.begin(), out.end(), [](const std::string& name) { return name == "O1"; });
  return out;
}

// what tells several steels apart: what their tables say of them is an estimate, and readings of both say more
std::vector<std::string> usual_of_steels(const std::vector<std::string>& steels, bool hones, bool cuts) {
  std::vector<std::string> wanted;
  if (steels.size() < 2) return wanted;
  for (const std::string& name : steels) {
    if (hones) wanted.push_back("steel." + name + ".carbide_um");
  }
  for (std::size_t i = 1; i < steels.size() && cuts; ++i)
    wanted.push_back("steel." + steels[i] + ".wear_ratio");
  return wanted;
}

}  // namespace

std::vector<std::string> usual_parameters(const Scenario& scenario, const std::vector<Reading>& readings) {
  const bool tested = readings.empty() || std::any_of(readings.begin(), readings.end(), [](const Reading& r) {
                        return r.excluded.empty() && !std::isnan(r.reading_N);
                      });
  bool       hones = false, strops = false, cuts = false;
  for (const EdgePlan& plan : scenario.edges) {
    for (const Step& step : plan.steps) {
      hones |= std::holds_alternative<HoneStep>(step);
      strops |= std::holds_alternative<StropStep>(step);
      cuts |= std::holds_alternative<CutStep>(step);
    }
  }
  std::vector<std::string> wanted;
  if (scenario.model.specimen.in_use) return usual_of_specimens(scenario);
  if (tested) wanted = {"tester.cut_resistance_N", "tester.slope_N_per_um"};
  if (hones) wanted.insert(wanted.end(), {"coefficients.abrasion", "coefficients.radius_per_scratch"});
  if (strops && tested) wanted.emplace_back("tester.contact_distance_um");
  const auto known = fittable_parameters(scenario.model);
  if (cuts) {
    const auto first = std::find_if(known.begin(), known.end(),
                                    [](const std::string& path) { return path.rfind("wear.", 0) == 0; });
    if (first != known.end()) wanted.push_back(*first);
  }
  const auto of_steels = usual_of_steels(steels_read(scenario, readings), hones, cuts);
  wanted.insert(wanted.end(), of_steels.begin(), of_steels.end());
  return wanted;
}

}  // namespace arris
