// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/in_hand.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/statistics/linear_algebra.hpp"
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

/// The history of an edge that goes on, and where in it readings were taken.
struct HandHistory {
  EdgePlan                    plan;          ///< ends with the cut that goes on
  double                      before = 0.0;  ///< passes since it was sharpened, before that cut
  double                      now    = 0.0;  ///< the same when it was last read
  std::vector<Moment>         moments;       ///< of its readings, ascending
  std::vector<const Reading*> readings;
  std::vector<std::size_t>    moment_of;  ///< of a reading
  std::vector<double>         grid;       ///< passes of that cut
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

// readings of the edge that count, with their moments
void add_readings(std::size_t edge, const std::vector<Reading>& readings, HandHistory& history) {
  for (const Reading& r : readings) {
    if (r.edge != static_cast<int>(edge) || !r.excluded.empty() || std::isnan(r.reading_N)) continue;
    history.readings.push_back(&r);
  }
  for (const Reading* r : history.readings) history.moments.push_back(r->moment);
  std::sort(history.moments.begin(), history.moments.end(), comes_before);
  const auto same = [](const Moment& a, const Moment& b) {
    return !comes_before(a, b) && !comes_before(b, a);
  };
  history.moments.erase(std::unique(history.moments.begin(), history.moments.end(), same),
                        history.moments.end());
  for (const Reading* r : history.readings)
    history.moment_of.push_back(static_cast<std::size_t>(
        std::lower_bound(history.moments.begin(), history.moments.end(), r->moment, comes_before) -
        history.moments.begin()));
}

HandHistory history_in_hand(const EdgePlan& plan, std::size_t edge, const std::vector<Reading>& readings,
                            double ahead) {
  HandHistory out;
  add_readings(edge, readings, out);
  if (out.readings.empty()) {
    throw Error(
        Exit::data,
        {.code = "no-readings",
         .what = fmt::format("edge \"{}\" was never read, so there is nothing to go on from", plan.name),
         .next = "Add readings of it, or leave --from-now away: the next edge of its kind."});
  }
  const auto cut = cut_that_goes_on(plan, out.moments.back());
  if (!cut) {
    throw Error(Exit::usage,
                {.code = "no-cut",
                 .what = fmt::format("edge \"{}\" cuts no wood after its last reading", plan.name),
                 .next = "Add a step { cut = \"white oak\", passes = 100 } after it."});
  }
  out.plan = plan;
  out.plan.steps.resize(*cut + 1);
  for (std::size_t i = *cut; i-- > 0 && !sharpens(plan.steps[i]);) {
    if (is_cut(plan.steps[i])) out.before += std::get<CutStep>(plan.steps[i]).passes;
  }
  const Moment& last = out.moments.back();
  const double  done = last.step < static_cast<int>(*cut)    ? 0.0
                       : last.step == static_cast<int>(*cut) ? last.count
                                                             : std::get<CutStep>(plan.steps[*cut]).passes;
  out.now            = out.before + done;
  // later reads of the same cut, at its end, are moments of it
  for (Moment& m : out.moments) {
    if (m.step > static_cast<int>(*cut)) m = {static_cast<int>(*cut), done};
  }
  std::get<CutStep>(out.plan.steps.back()).passes = done + ahead;
  for (const double x : passes_grid(ahead, hand_points)) out.grid.push_back(done + x);
  return out;
}

// passes since it was sharpened, at its readings and then along the grid
std::vector<double> passes_in_wood(const HandHistory& history) {
  std::vector<double> out;
  for (const Moment& m : history.moments) {
    double passes = 0.0;
    for (std::size_t i = 0; i < history.plan.steps.size() && static_cast<int>(i) <= m.step; ++i) {
      const Step& step = history.plan.steps[i];
      if (sharpens(step)) passes = 0.0;
      if (is_cut(step)) passes += static_cast<int>(i) == m.step ? m.count : std::get<CutStep>(step).passes;
    }
    out.push_back(passes);
  }
  for (const double x : history.grid) out.push_back(history.before + x);
  return out;
}

/// What a history shows at the moments of readings and along the cut that goes on.
class Sighting final : public HistoryObserver<double> {
 public:
  explicit Sighting(const HandHistory& history) : history_(history), points_(history.plan.steps.size()) {
    for (const Moment& m : history.moments) points_[static_cast<std::size_t>(m.step)].push_back(m.count);
    auto& last = points_.back();
    last.insert(last.end(), history.grid.begin(), history.grid.end());
    std::sort(last.begin(), last.end());
    last.erase(std::unique(last.begin(), last.end()), last.end());
  }
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step& step) const override {
    return is_cut(step) ? std::span<const double>(points_[i]) : std::span<const double>{};
  }
  void at(std::size_t i, double count, const EdgeState<double>& e, const Ledger<double>&) override {
    see(i, count, e);
  }
  void after(std::size_t i, const StepOutcome<double>&, const EdgeState<double>& e,
             const Ledger<double>&) override {
    if (is_cut(history_.plan.steps[i])) return;
    see(i, 0.0, e);
    if (sharpens(history_.plan.steps[i])) fresh_um_ = e.met_radius_um();
  }
  struct Seen {
    EdgeState<double> edge;
    double            fresh_um;  ///< radius that was met when its wear began
  };
  std::vector<Seen> at_moments, along;  ///< by moment; by point of the grid

 private:
  void see(std::size_t step, double count, const EdgeState<double>& e) {
    const Moment now{static_cast<int>(step), count};
    for (const Moment& m : history_.moments) {
      // a step that takes no time is one moment, however it is counted
      const bool instant = !is_cut(history_.plan.steps[step]);
      if (m.step == now.step && (instant || m.count == now.count)) at_moments.push_back(seen_of(e));
    }
    if (step + 1 == history_.plan.steps.size() &&
        std::binary_search(history_.grid.begin(), history_.grid.end(), count))
      along.push_back(seen_of(e));
  }
  [[nodiscard]] Seen seen_of(const EdgeState<double>& e) const {
    // wear that began before the history did is not told apart: no growth then
    return {e, std::isnan(fresh_um_) ? e.met_radius_um() : fresh_um_};
  }

  const HandHistory&               history_;
  std::vector<std::vector<double>> points_;  ///< by step
  double                           fresh_um_ = not_given;
};

/// The luck of the edge as one member has it: logs of the factors on its apex and on what that grows in wood.
struct HandLuck {
  Eigen::Vector2d mode  = Eigen::Vector2d::Zero();
  Eigen::Matrix2d lower = Eigen::Matrix2d::Zero();  ///< of its covariance
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

Eigen::MatrixXd covariance_of(const std::vector<const Reading*>& readings, const Spread& spread) {
  const auto      n = static_cast<Eigen::Index>(readings.size());
  Eigen::MatrixXd v(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Reading& a = *readings[static_cast<std::size_t>(i)];
    for (Eigen::Index j = 0; j < n; ++j) {
      const Reading& b = *readings[static_cast<std::size_t>(j)];
      v(i, j)          = (a.operator_name == b.operator_name ? spread.person * spread.person : 0.0) +
                (a.filament_lot == b.filament_lot ? spread.lot * spread.lot : 0.0) +
                (a.test_day == b.test_day ? spread.day * spread.day : 0.0);
    }
    v(i, i) +=
        std::isnan(a.reading_cv) ? spread.reading * spread.reading : std::log1p(a.reading_cv * a.reading_cv);
  }
  return v;
}

HandLuck luck_of(const HandHistory& history, const Sighting& seen, const HandTester& tester,
                 const Spread& spread, const Eigen::VectorXd& misses) {
  HandLuck              out;
  const Eigen::Vector2d sd{spread.edge, spread.rate};  // luck that does not scatter stays 0
  const Cholesky        v(covariance_of(history.readings, spread));
  const auto            n = static_cast<Eigen::Index>(history.readings.size());
  Eigen::VectorXd       miss(n);
  Eigen::MatrixXd       slope(n, 2);
  const auto            reads = [&](Eigen::Index i, const Eigen::Vector2d& z) {
    const std::size_t m = history.moment_of[static_cast<std::size_t>(i)];
    return std::log(tester.reading_N(seen.at_moments[m], sd.cwiseProduct(z))) +
           misses[static_cast<Eigen::Index>(m)];
  };
  // z = luck over its standard deviation: Gauss–Newton, priors included
  constexpr double beside = 1e-4;
  Eigen::Vector2d  z      = Eigen::Vector2d::Zero();
  Eigen::MatrixXd  covariance;
  for (int round = 0; round < 30; ++round) {
    for (Eigen::Index i = 0; i < n; ++i) {
      miss[i] = std::log(history.readings[static_cast<std::size_t>(i)]->reading_N) - reads(i, z);
      for (Eigen::Index k = 0; k < 2; ++k) {
        const Eigen::Vector2d step = beside * Eigen::Vector2d::Unit(k);
        slope(i, k)                = (reads(i, z + step) - reads(i, z - step)) / (2.0 * beside);
      }
    }
    const Eigen::MatrixXd weighted = v.solve(slope);
    covariance =
        Cholesky(Eigen::MatrixXd(slope.transpose() * weighted + Eigen::MatrixXd::Identity(2, 2))).inverse();
    const Eigen::Vector2d step = covariance * (weighted.transpose() * miss - z);
    z += step.cwiseMax(-2.0).cwiseMin(2.0);
    if (step.cwiseAbs().maxCoeff() < 1e-8) break;
  }
  out.mode  = sd.cwiseProduct(z);
  out.lower = sd.asDiagonal() * Cholesky(covariance).lower();
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
  Eigen::VectorXd moments, along;  ///< what the laws miss at its readings, and along the grid
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

HandMember member_in_hand(const Scenario& scenario, const Model<double>& model, const HandHistory& history,
                          const Spread& spread, const HandSettings& settings, const HandChance& chance) {
  HandMember        out;
  Sighting          seen(history);
  EdgeState<double> state;
  Ledger<double>    ledger;
  if (!run_history(model, history.plan, tolerances_of(scenario), state, ledger, seen).usable()) return out;
  const auto&      tool = model.tools[static_cast<std::size_t>(history.plan.tool)];
  const HandTester tester{tester_law(model.tester),
                          0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg)};
  const HandLuck   luck = luck_of(history, seen, tester, spread, chance.moments);
  out.usable            = true;
  out.luck              = luck.mode + luck.lower * chance.luck;
  for (std::size_t k = 0; k < seen.along.size(); ++k)
    out.curve_N.push_back(tester.reading_N(seen.along[k], out.luck) *
                          std::exp(chance.along[static_cast<Eigen::Index>(k)]));
  const double single = std::sqrt(spread.reading * spread.reading + spread.person * spread.person +
                                  spread.lot * spread.lot + spread.day * spread.day);
  out.next_N          = out.curve_N.front() * std::exp(single * chance.reading);
  const double limit  = settings.end == EndBy::reading ? settings.life.limit_N : settings.limit_um;
  out.left            = passes_left(history, values_of_end(seen, settings, out, tester.half), limit);
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
  // moments and grid together, in their order, so that one draw serves both
  const std::vector<double> at = passes_in_wood(history);
  const Eigen::MatrixXd     misses =
      drawn_discrepancy(ensemble.discrepancy, at, ensemble.size(), settings.life.seed + 2);
  const auto before = static_cast<Eigen::Index>(history.moments.size());
  for (std::size_t i = 0; i < ensemble.size(); ++i) {
    const auto   row  = static_cast<Eigen::Index>(i);
    const double apex = normal(engine), reading = normal(engine), rate = normal(engine);
    chances.push_back({{apex, rate},
                       reading,
                       misses.row(row).head(before).transpose(),
                       misses.row(row).tail(misses.cols() - before).transpose()});
  }
  std::vector<HandMember> members(ensemble.size());
  for_each_index(members.size(), settings.life.threads, [&](std::size_t i) {
    members[i] = member_in_hand(scenario, member_of(scenario.model, ensemble, i), history,
                                ensemble.spreads[i], settings, chances[i]);
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
  out.readings         = static_cast<int>(history.readings.size());
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
