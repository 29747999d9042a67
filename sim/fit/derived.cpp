// SPDX-License-Identifier: MIT
#include "sim/fit/derived.hpp"

// clang-format off
#include <math.h>  // NOLINT(modernize-deprecated-headers): first, as pchip.hpp of Boost 1.74 calls isnan without std
// clang-format on

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <set>
#include <utility>

#include <boost/math/interpolators/pchip.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/integrate/jet.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/read_number.hpp"
#include "sim/simulate/life.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/simulate/way.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double farthest_passes = 5000.0;
constexpr int    grid_points     = 160;

bool abrades(const Step& s) {
  return std::holds_alternative<HoneStep>(s) || std::holds_alternative<BackStep>(s);
}

// the step after which an edge is off the stones, or ready; −1 when nothing was done
int last_before(const EdgePlan& plan, bool stones_only) {
  int last = -1;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const Step& s      = plan.steps[i];
    const bool  strops = std::holds_alternative<StropStep>(s);
    if (std::holds_alternative<CutStep>(s) || (stones_only && strops)) break;
    if (abrades(s) || strops) last = static_cast<int>(i);
  }
  return last;
}

struct Start {
  const char* text;
  DerivedKind kind;
  const char* unit;
};
constexpr Start starts[] = {{"reading of ", DerivedKind::reading, "gf"},
                            {"apex radius of ", DerivedKind::apex_radius, "µm"},
                            {"passes of ", DerivedKind::passes_to_limit, "passes"}};

bool begins(const std::string& text, const std::string& with) { return text.rfind(with, 0) == 0; }

[[noreturn]] void refuse(const char* code, const std::string& what, const std::string& allowed,
                         const std::string& next) {
  throw Error(Exit::usage,
              {.code = code, .what = what, .allowed = allowed, .next = next, .key = "fit.derived"});
}

Moment moment_when(const EdgePlan& plan, const std::string& when, const WearUnits* units) {
  const std::string way     = units == nullptr ? "passes" : units->way;
  const std::string ending  = " " + way;
  const std::string allowed = (units == nullptr ? "\"off the stones\", \"ready\", " : "") +
                              fmt::format("\"at NAME\" of a read step, or \"after N {}\"", way);
  if (units == nullptr && (when == "off the stones" || when == "ready")) {
    const int step = last_before(plan, when != "ready");
    if (step < 0) {
      refuse("unknown-moment", fmt::format("edge \"{}\" meets no abrasive before its first pass", plan.name),
             "", "Ask for another moment: \"after 50 passes\".");
    }
    return {step, not_given};
  }
  if (begins(when, "at ")) {
    if (const int step = read_step(plan, when.substr(3)); step >= 0) return {step, 0.0};
    std::vector<std::string> names;
    for (const Step& s : plan.steps) {
      if (const auto* read = std::get_if<ReadStep>(&s)) names.push_back(read->read);
    }
    refuse("unknown-moment",
           fmt::format("edge \"{}\" has no read step \"{}\"", plan.name, printable(when.substr(3))),
           or_list(names), did_you_mean(when.substr(3), names, {}, "\"at {}\""));
  }
  if (begins(when, "after ") && when.size() > 6 + ending.size() &&
      when.substr(when.size() - ending.size()) == ending) {
    const std::string number = when.substr(6, when.size() - 6 - ending.size());
    double            passes = 0.0;
    const auto [end, error]  = read_number(number.data(), number.data() + number.size(), passes);
    if (error == std::errc{} && end == number.data() + number.size() && passes >= 0.0) {
      if (const Moment moment = moment_after_passes(plan, passes); moment.step >= 0) return moment;
      refuse("unknown-moment", fmt::format("edge \"{}\" never makes {:g} {}", plan.name, passes, way), "",
             "Ask for fewer, or lengthen its cut.");
    }
  }
  refuse("unknown-moment", fmt::format("\"{}\" is no moment of an edge", printable(when)), allowed, "");
}

Moment end_of(const EdgePlan& plan) { return {static_cast<int>(std::ssize(plan.steps)) - 1, not_given}; }

// how the edge is sharpened and worn at a moment of its history
void set_wear(const EdgePlan& plan, const Moment& moment, DerivedQuantity& out) {
  out.way     = way_at(plan, moment);
  out.is_worn = start_of_wear(plan, moment).step >= 0;
  out.wood    = wood_at(plan, moment);
}

}  // namespace

DerivedQuantity derived_quantity(const Scenario& scenario, const std::string& text) {
  DerivedQuantity out;
  out.name               = text;
  const bool      wears  = scenario.model.specimen.in_use;
  const WearUnits units  = wear_units(scenario.model.specimen);
  const Start     wear[] = {{"wear of ", DerivedKind::reading, units.symbol}};
  const Start *   begin  = wears ? std::begin(wear) : std::begin(starts),
              *end       = wears ? std::end(wear) : std::end(starts);
  const Start* start     = std::find_if(begin, end, [&](const Start& s) { return begins(text, s.text); });
  if (start == end && wears)
    refuse("unknown-quantity", fmt::format("\"{}\" is not a quantity that can be derived", printable(text)),
           fmt::format("\"wear of SPECIMEN after N {}\", or \"at NAME\" of a read step", units.way), "");
  if (start == end) {
    refuse("unknown-quantity", fmt::format("\"{}\" is not a quantity that can be derived", printable(text)),
           "\"reading of EDGE WHEN\", \"apex radius of EDGE WHEN\" or \"passes of EDGE to the limit\"", "");
  }
  out.kind = start->kind;
  out.unit = start->unit;
  // the longest name of an edge that fits: one may begin with another
  const std::string        rest = text.substr(std::string(start->text).size());
  std::vector<std::string> names;
  std::string              when;
  for (std::size_t e = 0; e < scenario.edges.size(); ++e) {
    const std::string& name = scenario.edges[e].name;
    names.push_back(name);
    if (!begins(rest, name + " ") ||
        (out.edge >= 0 && name.size() < scenario.edges[static_cast<std::size_t>(out.edge)].name.size()))
      continue;
    out.edge = static_cast<int>(e);
    when     = rest.substr(name.size() + 1);
  }
  if (out.edge < 0) {
    refuse("unknown-edge", fmt::format("\"{}\" names no edge of this configuration", printable(text)),
           or_list(names), did_you_mean(rest.substr(0, rest.find(' ')), names));
  }
  const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(out.edge)];
  if (out.kind != DerivedKind::passes_to_limit) {
    out.moment = moment_when(plan, when, wears ? &units : nullptr);
    set_wear(plan, out.moment, out);
    return out;
  }
  if (when != "to the limit") {
    refuse("unknown-moment", fmt::format("\"{}\" is not where passes can end", printable(when)),
           "\"passes of EDGE to the limit\"", "");
  }
  if (std::isnan(scenario.output.reading_limit_gf)) {
    refuse("no-limit", "there is no limit that passes could be counted to", "",
           "State one: [output] reading_limit_gf = 180");
  }
  if (!cuts_wood(plan)) {
    refuse("no-cut", fmt::format("edge \"{}\" cuts no wood, so it has no life", plan.name), "",
           "Add a step { cut = \"white oak\", passes = 100 } to it.");
  }
  out.limit_N            = laws::in_newton(scenario.output.reading_limit_gf);
  const EdgePlan working = working_history(plan, 1.0);
  set_wear(working, end_of(working), out);
  return out;
}

namespace {

// wear at the end of the first specimen on every counterface, under every load
std::vector<std::string> usual_of_wear(const Scenario& scenario, const std::vector<int>& edges) {
  const WearUnits                          units = wear_units(scenario.model.specimen);
  std::set<std::pair<std::string, double>> seen;
  std::vector<std::string>                 out;
  for (const int e : edges) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(e)];
    double          way  = 0.0;
    const CutStep*  last = nullptr;
    for (const Step& step : plan.steps) {
      const auto* cut = std::get_if<CutStep>(&step);
      if (cut == nullptr) continue;
      way += cut->passes;
      last = cut;
    }
    if (last == nullptr || !seen.emplace(last->cut, std::isnan(last->load_N) ? 0.0 : last->load_N).second)
      continue;
    out.push_back(fmt::format("wear of {} after {:g} {}", plan.name, way, units.way));
  }
  return out;
}

}  // namespace

std::vector<std::string> usual_derived(const Scenario& scenario, const std::vector<int>& edges) {
  std::vector<std::string> out;
  std::set<std::string>    routes;
  if (scenario.model.specimen.in_use) return usual_of_wear(scenario, edges);
  for (const int e : edges) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(e)];
    if (last_before(plan, false) < 0 || !routes.insert(plan.route).second) continue;
    out.push_back(fmt::format("reading of {} ready", plan.name));
    out.push_back(fmt::format("apex radius of {} ready", plan.name));
  }
  return out;
}

namespace {

// Keeps what is seen of an edge at counts of one step, or at its end, and when its wear began: at the start of a step before or that one.
template <class T>
class Sight final : public HistoryObserver<T> {
 public:
  Sight(std::size_t step, const std::vector<double>& counts, int wear_began, DerivedSeen<T>& seen)
      : step_(step), wear_began_(wear_began), at_end_(std::isnan(counts.front())), seen_(seen) {
    if (!at_end_) counts_ = counts;
    first_is_start_ = !at_end_ && counts.front() == 0.0;
    if (began_in(step) && !first_is_start_) counts_.insert(counts_.begin(), 0.0);
  }
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    if (i == step_) return counts_;
    return began_in(i) ? std::span<const double>(start_) : std::span<const double>{};
  }
  void at(std::size_t i, double count, const EdgeState<T>& e, const Ledger<T>&) override {
    const bool is_start = began_in(i) && count == 0.0;
    if (is_start) {
      seen_.fresh_radius = e.apex_radius_um;
      seen_.fresh_met    = e.met_radius_um();
    }
    if (i == step_ && (!is_start || first_is_start_)) keep(e);
  }
  void after(std::size_t i, const StepOutcome<T>&, const EdgeState<T>& e, const Ledger<T>&) override {
    if (i == step_ && at_end_) keep(e);
  }

 private:
  [[nodiscard]] bool began_in(std::size_t i) const { return static_cast<int>(i) == wear_began_; }
  void               keep(const EdgeState<T>& e) {
                  seen_.radius.push_back(e.apex_radius_um);
                  seen_.met.push_back(e.met_radius_um());
                  seen_.burr.push_back(e.burr_um);
  }
  static constexpr std::array start_{0.0};
  std::size_t                 step_;
  int                         wear_began_;
  bool                        at_end_         = false;
  bool                        first_is_start_ = false;
  std::vector<double>         counts_;
  DerivedSeen<T>&             seen_;
};

}  // namespace

DerivedModel::DerivedModel(const Scenario& scenario, const std::vector<FreeParameter>& parameters,
                           const DerivedQuantity& quantity)
    : scenario_(scenario),
      parameters_(parameters),
      quantity_(quantity),
      plan_(scenario.edges[static_cast<std::size_t>(quantity.edge)]),
      model_(scenario.model),
      jet_model_(convert<Jet>(scenario.model)),
      places_(places(model_, parameters)),
      jet_places_(places(jet_model_, parameters)) {
  const bool of_life = quantity.kind == DerivedKind::passes_to_limit;
  if (of_life) {
    plan_ = working_history(plan_, farthest_passes);
  } else {
    plan_.steps.resize(static_cast<std::size_t>(quantity.moment.step) + 1);
  }
  wear_began_ = start_of_wear(plan_, of_life ? end_of(plan_) : quantity.moment).step;
}

template <class T>
bool DerivedModel::see(const Model<T>& model, const EdgePlan& plan, std::size_t step,
                       const std::vector<double>& counts, Seen<T>& seen) const {
  Sight<T>     sight(step, counts, wear_began_, seen);
  EdgeState<T> state;
  Ledger<T>    ledger;
  return run_history(model, plan, tolerances_of(scenario_), state, ledger, sight).usable();
}

template <class T>
T DerivedModel::grown(const T& fresh, const T& now) const {
  return wear_began_ >= 0 ? worn_with_luck(fresh, now, growth_factor_) : now;
}

template <class T>
T DerivedModel::reading_shown(const Model<T>& model, const T& met, const T& burr) const {
  if (model.specimen.in_use) return T(wear_units(model.specimen).per_um * met);
  const auto& tool = model.tools[static_cast<std::size_t>(plan_.tool)];
  const T     half = 0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg);
  return laws::in_gram_force(
      tester_law(model.tester).reading_N(T(apex_factor_ * met), T(apex_factor_ * burr), half));
}

template <class T>
T DerivedModel::of(const Model<T>& model, const Seen<T>& seen, std::size_t k) const {
  if (quantity_.kind == DerivedKind::apex_radius)
    return T(apex_factor_ * grown(seen.fresh_radius, seen.radius[k]));
  return reading_shown(model, grown(seen.fresh_met, seen.met[k]), seen.burr[k]);
}

bool DerivedModel::set(const Eigen::VectorXd& u) {
  for (std::size_t i = 0; i < parameters_.size(); ++i) {
    const double value = parameters_[i].value(u[static_cast<Eigen::Index>(i)]);
    if (!(value >= parameters_[i].low && value <= parameters_[i].high)) return false;
    *places_[i] = value;
  }
  return true;
}

double DerivedModel::passes_of(const std::vector<double>& grid, Seen<double>& seen) const {
  for (double& met : seen.met) met = grown(seen.fresh_met, met);
  auto                                                   x1 = grid, x2 = grid;
  boost::math::interpolators::pchip<std::vector<double>> met(std::move(x1), std::move(seen.met)),
      burr(std::move(x2), std::move(seen.burr));
  const auto reading = [&](double x) { return reading_shown<double>(model_, met(x), burr(x)); };
  return passes_to_limit(grid, reading, laws::in_gram_force(quantity_.limit_N));
}

double DerivedModel::passes() {
  const std::vector<double> grid = passes_grid(farthest_passes, grid_points);
  Seen<double>              seen;
  if (!see(model_, plan_, plan_.steps.size() - 1, grid, seen)) return not_given;
  return passes_of(grid, seen);
}

double DerivedModel::value(const Eigen::VectorXd& u) { return values(u).front(); }

std::vector<double> DerivedModel::values(const Eigen::MatrixXd& u, const std::vector<ApexLuck>& luck) {
  const bool                of_life = quantity_.kind == DerivedKind::passes_to_limit;
  const std::vector<double> counts =
      of_life ? passes_grid(farthest_passes, grid_points) : std::vector<double>{quantity_.moment.count};
  const std::size_t step = of_life ? plan_.steps.size() - 1 : static_cast<std::size_t>(quantity_.moment.step);
  std::vector<double>       out(static_cast<std::size_t>(u.cols()), not_given);
  std::vector<Eigen::Index> possible;
  for (Eigen::Index c = 0; c < u.cols(); ++c) {
    if (set(u.col(c))) possible.push_back(c);
  }
  std::vector<Seen<double>> seen(possible.size());
  class Columns             final : public HistoryBatch {
   public:
    std::function<const Model<double>&(std::size_t)> model_at;
    const EdgePlan*                                  edge = nullptr;
    std::vector<Sight<double>>                       sights;
    [[nodiscard]] std::size_t                        size() const override { return sights.size(); }
    const Model<double>&                             model(std::size_t i) override { return model_at(i); }
    const EdgePlan&                                  plan(std::size_t) override { return *edge; }
    HistoryObserver<double>&                         observer(std::size_t i) override { return sights[i]; }
  } columns;
  columns.model_at = [&](std::size_t k) -> const Model<double>& {
    (void)set(u.col(possible[k]));
    return model_;
  };
  columns.edge = &plan_;
  for (Seen<double>& s : seen) columns.sights.emplace_back(step, counts, wear_began_, s);
  std::vector<LaneResult> results;
  run_batch(columns, tolerances_of(scenario_), results);
  for (std::size_t k = 0; k < possible.size(); ++k) {
    if (!results[k].status.usable()) continue;
    (void)set(u.col(possible[k]));
    if (!luck.empty()) set_luck(luck[static_cast<std::size_t>(possible[k])]);
    out[static_cast<std::size_t>(possible[k])] =
        of_life ? passes_of(counts, seen[k]) : of<double>(model_, seen[k], 0);
  }
  return out;
}

void DerivedModel::set_jets(const Eigen::VectorXd& u, std::size_t first) {
  for (std::size_t i = 0; i < parameters_.size(); ++i) {
    *jet_places_[i] = Jet(*places_[i]);
    if (i >= first && i < first + slots)
      jet_places_[i]->v[static_cast<Eigen::Index>(i - first)] =
          parameters_[i].slope(u[static_cast<Eigen::Index>(i)]);
  }
}

bool DerivedModel::see_moment(const Eigen::VectorXd& u) {
  if (seen_at_.size() == u.size() && seen_at_ == u && !seen_.empty()) return true;
  seen_.clear();
  const std::vector<double> counts{quantity_.moment.count};
  for (std::size_t first = 0; first == 0 || first < parameters_.size(); first += slots) {
    set_jets(u, first);
    Seen<Jet> seen;
    if (!see(jet_model_, plan_, plan_.steps.size() - 1, counts, seen)) {
      seen_.clear();
      return false;
    }
    seen_.push_back(std::move(seen));
  }
  seen_at_ = u;
  return true;
}

bool DerivedModel::log_value(const Eigen::VectorXd& u, double& value, Eigen::VectorXd* slopes) {
  if (!set(u)) return false;
  const auto P       = parameters_.size();
  const bool of_life = quantity_.kind == DerivedKind::passes_to_limit;
  const bool is_seen = !of_life && seen_at_.size() == u.size() && seen_at_ == u && !seen_.empty();
  if (slopes == nullptr && !of_life && !is_seen) {
    Seen<double> seen;
    if (!see(model_, plan_, plan_.steps.size() - 1, {quantity_.moment.count}, seen)) return false;
    value = std::log(of<double>(model_, seen, 0));
    return std::isfinite(value);
  }
  EdgePlan            plan = plan_;
  std::size_t         step = plan_.steps.size() - 1;
  std::vector<double> counts;
  double              life = 0.0, beside = 0.0;
  if (of_life) {
    // the passes are found without derivatives, then corrected by one of Newton's steps from readings there and beside
    life = passes();
    if (!(life > 0.0) || !std::isfinite(life)) return false;
    beside                                     = 1e-3 * life;
    counts                                     = {life - beside, life, life + beside};
    std::get<CutStep>(plan.steps[step]).passes = life + 2.0 * beside;
  } else if (!see_moment(u)) {
    return false;
  }
  if (slopes != nullptr) slopes->resize(static_cast<Eigen::Index>(P));
  for (std::size_t first = 0; first == 0 || (first < P && slopes != nullptr); first += slots) {
    set_jets(u, first);
    Seen<Jet> life_seen;
    if (of_life && !see(jet_model_, plan, step, counts, life_seen)) return false;
    const Seen<Jet>& seen   = of_life ? life_seen : seen_[first / slots];
    const auto       log_at = [&](std::size_t k) { return log(of<Jet>(jet_model_, seen, k)); };
    Jet              out    = log_at(0);
    if (of_life) {
      const Jet    here = log_at(1);
      const double rate = (log_at(2).a - out.a) / (2.0 * beside);
      if (!(rate > 0.0)) return false;
      const double exact = life - (here.a - std::log(laws::in_gram_force(quantity_.limit_N))) / rate;
      if (!(exact > 0.0)) return false;
      out.a = std::log(exact);
      out.v = -here.v / (rate * life);
    }
    if (!std::isfinite(out.a) || !out.v.allFinite()) return false;
    value = out.a;
    for (std::size_t i = first; slopes != nullptr && i < std::min(P, first + slots); ++i)
      (*slopes)[static_cast<Eigen::Index>(i)] = out.v[static_cast<Eigen::Index>(i - first)];
  }
  return true;
}

}  // namespace arris
