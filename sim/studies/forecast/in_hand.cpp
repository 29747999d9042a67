// SPDX-License-Identifier: MIT
#include "sim/studies/forecast/in_hand.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <optional>

#include <boost/random/chi_squared_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/edge_moments.hpp"
#include "sim/fit/effect_modes.hpp"
#include "sim/fit/missed_wear.hpp"
#include "sim/numbers.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/simulate/way.hpp"
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

/// The history of an edge that goes on.
struct HandHistory {
  /// Where it is looked at.
  struct Look {
    std::size_t step;    ///< a cut
    double      count;   ///< passes of it
    double      passes;  ///< since the edge was sharpened
  };
  EdgePlan          plan;            ///< ends with the last cut that is looked at
  int               readings = 0;    ///< of this edge
  double            now      = 0.0;  ///< passes since it was sharpened, when it was last read
  std::vector<Look> looks;           ///< ascending
};

bool comes_before(const Moment& a, const Moment& b) {
  return a.step != b.step ? a.step < b.step : a.count < b.count;
}

// passes of the cuts before a step, back to where the edge was sharpened
double passes_before(const EdgePlan& plan, std::size_t step) {
  double passes = 0.0;
  for (std::size_t i = step; i-- > 0 && !sharpens(plan.steps[i]);) {
    if (is_cut(plan.steps[i])) passes += std::get<CutStep>(plan.steps[i]).passes;
  }
  return passes;
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

// up to where it was last read, and the passes made in the cut that goes on, its last step
std::pair<HandHistory, double> history_up_to_now(const EdgePlan& plan, std::size_t edge,
                                                 const std::vector<Reading>& readings) {
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
  const double done = last.step < static_cast<int>(*cut)    ? 0.0
                      : last.step == static_cast<int>(*cut) ? last.count
                                                            : std::get<CutStep>(plan.steps[*cut]).passes;
  out.now           = passes_before(plan, *cut) + done;
  return {std::move(out), done};
}

// as it goes on in the wood that it is in
HandHistory history_in_hand(const EdgePlan& plan, std::size_t edge, const std::vector<Reading>& readings,
                            double ahead) {
  auto [out, done]                                = history_up_to_now(plan, edge, readings);
  const std::size_t cut                           = out.plan.steps.size() - 1;
  const double      before                        = passes_before(plan, cut);
  std::get<CutStep>(out.plan.steps.back()).passes = done + ahead;
  for (const double x : passes_grid(ahead, hand_points))
    out.looks.push_back({cut, done + x, before + (done + x)});
  return out;
}

// as it went on by its own plan, up to the last of these moments
HandHistory history_as_planned(const EdgePlan& plan, std::size_t edge, const std::vector<Reading>& readings,
                               const std::vector<Moment>& moments) {
  HandHistory out = history_up_to_now(plan, edge, readings).first;
  for (const Moment& m : moments) {
    auto cut = static_cast<std::size_t>(m.step);
    while (!is_cut(plan.steps[cut])) --cut;  // a reading step shows the end of the cut before it
    const double whole = std::get<CutStep>(plan.steps[cut]).passes;
    const double count = static_cast<int>(cut) == m.step && !std::isnan(m.count) ? m.count : whole;
    out.looks.push_back({cut, count, passes_before(plan, cut) + count});
  }
  out.plan = plan;
  out.plan.steps.resize(out.looks.back().step + 1);
  return out;
}

/// What a history shows where it is looked at.
class Sighting final : public HistoryObserver<double> {
 public:
  explicit Sighting(const HandHistory& history)
      : began_(static_cast<std::size_t>(
            start_of_wear(history.plan, {static_cast<int>(std::ssize(history.plan.steps)) - 1, not_given})
                .step)),
        counts_(history.plan.steps.size()),
        first_(history.plan.steps.size(), infinity) {
    for (const HandHistory::Look& look : history.looks) counts_[look.step].push_back(look.count);
    for (std::size_t i = 0; i < counts_.size(); ++i) {
      if (!counts_[i].empty()) first_[i] = counts_[i].front();
    }
    if (first_[began_] > 0.0) counts_[began_].insert(counts_[began_].begin(), 0.0);
  }
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    return counts_[i];
  }
  void at(std::size_t i, double count, const EdgeState<double>& e, const Ledger<double>&) override {
    if (i == began_ && count == 0.0) fresh_ = e;
    if (count >= first_[i]) along.push_back({e, fresh_});
  }
  struct Seen {
    EdgeState<double> edge, fresh;  ///< now, and when its wear began
  };
  std::vector<Seen> along;  ///< by look

 private:
  std::size_t                      began_;   ///< step in which its wear began
  std::vector<std::vector<double>> counts_;  ///< by step: of the looks, and 0 where its wear began
  std::vector<double>              first_;   ///< by step: of the first look
  EdgeState<double>                fresh_;
};

/// Passes of wood on the curve that laws may miss; NaN before the last stone or strop.
double passes_on_curve(const EdgePlan& plan, const Moment& moment) {
  const Phase phase = phase_at(plan, moment);
  const auto  after = plan.steps.begin() + std::min<std::ptrdiff_t>(moment.step + 1, std::ssize(plan.steps));
  const auto  next =
      std::find_if(after, plan.steps.end(), [](const Step& s) { return is_cut(s) || sharpens(s); });
  const bool to_be_sharpened = next != plan.steps.end() && sharpens(*next);
  return phase.passes > 0.0 || !to_be_sharpened ? phase.passes : not_given;
}

/// What is missed, by member: of every way (logs of the apex) and at every count of passes that is looked at (logs of the reading).
class HandMisses {
 public:
  HandMisses(const CampaignModel& campaign, const Ensemble& ensemble, const HandHistory& history,
             unsigned long long seed) {
    const auto add = [&](const EdgePlan& plan, const Moment& moment) {
      const Key key = key_of(plan, moment);
      if (shared_.count(key) == 0)
        shared_.emplace(key, shared_luck(ensemble, key.first, key.second, seed + 1));
    };
    passes_.push_back(0.0);
    for (std::size_t e = 0; e < campaign.moments().size(); ++e) {
      for (const Moment& m : campaign.moments()[e]) {
        add(campaign.scenario().edges[e], m);
        const double x = passes_on_curve(campaign.scenario().edges[e], m);
        if (!std::isnan(x)) passes_.push_back(x);
      }
    }
    for (const HandHistory::Look& look : history.looks) {
      add(history.plan, in_step(look));
      passes_.push_back(look.passes);
    }
    std::sort(passes_.begin(), passes_.end());
    passes_.erase(std::unique(passes_.begin(), passes_.end()), passes_.end());
    // one draw for all, so that what was missed where it was read is missed as it goes on
    drawn_  = drawn_misses(ensemble, passes_, seed);
    levels_ = reading_levels(ensemble);
  }
  /// `passes` are among those looked at; where they are NaN, on no curve, nothing is missed.
  [[nodiscard]] double along(std::size_t member, double passes) const {
    if (std::isnan(passes)) return 0.0;
    const auto at = std::lower_bound(passes_.begin(), passes_.end(), passes) - passes_.begin();
    return drawn_(static_cast<Eigen::Index>(member), at);
  }
  /// What edges of one way share in one wood: factors on the apex, and on what it grows.
  struct Factors {
    double apex = 1.0, growth = 1.0;
  };
  /// Those at a moment that is among those looked at.
  [[nodiscard]] Factors factors(std::size_t member, const EdgePlan& plan, const Moment& moment) const {
    const SharedLuck& shared = shared_.at(key_of(plan, moment));
    const auto        i      = static_cast<Eigen::Index>(member);
    return {std::exp(shared.apex[i]), std::exp(shared.growth[i])};
  }
  /// Log of the factor on all readings, beside those who read.
  [[nodiscard]] double level(std::size_t member) const { return levels_[static_cast<Eigen::Index>(member)]; }
  /// While the edge in hand goes on in that cut.
  [[nodiscard]] static Moment in_step(const HandHistory::Look& look) {
    return {static_cast<int>(look.step), not_given};
  }

 private:
  using Key = std::pair<std::string, std::string>;  ///< way and wood
  [[nodiscard]] static Key key_of(const EdgePlan& plan, const Moment& moment) {
    return {way_at(plan, moment), wood_at(plan, moment)};
  }

  std::map<Key, SharedLuck> shared_;  ///< by member
  std::vector<double>       passes_;
  Eigen::MatrixXd           drawn_;   ///< members × passes
  Eigen::VectorXd           levels_;  ///< by member
};

/// A model of readings of this edge.
struct HandTester {
  laws::TesterAtAngle<double> law;

  /// The edge at one point, put right by what the laws miss there.
  struct At {
    MissedWear           now;
    double               fresh_um;  ///< put right too
    double               burr_um;
    double               apex;                            ///< factor of its way
    Eigen::Vector2d      luck = Eigen::Vector2d::Zero();  ///< logs: of its apex, of its growth
    [[nodiscard]] double worn_um() const { return worn_with_luck(fresh_um, now.met_um, std::exp(luck[1])); }
  };
  /// The misses are logs of the reading.
  [[nodiscard]] At at(const Sighting::Seen& s, const HandMisses::Factors& factors, double miss,
                      double fresh_miss) const {
    const double apex = factors.apex,
                 now  = worn_with_luck(s.fresh.met_radius_um(), s.edge.met_radius_um(), factors.growth);
    return {put_right(law, apex * now, apex * s.edge.burr_um, miss),
            put_right(law, apex * s.fresh.met_radius_um(), apex * s.fresh.burr_um, fresh_miss).met_um,
            apex * s.edge.burr_um, apex};
  }
  [[nodiscard]] double reading_N(const At& at) const {
    const double apex = std::exp(at.luck[0]);
    return law.reading_N(apex * at.worn_um(), apex * at.burr_um) * std::exp(at.now.rest);
  }
};

/// The luck of an edge in its rate, further on than where its readings tell of it.
///
///     growth(x)·e^ρ·(x/x₀)^δ,   δ ~ N( 0, (σ/3)² )
///
/// An edge that wears fast up to x₀ passes need not do so by the same factor all its life: where the law is not quite true, luck is not one
/// factor on the growth, and edges differ in how it bends too. So what is known of an edge fades with the log of the passes. The share of
/// σ, the standard deviation of the luck itself, is an estimate.
struct FadingLuck {
  Eigen::Vector2d known;         ///< at x₀: logs of the factors on apex and growth
  double          passes = 0.0;  ///< x₀; 0: nothing of the rate is known, so nothing fades
  double          sd     = 0.0;  ///< σ
  double          chance = 0.0;  ///< δ over its standard deviation

  [[nodiscard]] Eigen::Vector2d at(double x) const {
    constexpr double share = 1.0 / 3.0;
    if (!(passes > 0.0 && x > passes)) return known;
    return {known[0], known[1] + share * sd * chance * std::log(x / passes)};
  }
};

/// What one member says of the edge.
struct HandMember {
  bool            usable = false;
  Eigen::Vector2d luck   = Eigen::Vector2d::Zero();
  double          next_N = not_given, left = not_given;
  double          noise = not_given;  ///< standard deviation of the log of one reading, those who read apart
  std::vector<double> curve_N;        ///< by look
};

/// Random numbers of one member: its luck, now and later, and its next reading, with what its noise has for a variance (Student's t is a
/// normal distribution whose variance is drawn; 1: normal).
struct HandChance {
  Eigen::Vector2d luck;
  double          later;
  double          reading;
  double          noise_variance = 1.0;
};

// what an operator, a lot and a day that may be others add to the log of a reading, a standard deviation
double sd_of_who(const Spread& spread) {
  return std::sqrt(spread.person * spread.person + spread.lot * spread.lot + spread.day * spread.day);
}

// passes left from a curve along the grid
double passes_left(const HandHistory& history, const std::vector<double>& values, double limit) {
  if (values.front() >= limit) return 0.0;
  std::vector<double> ahead;
  for (const HandHistory::Look& look : history.looks)
    ahead.push_back(look.count - history.looks.front().count);
  const auto value = [&](double x) {
    const auto above =
        static_cast<std::size_t>(std::upper_bound(ahead.begin(), ahead.end() - 1, x) - ahead.begin());
    const double share = (x - ahead[above - 1]) / (ahead[above] - ahead[above - 1]);
    return values[above - 1] + share * (values[above] - values[above - 1]);
  };
  return passes_to_limit(ahead, values, value, limit);
}

// what ends its life, along the cut that goes on
std::vector<double> values_of_end(const Sighting& seen, const HandSettings& settings,
                                  const HandMember& member, const std::vector<HandTester::At>& along,
                                  double half) {
  if (settings.end == EndBy::reading) return member.curve_N;
  std::vector<double> out;
  const double        per_radius =
      settings.end == EndBy::radius ? 1.0 : laws::Wedge<double>{2.0 * half}.tip_setback(1.0);
  for (std::size_t k = 0; k < along.size(); ++k) {
    const auto&  edge  = seen.along[k].edge;
    const double extra = along[k].worn_um() - along[k].apex * edge.met_radius_um();
    out.push_back(per_radius * std::exp(along[k].luck[0]) * (along[k].apex * edge.apex_radius_um + extra));
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

// the histories of all edges that were read, put right by what a member misses; what no radius can show is left out
CampaignModel::Apex edges_put_right(CampaignModel::Apex apex, const CampaignModel& campaign,
                                    const HandMisses& misses, std::size_t member) {
  const laws::TesterLaw<double> law    = tester_law(apex.tester);
  const std::vector<double>     radius = apex.radius_um, met = apex.met_um;
  std::size_t                   m = 0;
  for (std::size_t e = 0; e < campaign.moments().size(); ++e) {
    for (const Moment& moment : campaign.moments()[e]) {
      const EdgePlan& plan        = campaign.scenario().edges[e];
      const auto [factor, growth] = misses.factors(member, plan, moment);
      const auto began            = campaign.wear_began(m);
      const auto grown            = [&, growth = growth](const std::vector<double>& lengths) {
        return began ? worn_with_luck(lengths[*began], lengths[m], growth) : lengths[m];
      };
      apex.radius_um[m] = factor * grown(radius);
      apex.burr_um[m] *= factor;
      apex.met_um[m] = put_right(law.at_angle(apex.half_angle[m]), factor * grown(met), apex.burr_um[m],
                                 misses.along(member, passes_on_curve(plan, moment)))
                           .met_um;
      ++m;
    }
  }
  return apex;
}

/// What all readings tell a member of the luck of the edge; none where the histories of the others cannot be run.
std::optional<EffectModes::EdgeLuck> luck_in_hand(const HandTask& task, std::size_t i,
                                                  const Model<double>& model, const Spread& spread) {
  FitSettings settings     = task.settings.fit;
  settings.edge_effect     = spread.edge > 0.0;
  settings.rate_effect     = spread.rate > 0.0;
  settings.operator_effect = spread.person > 0.0;
  settings.lot_effect      = spread.lot > 0.0;
  settings.day_effect      = spread.day > 0.0;
  settings.way_effect = settings.way_wear_effect = settings.wood_effect = false;  // in what is put right
  Scenario here                                                         = task.scenario;
  here.model                                                            = model;
  const CampaignModel campaign(here, task.readings, {}, settings);
  auto                apex = campaign.apex(Eigen::VectorXd(0), false);
  if (!apex.usable) return std::nullopt;
  return EffectModes(campaign).luck_of(edges_put_right(std::move(apex), campaign, task.misses, i), spread,
                                       task.edge);
}

HandMember member_in_hand(const HandTask& task, std::size_t i, const Model<double>& model,
                          const Spread& spread, const HandChance& chance) {
  HandMember        out;
  Sighting          seen(task.history);
  EdgeState<double> state;
  Ledger<double>    ledger;
  if (!run_history(model, task.history.plan, tolerances_of(task.scenario), state, ledger, seen).usable())
    return out;
  const auto luck = luck_in_hand(task, i, model, spread);
  if (!luck) return out;
  const auto&      tool = model.tools[static_cast<std::size_t>(task.history.plan.tool)];
  const double     half = 0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg);
  const HandTester tester{tester_law(model.tester).at_angle(half)};
  const auto [variances, axes] = eigen_of_symmetric(luck->covariance);
  out.usable                   = true;
  out.luck =
      luck->mode + axes * (variances.cwiseMax(0.0).cwiseSqrt().cwiseProduct(axes.transpose() * chance.luck));
  const FadingLuck            fading{out.luck, task.history.now, spread.rate, chance.later};
  std::vector<HandTester::At> along;
  const auto&                 looks = task.history.looks;
  HandMisses::Factors         factors;
  for (std::size_t k = 0; k < seen.along.size(); ++k) {
    if (k == 0 || looks[k].step != looks[k - 1].step)
      factors = task.misses.factors(i, task.history.plan, HandMisses::in_step(looks[k]));
    const double passes = looks[k].passes;
    along.push_back(
        tester.at(seen.along[k], factors, task.misses.along(i, passes), task.misses.along(i, 0.0)));
    along.back().now.rest += task.misses.level(i);
    along.back().luck = fading.at(passes);
    out.curve_N.push_back(tester.reading_N(along.back()));
  }
  out.noise  = spread.reading * std::sqrt(chance.noise_variance);
  out.next_N = out.curve_N.front() * std::exp(std::hypot(out.noise, sd_of_who(spread)) * chance.reading);
  const HandSettings& settings = task.settings;
  const double        limit    = settings.end == EndBy::reading ? settings.life.limit_N : settings.limit_um;
  if (!std::isnan(limit))
    out.left = passes_left(task.history, values_of_end(seen, settings, out, along, half), limit);
  return out;
}

Band band_of(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  return {quantile_of_sorted(values, 0.5 - 0.5 * share), quantile_of_sorted(values, 0.5),
          quantile_of_sorted(values, 0.5 + 0.5 * share)};
}

Band hand_band(const std::vector<HandMember>& members, double share,
               const std::function<double(const HandMember&)>& value) {
  std::vector<double> values;
  for (const HandMember& m : members) {
    if (m.usable) values.push_back(value(m));
  }
  return band_of(std::move(values), share);
}

// medians of the members that have a law; a law that too few have is left out
std::vector<LawForecast> hand_under_each_law(const Ensemble& ensemble, const std::vector<HandMember>& members,
                                             std::size_t points) {
  std::vector<LawForecast> out;
  for (std::size_t k = 0; k < ensemble.laws.size(); ++k) {
    std::vector<HandMember> those;
    for (std::size_t i = 0; i < members.size(); ++i) {
      if (ensemble.law_of[i] == k && members[i].usable) those.push_back(members[i]);
    }
    const EnsembleLaw& law = ensemble.laws[k];
    LawForecast        of{law.name, law.weight, law.ruled_out, not_given, {}};
    const auto         median = [&](const auto& value) { return hand_band(those, 0.9, value).middle; };
    if (those.size() >= LawForecast::fewest) {
      of.passes = median([](const HandMember& m) { return m.left; });
      for (std::size_t x = 0; x < points; ++x)
        of.curve_N.push_back(median([x](const HandMember& m) { return m.curve_N[x]; }));
    }
    out.push_back(std::move(of));
  }
  return out;
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
    out +=
        f.left.high > 0.0
            ? fmt::format(
                  " or is past that, more likely than not; {:.0f} in 10 such have none to {} more passes left.",
                  10.0 * f.settings.life.share, said(f.left.high))
            : std::string(" or is past that: touch it up.");
  } else if (std::isinf(f.left.middle)) {
    out += fmt::format(
        "By its {} it lasts {} more passes, more likely than not, until it {}; 95 in 100 such last {} or more.",
        counted(f.readings, "reading"), said(f.left.middle), limit_text(f.settings), said(f.left.low));
  } else {
    out += fmt::format("By its {} it {} after about {} more passes; {:.0f} in 10 such: {} to {}.",
                       counted(f.readings, "reading"), limit_text(f.settings), said(f.left.middle),
                       10.0 * f.settings.life.share, said(f.left.low), said(f.left.high));
  }
  if (const std::string by_law = law_sentence("It has", f.laws, ahead, "more passes"); !by_law.empty())
    out += " " + by_law;
  out += fmt::format(" Read now, it shows {:.0f} to {:.0f} gf in {:.0f} of 10 readings.", gf(f.next_N.low),
                     gf(f.next_N.high), 10.0 * f.settings.life.share);
  return out;
}

}  // namespace

std::vector<Reading> readings_in_hand(const Scenario& scenario, std::size_t edge,
                                      const std::vector<Reading>& readings) {
  const auto& steps = scenario.edges[edge].steps;
  const auto  last  = static_cast<std::size_t>(last_read(static_cast<int>(edge), readings).moment.step);
  std::size_t since = 0;
  std::vector<Reading> out;
  for (std::size_t i = 0; i <= last && i < steps.size(); ++i) {
    if (sharpens(steps[i])) since = i;
  }
  for (const Reading& r : readings) {
    if (r.edge == static_cast<int>(edge) && r.moment.step >= static_cast<int>(since)) out.push_back(r);
  }
  return out;
}

namespace {

std::vector<HandChance> chances_of(std::size_t members, const HandSettings& settings) {
  boost::random::mt19937_64                  engine(settings.life.seed);
  boost::random::normal_distribution<double> normal;
  std::vector<HandChance>                    out;
  for (std::size_t i = 0; i < members; ++i) {
    const double apex = normal(engine), reading = normal(engine), rate = normal(engine),
                 later = normal(engine);
    out.push_back({{apex, rate}, later, reading});
  }
  if (settings.fit.noise != "student-t") return out;
  const double                                    dof = settings.fit.student_dof;
  boost::random::chi_squared_distribution<double> squares(dof);
  for (HandChance& chance : out) chance.noise_variance = dof / squares(engine);
  return out;
}

// what every member says of the edge along a history
std::vector<HandMember> members_along(const HandHistory& history, const Scenario& scenario,
                                      const Ensemble& ensemble, std::size_t edge,
                                      const std::vector<Reading>&    readings,
                                      const std::vector<HandChance>& chances, const HandSettings& settings) {
  std::vector<Reading> counted_readings = readings;
  std::erase_if(counted_readings, [](const Reading& r) { return !r.excluded.empty(); });
  FitSettings with_rates = settings.fit;
  with_rates.rate_effect = true;  // so that all moments are there that any member looks at
  const HandMisses        misses(CampaignModel(scenario, counted_readings, {}, with_rates), ensemble, history,
                                 settings.life.seed + 2);
  const HandTask          task{scenario, static_cast<int>(edge), history, counted_readings, misses, settings};
  std::vector<HandMember> members(ensemble.size());
  for_each_index(members.size(), settings.life.threads, [&](std::size_t i) {
    members[i] =
        member_in_hand(task, i, member_of(scenario.model, ensemble, i), ensemble.spreads[i], chances[i]);
  });
  if (std::none_of(members.begin(), members.end(), [](const HandMember& m) { return m.usable; })) {
    throw Error(
        Exit::integration,
        {.code = "no-member",
         .what = fmt::format("the history of edge \"{}\" cannot be run in any member", history.plan.name)});
  }
  return members;
}

}  // namespace

HandForecast forecast_in_hand(const Scenario& scenario, const Ensemble& ensemble, std::size_t edge,
                              const std::vector<Reading>& readings, const HandSettings& settings) {
  const EdgePlan&   plan    = scenario.edges[edge];
  const HandHistory history = history_in_hand(plan, edge, readings, settings.life.passes);
  const auto        members = members_along(history, scenario, ensemble, edge, readings,
                                            chances_of(ensemble.size(), settings), settings);
  HandForecast      out;
  out.members = static_cast<std::size_t>(
      std::count_if(members.begin(), members.end(), [](const HandMember& m) { return m.usable; }));
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
  for (std::size_t k = 0; k < history.looks.size(); ++k) {
    out.at.push_back(history.looks[k].passes);
    out.curve_N.push_back(hand_band(members, share, [&](const HandMember& m) { return m.curve_N[k]; }));
  }
  out.laws = hand_under_each_law(ensemble, members, history.looks.size());
  return out;
}

HandReadings readings_ahead(const Scenario& scenario, const Ensemble& ensemble, std::size_t edge,
                            const std::vector<Reading>& readings, const std::vector<Moment>& moments,
                            const HandSettings& settings) {
  const HandHistory history = history_as_planned(scenario.edges[edge], edge, readings, moments);
  const auto        chances = chances_of(ensemble.size(), settings);
  const auto        members = members_along(history, scenario, ensemble, edge, readings, chances, settings);
  const auto        count =
      std::count_if(members.begin(), members.end(), [](const HandMember& m) { return m.usable; });
  HandReadings out;
  out.now      = history.now;
  out.readings = history.readings;
  out.log_N.resize(count, std::ssize(moments));
  for (std::size_t i = 0; i < members.size(); ++i) {
    const HandMember& m = members[i];
    if (!m.usable) continue;
    const auto row = std::ssize(out.noise);
    for (Eigen::Index k = 0; k < std::ssize(moments); ++k)
      out.log_N(row, k) = std::log(m.curve_N[static_cast<std::size_t>(k)]);
    out.noise.push_back(m.noise);
    out.who.push_back(sd_of_who(ensemble.spreads[i]));
    out.chance.push_back(chances[i].reading);
  }
  return out;
}

double HandReadings::sd(std::size_t member, double known_sd) const {
  return std::hypot(known_sd > 0.0 ? known_sd : noise[member], who[member]);
}

Band HandReadings::band(Eigen::Index moment, double share, double known_sd) const {
  std::vector<double> drawn;
  for (std::size_t i = 0; i < noise.size(); ++i) {
    drawn.push_back(std::exp(log_N(static_cast<Eigen::Index>(i), moment) + sd(i, known_sd) * chance[i]));
  }
  return band_of(std::move(drawn), share);
}

double HandReadings::log_density(Eigen::Index moment, double log_reading, double known_sd) const {
  std::vector<double> logs;
  for (std::size_t i = 0; i < noise.size(); ++i) {
    const double s = sd(i, known_sd), z = (log_reading - log_N(static_cast<Eigen::Index>(i), moment)) / s;
    logs.push_back(-0.5 * z * z - std::log(s));
  }
  const double most = *std::max_element(logs.begin(), logs.end());
  double       sum  = 0.0;
  for (const double l : logs) sum += std::exp(l - most);
  return most + std::log(sum / static_cast<double>(logs.size())) - 0.5 * std::log(2.0 * M_PI);
}

namespace {

AnswerTable left_table(const HandForecast& f) {
  const auto  finite = [](double passes) { return std::isinf(passes) ? not_given : passes; };
  const auto  gf     = [](double newton) { return laws::in_gram_force(newton); };
  AnswerTable left{.name = "left", .says = "The edge in hand", .axis = "edge"};
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
  return left;
}

AnswerTable hand_curves_table(const HandForecast& f) {
  AnswerTable curves{
      .name = "curves", .says = "Reading against passes", .axis = "point", .on_terminal = false};
  const auto of = [&](double Band::*end) {
    std::vector<double> values;
    for (const Band& b : f.curve_N) values.push_back(laws::in_gram_force(b.*end));
    return values;
  };
  curves.text("edge", "", "name of the edge", std::vector<std::string>(f.at.size(), f.edge));
  curves.number("passes", "1", "", "passes since the edge was sharpened", f.at);
  curves.number("reading_gf", "gf", "", "reading of the edge in hand, median", of(&Band::middle));
  curves.number("reading_low_gf", "gf", "", "lower end of its band", of(&Band::low));
  curves.number("reading_high_gf", "gf", "", "upper end of its band", of(&Band::high));
  return curves;
}

}  // namespace

Answer hand_answer(const HandForecast& f, const Ensemble& ensemble) {
  const double ahead = f.settings.life.passes;
  Answer       answer;
  answer.kind     = "in-hand";
  answer.headline = hand_headline(f);
  answer.tables   = {left_table(f), hand_curves_table(f)};
  if (!f.laws.empty()) {
    const LawsOfEdge laws{f.edge, f.at, f.laws};
    answer.tables.push_back(laws_table({laws}, ahead, "Passes left under each wear law"));
    answer.tables.push_back(law_curves_table({laws}));
  }
  answer.remark(
      About::certainty,
      fmt::format(
          "Its apex is {} times that of the mean edge of its kind ({:.0f} in 10: {} to {}), by its own readings; "
          "its next reading allows for the scatter of a single one, for another operator, lot and day.",
          plain(f.luck.middle, 2), 10.0 * f.settings.life.share, plain(f.luck.low, 2),
          plain(f.luck.high, 2)));
  const bool by_reading = f.settings.end == EndBy::reading;
  answer.rests_on =
      ensemble.is_fitted()
          ? ensemble.rests_on
          : fmt::format(
                "Rests on the {} of this edge, and for all else on rules of thumb of the trade and the values of the configuration: nothing was fitted.",
                counted(f.readings, "reading"));
  answer.settings = {{by_reading ? "limit_gf" : "limit_um",
                      by_reading ? laws::in_gram_force(f.settings.life.limit_N) : f.settings.limit_um},
                     {"passes", ahead},
                     {"share", f.settings.life.share},
                     {"members", static_cast<double>(f.members)}};
  return answer;
}

}  // namespace arris
