// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/in_hand.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include <Eigen/Eigenvalues>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/edge_moments.hpp"
#include "sim/fit/effect_modes.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr int hand_points = 120;

bool is_cut(const Step& step) { return std::holds_alternative<CutStep>(step); }
bool sharpens(const Step& step) {
  return std::holds_alternative<HoneStep>(step) || std::holds_alternative<BackStep>(step) ||
         std::holds_alternative<StropStep>(step);
}

/// The history of an edge that goes on.
struct HandHistory {
  EdgePlan            plan;            ///< ends with the cut that goes on
  int                 readings = 0;    ///< of this edge
  double              before   = 0.0;  ///< passes since it was sharpened, before that cut
  double              now      = 0.0;  ///< the same when it was last read
  std::vector<double> grid;            ///< passes of that cut
};

bool comes_before(const Moment& a, const Moment& b) {
  return a.step != b.step ? a.step < b.step : a.count < b.count;
}

// the cut that an edge is in at a moment, or which comes next; none where no cut follows its last sharpening
std::optional<std::size_t> cut_that_goes_on(const EdgePlan& plan, const Moment& last) {
  const auto step = static_cast<std::size_t>(last.step);
  for (std::size_t i = step + 1; i-- > 0;) {
    if (is_cut(plan.steps[i])) return i;
    if (sharpens(plan.steps[i])) break;
  }
  for (std::size_t i = step + 1; i < plan.steps.size(); ++i) {
    if (is_cut(plan.steps[i])) return i;
    if (sharpens(plan.steps[i])) return std::nullopt;
  }
  return std::nullopt;
}

/// When an edge was last read, and how often in all.
struct LastRead {
  Moment moment;
  int    readings = 0;
};

LastRead last_read(int edge, const std::vector<Reading>& readings) {
  LastRead out;
  for (const Reading& r : readings) {
    if (r.edge != edge || !r.excluded.empty() || std::isnan(r.reading_N)) continue;
    if (out.readings++ == 0 || comes_before(out.moment, r.moment)) out.moment = r.moment;
  }
  return out;
}

HandHistory history_in_hand(const EdgePlan& plan, std::size_t edge, const std::vector<Reading>& readings,
                            double ahead) {
  const auto [last, count] = last_read(static_cast<int>(edge), readings);
  if (count == 0) {
    throw Error(
        Exit::data,
        {.code = "no-readings",
         .what = fmt::format("edge \"{}\" was never read, so there is nothing to go on from", plan.name),
         .next = "Add readings of it, or leave --from-now away: the next edge of its kind."});
  }
  const auto cut = cut_that_goes_on(plan, last);
  if (!cut) {
    throw Error(Exit::usage,
                {.code = "no-cut",
                 .what = fmt::format("edge \"{}\" cuts no wood after its last reading", plan.name),
                 .next = "Add a step { cut = \"white oak\", passes = 100 } after it."});
  }
  HandHistory out;
  out.plan     = plan;
  out.readings = count;
  out.plan.steps.resize(*cut + 1);
  for (std::size_t i = *cut; i-- > 0 && !sharpens(plan.steps[i]);) {
    if (is_cut(plan.steps[i])) out.before += std::get<CutStep>(plan.steps[i]).passes;
  }
  const double done                               = last.step < static_cast<int>(*cut)    ? 0.0
                                                    : last.step == static_cast<int>(*cut) ? last.count
                                                                                          : std::get<CutStep>(plan.steps[*cut]).passes;
  out.now                                         = out.before + done;
  std::get<CutStep>(out.plan.steps.back()).passes = done + ahead;
  for (const double x : passes_grid(ahead, hand_points)) out.grid.push_back(done + x);
  return out;
}

/// What a history shows along the cut that goes on.
class Sighting final : public HistoryObserver<double> {
 public:
  explicit Sighting(const HandHistory& history)
      : history_(history),
        began_(static_cast<std::size_t>(
            start_of_wear(history.plan, {static_cast<int>(std::ssize(history.plan.steps)) - 1, not_given})
                .step)),
        points_(history.grid) {
    if (is_last(began_) && points_.front() > 0.0) points_.insert(points_.begin(), 0.0);
  }
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    static constexpr double start = 0.0;
    if (is_last(i)) return points_;
    return i == began_ ? std::span<const double>(&start, 1) : std::span<const double>{};
  }
  void at(std::size_t i, double count, const EdgeState<double>& e, const Ledger<double>&) override {
    if (i == began_ && count == 0.0) fresh_um_ = e.met_radius_um();
    if (is_last(i) && count >= history_.grid.front()) along.push_back({e, fresh_um_});
  }
  struct Seen {
    EdgeState<double> edge;
    double            fresh_um;  ///< radius that was met when its wear began
  };
  std::vector<Seen> along;  ///< by point of the grid

 private:
  [[nodiscard]] bool is_last(std::size_t i) const { return i + 1 == history_.plan.steps.size(); }

  const HandHistory&  history_;
  std::size_t         began_;   ///< step in which its wear began
  std::vector<double> points_;  ///< of the last step
  double              fresh_um_ = not_given;
};

/// A model of readings of this edge.
struct HandTester {
  laws::TesterLaw<double> law;
  double                  half;
  [[nodiscard]] double    reading_N(const Sighting::Seen& s, const Eigen::Vector2d& luck) const {
       const double apex = std::exp(luck[0]);
       return law.reading_N(apex * worn_with_luck(s.fresh_um, s.edge.met_radius_um(), std::exp(luck[1])),
                            apex * s.edge.burr_um, half);
  }
};

/// Passes of wood at which each reading was taken, on the curve that laws may miss; NaN before the last stone or strop.
std::vector<double> passes_of(const Scenario& scenario, const std::vector<Reading>& readings) {
  std::vector<double> out;
  for (const Reading& r : readings) {
    const EdgePlan& plan  = scenario.edges[static_cast<std::size_t>(r.edge)];
    const Phase     phase = phase_at(plan, r.moment);
    const auto      after =
        plan.steps.begin() + std::min<std::ptrdiff_t>(r.moment.step + 1, std::ssize(plan.steps));
    const auto next =
        std::find_if(after, plan.steps.end(), [](const Step& s) { return is_cut(s) || sharpens(s); });
    const bool to_be_sharpened = next != plan.steps.end() && sharpens(*next);
    out.push_back(phase.passes > 0.0 || !to_be_sharpened ? phase.passes : not_given);
  }
  return out;
}

/// What the laws miss, by member, at each reading and along the cut that goes on.
struct HandMisses {
  Eigen::MatrixXd at_readings, along;  ///< members × readings, members × points of the grid; logs
};

HandMisses misses_in_hand(const Scenario& scenario, const Ensemble& ensemble, const HandHistory& history,
                          const std::vector<Reading>& readings, unsigned long long seed) {
  const std::vector<double> of_readings = passes_of(scenario, readings);
  std::vector<double>       all;
  for (const double x : of_readings) {
    if (!std::isnan(x)) all.push_back(x);
  }
  for (const double x : history.grid) all.push_back(history.before + x);
  std::sort(all.begin(), all.end());
  all.erase(std::unique(all.begin(), all.end()), all.end());
  // one draw for both, so that what was missed where it was read is missed as it goes on
  const Eigen::MatrixXd drawn = drawn_misses(ensemble, all, seed);
  const auto place = [&](double x) { return std::lower_bound(all.begin(), all.end(), x) - all.begin(); };
  const auto rows  = drawn.rows();
  HandMisses out{Eigen::MatrixXd::Zero(rows, std::ssize(readings)),
                 Eigen::MatrixXd(rows, std::ssize(history.grid))};
  for (std::size_t i = 0; i < of_readings.size(); ++i) {
    if (!std::isnan(of_readings[i]))
      out.at_readings.col(static_cast<Eigen::Index>(i)) = drawn.col(place(of_readings[i]));
  }
  for (std::size_t k = 0; k < history.grid.size(); ++k)
    out.along.col(static_cast<Eigen::Index>(k)) = drawn.col(place(history.before + history.grid[k]));
  return out;
}

/// What one member says of the edge.
struct HandMember {
  bool                usable = false;
  Eigen::Vector2d     luck   = Eigen::Vector2d::Zero();
  double              next_N = not_given, left = not_given;
  std::vector<double> curve_N;
};

/// Random numbers of one member: its luck, and its next reading.
struct HandChance {
  Eigen::Vector2d luck;
  double          reading;
};

// passes left from a curve along the grid
double passes_left(const HandHistory& history, const std::vector<double>& values, double limit) {
  if (values.front() >= limit) return 0.0;
  std::vector<double> ahead;
  for (const double x : history.grid) ahead.push_back(x - history.grid.front());
  const auto value = [&](double x) {
    const auto above =
        static_cast<std::size_t>(std::upper_bound(ahead.begin(), ahead.end() - 1, x) - ahead.begin());
    const double share = (x - ahead[above - 1]) / (ahead[above] - ahead[above - 1]);
    return values[above - 1] + share * (values[above] - values[above - 1]);
  };
  return passes_to_limit(ahead, values, value, limit);
}

std::vector<double> values_of_end(const Sighting& seen, const HandSettings& settings,
                                  const HandMember& member, double half) {
  if (settings.end == EndBy::reading) return member.curve_N;
  std::vector<double> out;
  const double        per_radius =
      settings.end == EndBy::radius ? 1.0 : laws::Wedge<double>{2.0 * half}.tip_setback(1.0);
  for (const Sighting::Seen& s : seen.along) {
    const double met   = s.edge.met_radius_um();
    const double extra = worn_with_luck(s.fresh_um, met, std::exp(member.luck[1])) - met;
    out.push_back(per_radius * std::exp(member.luck[0]) * (s.edge.apex_radius_um + extra));
  }
  return out;
}

/// What is asked of every member.
struct HandTask {
  const Scenario&             scenario;
  int                         edge;
  const HandHistory&          history;
  const std::vector<Reading>& readings;
  const HandMisses&           misses;
  const HandSettings&         settings;
};

/// What all readings tell a member of the luck of the edge; none where the histories of the others cannot be run.
std::optional<EffectModes::EdgeLuck> luck_in_hand(const HandTask& task, const Model<double>& model,
                                                  const Spread& spread, const Eigen::VectorXd& misses) {
  FitSettings settings          = task.settings.fit;
  settings.edge_effect          = spread.edge > 0.0;
  settings.rate_effect          = spread.rate > 0.0;
  settings.operator_effect      = spread.person > 0.0;
  settings.lot_effect           = spread.lot > 0.0;
  settings.day_effect           = spread.day > 0.0;
  std::vector<Reading> readings = task.readings;
  for (std::size_t i = 0; i < readings.size(); ++i)
    readings[i].reading_N *= std::exp(-misses[static_cast<Eigen::Index>(i)]);
  Scenario here = task.scenario;
  here.model    = model;
  const CampaignModel campaign(here, readings, {}, settings);
  const auto          apex = campaign.apex(Eigen::VectorXd(0), false);
  if (!apex.usable) return std::nullopt;
  return EffectModes(campaign).luck_of(apex, spread, task.edge);
}

HandMember member_in_hand(const HandTask& task, std::size_t i, const Model<double>& model,
                          const Spread& spread, const HandChance& chance) {
  HandMember        out;
  const auto        row = static_cast<Eigen::Index>(i);
  Sighting          seen(task.history);
  EdgeState<double> state;
  Ledger<double>    ledger;
  if (!run_history(model, task.history.plan, tolerances_of(task.scenario), state, ledger, seen).usable())
    return out;
  const auto luck = luck_in_hand(task, model, spread, task.misses.at_readings.row(row).transpose());
  if (!luck) return out;
  const auto&      tool = model.tools[static_cast<std::size_t>(task.history.plan.tool)];
  const HandTester tester{tester_law(model.tester),
                          0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg)};
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> of_luck(luck->covariance);
  out.usable = true;
  out.luck   = luck->mode + of_luck.operatorSqrt() * chance.luck;
  for (std::size_t k = 0; k < seen.along.size(); ++k)
    out.curve_N.push_back(tester.reading_N(seen.along[k], out.luck) *
                          std::exp(task.misses.along(row, static_cast<Eigen::Index>(k))));
  const double single          = std::sqrt(spread.reading * spread.reading + spread.person * spread.person +
                                           spread.lot * spread.lot + spread.day * spread.day);
  out.next_N                   = out.curve_N.front() * std::exp(single * chance.reading);
  const HandSettings& settings = task.settings;
  const double        limit    = settings.end == EndBy::reading ? settings.life.limit_N : settings.limit_um;
  out.left = passes_left(task.history, values_of_end(seen, settings, out, tester.half), limit);
  return out;
}

Band hand_band(const std::vector<HandMember>& members, double share,
               const std::function<double(const HandMember&)>& value) {
  std::vector<double> values;
  for (const HandMember& m : members) {
    if (m.usable) values.push_back(value(m));
  }
  std::sort(values.begin(), values.end());
  return {quantile_of_sorted(values, 0.5 - 0.5 * share), quantile_of_sorted(values, 0.5),
          quantile_of_sorted(values, 0.5 + 0.5 * share)};
}

std::string limit_text(const HandSettings& s) {
  return s.end == EndBy::reading  ? fmt::format("reads {:.0f} gf", laws::in_gram_force(s.life.limit_N))
         : s.end == EndBy::radius ? fmt::format("has an apex radius of {} µm", plain(s.limit_um))
                                  : fmt::format("has receded by {} µm", plain(s.limit_um));
}

std::string hand_headline(const HandForecast& f) {
  const double ahead = f.settings.life.passes;
  const auto   gf    = [](double newton) { return laws::in_gram_force(newton); };
  const auto   said  = [&](double passes) { return passes_text(rounded_passes(passes), ahead); };
  std::string  out   = fmt::format("Edge {} has made {} in {} since it was sharpened. ", f.edge,
                                   counted(std::llround(f.now), "pass", "passes"), f.wood);
  if (f.left.middle == 0.0) {
    out += fmt::format("By its {} it already {}", counted(f.readings, "reading"), limit_text(f.settings));
    out += " or is past that: touch it up.";
  } else {
    out += fmt::format("By its {} it {} after about {} more passes; {:.0f} in 10 such: {} to {}.",
                       counted(f.readings, "reading"), limit_text(f.settings), said(f.left.middle),
                       10.0 * f.settings.life.share, said(f.left.low), said(f.left.high));
  }
  out += fmt::format(" Read now, it shows {:.0f} to {:.0f} gf in {:.0f} of 10 readings.", gf(f.next_N.low),
                     gf(f.next_N.high), 10.0 * f.settings.life.share);
  return out;
}

}  // namespace

HandForecast forecast_in_hand(const Scenario& scenario, const Ensemble& ensemble, std::size_t edge,
                              const std::vector<Reading>& readings, const HandSettings& settings) {
  const EdgePlan&           plan    = scenario.edges[edge];
  const HandHistory         history = history_in_hand(plan, edge, readings, settings.life.passes);
  boost::random::mt19937_64 engine(settings.life.seed);
  boost::random::normal_distribution<double> normal;
  std::vector<HandChance>                    chances;
  for (std::size_t i = 0; i < ensemble.size(); ++i) {
    const double apex = normal(engine), reading = normal(engine), rate = normal(engine);
    chances.push_back({{apex, rate}, reading});
  }
  std::vector<Reading> counted_readings = readings;
  std::erase_if(counted_readings, [](const Reading& r) { return !r.excluded.empty(); });
  const HandMisses misses =
      misses_in_hand(scenario, ensemble, history, counted_readings, settings.life.seed + 2);
  const HandTask          task{scenario, static_cast<int>(edge), history, counted_readings, misses, settings};
  std::vector<HandMember> members(ensemble.size());
  for_each_index(members.size(), settings.life.threads, [&](std::size_t i) {
    members[i] =
        member_in_hand(task, i, member_of(scenario.model, ensemble, i), ensemble.spreads[i], chances[i]);
  });
  HandForecast out;
  out.members = static_cast<std::size_t>(
      std::count_if(members.begin(), members.end(), [](const HandMember& m) { return m.usable; }));
  if (out.members == 0) {
    throw Error(Exit::integration,
                {.code = "no-member",
                 .what = fmt::format("the history of edge \"{}\" cannot be run in any member", plan.name)});
  }
  const CutStep& cut   = std::get<CutStep>(history.plan.steps.back());
  const double   share = settings.life.share;
  out.settings         = settings;
  out.edge             = plan.name;
  out.wood             = cut.cut;
  out.readings         = history.readings;
  out.pass_m           = cut.pass_m;
  out.now              = history.now;
  out.luck             = hand_band(members, share, [](const HandMember& m) { return std::exp(m.luck[0]); });
  out.next_N           = hand_band(members, share, [](const HandMember& m) { return m.next_N; });
  out.left             = hand_band(members, share, [](const HandMember& m) { return m.left; });
  for (std::size_t k = 0; k < history.grid.size(); ++k) {
    out.at.push_back(history.before + history.grid[k]);
    out.curve_N.push_back(hand_band(members, share, [&](const HandMember& m) { return m.curve_N[k]; }));
  }
  return out;
}

Answer hand_answer(const HandForecast& f, const Ensemble& ensemble) {
  const auto gf     = [](double newton) { return laws::in_gram_force(newton); };
  const auto finite = [](double passes) { return std::isinf(passes) ? not_given : passes; };
  Answer     answer;
  answer.kind     = "forecast";
  answer.headline = hand_headline(f);
  answer.remark(
      About::certainty,
      fmt::format(
          "Its apex is {} times that of the mean edge of its kind ({:.0f} in 10: {} to {}), by its own readings; "
          "its next reading allows for the scatter of a single one, for another operator, lot and day.",
          plain(f.luck.middle, 2), 10.0 * f.settings.life.share, plain(f.luck.low, 2),
          plain(f.luck.high, 2)));
  AnswerTable                     left{.name = "left", .says = "The edge in hand", .axis = "edge"};
  const std::vector<HandForecast> one{f};
  ItemColumns<HandForecast>       columns(left, one);
  columns.text("edge", "edge", "name of the edge", &HandForecast::edge);
  columns.text("wood", "wood", "wood it goes on in", &HandForecast::wood);
  columns.number("passes_now", "1", "passes made", "passes since it was sharpened, when it was last read",
                 &HandForecast::now);
  columns.number(
      "passes_left", "1", "passes left", "passes to the limit, median; missing beyond those looked at",
      [&](const HandForecast& h) { return finite(h.left.middle); }, 2);
  columns.number(
      "passes_left_low", "1", "from", "lower end of its band",
      [&](const HandForecast& h) { return finite(h.left.low); }, 2);
  columns.number(
      "passes_left_high", "1", "to", "upper end of its band",
      [&](const HandForecast& h) { return finite(h.left.high); }, 2);
  columns.number("next_reading_low_gf", "gf", "next reading gf from", "its next reading, were it taken now",
                 [&](const HandForecast& h) { return gf(h.next_N.low); });
  columns.number("next_reading_high_gf", "gf", "to ", "upper end of that",
                 [&](const HandForecast& h) { return gf(h.next_N.high); });
  columns.number("luck", "1", "", "factor on its apex", [](const HandForecast& h) { return h.luck.middle; });
  AnswerTable curves{
      .name = "curves", .says = "Reading against passes", .axis = "point", .on_terminal = false};
  const auto of = [&](double Band::*end) {
    std::vector<double> values;
    for (const Band& b : f.curve_N) values.push_back(gf(b.*end));
    return values;
  };
  curves.text("edge", "", "name of the edge", std::vector<std::string>(f.at.size(), f.edge));
  curves.number("passes", "1", "", "passes since the edge was sharpened", f.at);
  curves.number("reading_gf", "gf", "", "reading of the edge in hand, median", of(&Band::middle));
  curves.number("reading_low_gf", "gf", "", "lower end of its band", of(&Band::low));
  curves.number("reading_high_gf", "gf", "", "upper end of its band", of(&Band::high));
  answer.tables   = {std::move(left), std::move(curves)};
  answer.rests_on = ensemble.rests_on;
  answer.settings = {{f.settings.end == EndBy::reading ? "limit_gf" : "limit_um",
                      f.settings.end == EndBy::reading ? gf(f.settings.life.limit_N) : f.settings.limit_um},
                     {"passes", f.settings.life.passes},
                     {"share", f.settings.life.share},
                     {"members", static_cast<double>(f.members)}};
  return answer;
}

}  // namespace arris
