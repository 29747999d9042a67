// SPDX-License-Identifier: MIT
#include "sim/fit/fit.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <mutex>
#include <optional>
#include <set>
#include <stdexcept>
#include <utility>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/noise.hpp"
#include "sim/fit/reduced_residuals.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/numbers.hpp"
#include "sim/parallel.hpp"
#include "sim/statistics/distributions.hpp"
#include "sim/statistics/least_squares.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/variance_components.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

double log_half_student(double x, double scale) {
  constexpr double    nu   = spread_prior_dof;
  static const double peak = std::log(2.0) + t_log_peak(nu);
  return peak - std::log(scale) - 0.5 * (nu + 1.0) * std::log1p(x * x / (nu * scale * scale));
}

double log_det(const Eigen::MatrixXd& m) {
  if (m.rows() == 0) return 0.0;
  const Cholesky factor(m);
  return factor.is_positive() ? factor.log_determinant() : infinity;
}

}  // namespace

std::vector<double Spread::*> spreads_in(const CampaignModel& model) {
  std::vector<double Spread::*> out{&Spread::reading};
  for (int kind = 0; kind < effect_kinds; ++kind) {
    if (model.has_effect(static_cast<EffectKind>(kind)))
      out.push_back(spread_of(static_cast<EffectKind>(kind)));
  }
  return out;
}

double spread_scale(double Spread::*member) {
  if (member == &Spread::reading) return 0.1;
  if (member == &Spread::edge) return 0.2;
  const bool on_force = member == &Spread::person || member == &Spread::lot || member == &Spread::day;
  return on_force ? 0.05 : 0.15;
}

Spread stated_spread(const Scenario& scenario) {
  const auto  log_sd = [](double cv) { return std::sqrt(std::log1p(cv * cv)); };
  const auto& s      = scenario.model.scatter;
  return {log_sd(s.reading_cv), log_sd(s.edge_cv), log_sd(s.operator_cv), log_sd(s.lot_cv), log_sd(s.rate_cv),
          log_sd(s.day_cv),     log_sd(s.way_cv),  log_sd(s.way_wear_cv), log_sd(s.wood_cv)};
}

Spread stated_spread(const CampaignModel& model) {
  Spread out = stated_spread(model.scenario());
  if (!model.is_additive()) return out;
  const double sd_um = model.scenario().model.specimen.reading_sd_um;
  out.reading        = std::isnan(sd_um) ? spread_scale(&Spread::reading) : sd_um / model.typical_um();
  return out;
}

double spread_prior_information(const CampaignModel& model, double Spread::*member) {
  const auto known = earlier_spread(model, member);
  return known ? 1.0 / (known->second * known->second) : 2.0 * spread_prior_worth;
}

double share_of_readings(const CampaignModel& model, double Spread::*member, double information) {
  const double assumed = 2.0 * spread_prior_worth;
  return 1.0 - assumed / std::max(assumed, information + spread_prior_information(model, member));
}

double log_spread_prior(const CampaignModel& model, const Spread& s, bool log_scale, Spread* slope) {
  constexpr double nu     = spread_prior_dof;
  const double     by_log = log_scale ? 1.0 : 0.0;
  double           sum    = 0.0;
  if (slope != nullptr) *slope = {0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0};
  for (double Spread::*member : spreads_in(model)) {
    const double value = s.*member, scale = spread_scale(member), squared = value * value;
    if (const auto known = earlier_spread(model, member)) {  // normal in the log
      const double z = (std::log(value) - known->first) / known->second;
      sum += -0.5 * z * z - std::log(known->second) - 0.5 * std::log(2.0 * M_PI) +
             (by_log - 1.0) * std::log(value);
      if (slope != nullptr) slope->*member = by_log - 1.0 - z / known->second;
      continue;
    }
    sum += log_half_student(value, scale) + by_log * std::log(value);
    if (slope != nullptr) slope->*member = by_log - (nu + 1.0) * squared / (nu * scale * scale + squared);
  }
  return sum;
}

bool posterior_residuals(const CampaignModel& model, const Spread& spread, const Eigen::VectorXd& x,
                         Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
  const auto            n = model.size(), P = model.parameter_count(), q = model.effect_count();
  const Eigen::VectorXd of_effect = effect_sd(model, spread);
  const Eigen::VectorXd effects   = x.tail(q).cwiseProduct(of_effect);
  const auto            apex      = model.apex(x.head(P), jacobian != nullptr);
  if (!apex.usable) return false;
  Eigen::VectorXd f;
  Eigen::MatrixXd by_parameter, by_effect;
  model.observe(apex, effects, f, jacobian != nullptr ? &by_parameter : nullptr,
                jacobian != nullptr ? &by_effect : nullptr);
  const Eigen::VectorXd sd = noise_sd(model, spread), y = model.measured();
  const auto            R = model.rules().rows(), C = model.centring().rows();
  r.resize(n + R + C + P + q);
  if (jacobian != nullptr) jacobian->setZero(n + R + C + P + q, P + q);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Robust robust_i = robust(model, i, (f[i] - y[i]) / sd[i]);
    r[i]                  = robust_i.residual;
    if (jacobian == nullptr) continue;
    jacobian->row(i).head(P) = robust_i.slope / sd[i] * by_parameter.row(i);
    jacobian->row(i).tail(q) = robust_i.slope / sd[i] * by_effect.row(i).cwiseProduct(of_effect.transpose());
  }
  r.segment(n, R)     = model.rules() * x.head(P);
  r.segment(n + R, C) = model.centring() * effects;
  r.tail(P + q)       = x;
  if (jacobian == nullptr) return true;
  jacobian->block(n, 0, R, P)     = model.rules();
  jacobian->block(n + R, P, C, q) = model.centring() * of_effect.asDiagonal();
  jacobian->bottomRows(P + q).setIdentity();
  return true;
}

Departures departures(const CampaignModel& model, const Spread& spread, const Eigen::VectorXd& f) {
  Departures out;
  out.sd        = noise_sd(model, spread);
  out.residuals = (f - model.measured()).cwiseQuotient(out.sd);
  out.log_likelihood.resize(f.size());
  for (Eigen::Index i = 0; i < f.size(); ++i)
    out.log_likelihood[i] = log_noise(model, i, out.residuals[i], out.sd[i]);
  return out;
}

namespace {

// the mode of parameters and effects for a given spread
LeastSquaresResult mode_of(const CampaignModel& model, ReducedResiduals& residuals,
                           const Eigen::VectorXd& start, double tolerance, bool near) {
  LeastSquaresOptions options;
  if (near) {  // only the scatter has changed since the last mode: no bends to follow, and full steps are good ones
    options.curvature_step = 0.0;
    options.first_damping  = 0.0;
  }
  // runs with and without derivatives take steps of their own, and differ by the tolerance of the integration
  options.noise = model.tolerances().relative;
  set_bounds(model, residuals.size(), options);
  options.max_iterations     = 100;
  options.step_tolerance     = tolerance;
  options.gradient_tolerance = 0.1 * tolerance;
  return least_squares(std::ref(residuals), start, options);
}

// The model linearised about a place, as a mixed model whose residual is the campaign's.
struct Linearised {
  MixedModel                    mixed;
  std::vector<double>           sds;  // σ, then groups
  std::vector<double Spread::*> members;
  bool                          has_noise = false;  // some row's scatter is to be estimated
};

// of a kind of effect: its place among the groups, `flat` where the campaign has none
int group_of(const std::vector<double Spread::*>& members, EffectKind kind) {
  const auto at = std::find(members.begin(), members.end(), spread_of(kind));
  return at == members.end() ? MixedModel::flat : static_cast<int>(at - members.begin()) - 1;
}

// the columns that edges have of their own, and those of shared effects behind the parameters
void set_effect_columns(const CampaignModel& model, const EffectLayout& layout,
                        const Eigen::MatrixXd& by_kind, Linearised& out) {
  MixedModel& m = out.mixed;
  const auto  P = model.parameter_count(), n = model.size();
  m.nested.units = static_cast<int>(layout.own.size());
  m.nested.unit  = layout.unit;
  m.nested.unit.resize(static_cast<std::size_t>(m.design.rows()), -1);
  m.nested.slopes.setZero(2, m.design.rows());
  for (std::size_t w = 0; w < kinds_of_edge.size(); ++w) {
    m.nested.group[w] = group_of(out.members, kinds_of_edge[w]);
    if (m.nested.group[w] >= 0)
      m.nested.slopes.row(static_cast<Eigen::Index>(w)).head(n) =
          by_kind.row(static_cast<int>(kinds_of_edge[w]));
  }
  for (const int column : layout.shared)
    m.group.push_back(group_of(out.members, model.effects()[static_cast<std::size_t>(column)].kind));
  for (Eigen::Index i = 0; i < n; ++i) {
    for (const EffectKind kind : kinds_shared) {
      const int column = model.observations()[static_cast<std::size_t>(i)].column(kind);
      if (column >= 0)
        m.design(i, P + layout.shared_of[static_cast<std::size_t>(column)]) =
            by_kind(static_cast<int>(kind), i);
    }
  }
}

// `z` are the standardised residuals (f − y)/sd, slopes are those of the log predictions; parameters that are held do not
// take part. Behind the observations stand the rules of thumb, rows of which the scatter is known
Linearised linearised(const CampaignModel& model, const EffectLayout& layout, const Spread& spread,
                      const Eigen::VectorXd& z, const ObservedSlopes& slopes, const Eigen::VectorXd& u,
                      const Eigen::VectorXd& effects, const std::vector<Eigen::Index>& held) {
  const auto            n = model.size(), P = model.parameter_count(), S = std::ssize(layout.shared);
  const Eigen::VectorXd sd = noise_sd(model, spread);
  Linearised            out;
  MixedModel&           m = out.mixed;
  const auto            R = model.rules().rows(), C = model.centring().rows();
  out.members = spreads_in(model);
  for (double Spread::*member : out.members) out.sds.push_back(spread.*member);
  m.groups = static_cast<int>(out.sds.size()) - 1;
  m.group.assign(static_cast<std::size_t>(P), MixedModel::unit);
  m.design.setZero(n + R + C, P + S);
  m.design.topLeftCorner(n, P)     = slopes.by_parameter;
  m.design.block(n, 0, R, P)       = model.rules();
  m.design.bottomRightCorner(C, S) = model.centring()(Eigen::all, layout.shared);
  set_effect_columns(model, layout, slopes.by_kind, out);
  for (const Eigen::Index i : held) m.design.col(i).setZero();
  m.weights  = Eigen::VectorXd::Ones(n + R + C);
  m.known_sd = Eigen::VectorXd::Zero(n + R + C);
  m.known_sd.tail(R + C).setOnes();
  // response such that residual = response − design·x
  m.response = m.design.leftCols(P) * u + m.design.rightCols(S) * effects(layout.shared);
  m.response.segment(n, R) -= model.rules() * u;
  m.response.tail(C) -= model.centring() * effects;
  for (Eigen::Index i = 0; i < n; ++i) {
    const int unit = layout.unit[static_cast<std::size_t>(i)];
    for (std::size_t w = 0; unit >= 0 && w < 2; ++w) {
      if (const int column = layout.own[static_cast<std::size_t>(unit)][w]; column >= 0)
        m.response[i] += m.nested.slopes(static_cast<Eigen::Index>(w), i) * effects[column];
    }
    const StandIn here = stand_in(model, i, z[i]);
    m.weights[i]       = here.weight;
    m.response[i] -= here.z * sd[i];
    if (has_known_noise(model, i)) {
      m.known_sd[i] = sd[i] / std::sqrt(m.weights[i]);
    } else {
      out.has_noise = true;
    }
  }
  return out;
}

// the standardised residuals (f − y)/sd
Eigen::VectorXd standardised(const CampaignModel& model, const Spread& spread,
                             const ReducedResiduals::Place& place) {
  return (place.predicted - model.measured()).cwiseQuotient(noise_sd(model, spread));
}

// those of the parameters among what least squares held
std::vector<Eigen::Index> held_parameters(const CampaignModel& model, const LeastSquaresResult& mode) {
  std::vector<Eigen::Index> out;
  for (const Eigen::Index i : mode.held) {
    if (i < model.parameter_count()) out.push_back(i);
  }
  return out;
}

// the spread that maximises the marginal likelihood of the model linearised about the mode
Spread update_spread(const CampaignModel& model, const ReducedResiduals& residuals, const Spread& spread,
                     const ReducedResiduals::Place& place, const std::vector<Eigen::Index>& held) {
  const Linearised line =
      linearised(model, residuals.layout(), spread, standardised(model, spread, place), place.slopes,
                 place.y.head(model.parameter_count()), place.effects, held);
  if (!line.has_noise && model.effect_count() == 0) return spread;  // every row states its own scatter
  const auto prior = [&](const std::vector<double>& values) {
    Spread s = spread;
    for (std::size_t i = 0; i < values.size(); ++i) s.*line.members[i] = values[i];
    return log_spread_prior(model, s, true);
  };
  const VarianceComponents found = variance_components(line.mixed, line.sds, prior);
  Spread                   out   = spread;
  if (line.has_noise) out.reading = found.residual_sd;
  for (std::size_t g = 0; g < found.group_sd.size(); ++g) out.*line.members[g + 1] = found.group_sd[g];
  return out;
}

double laplace(const CampaignModel& model, const Spread& spread, const LeastSquaresResult& mode,
               const ReducedResiduals::Place& place) {
  const Eigen::VectorXd sd = noise_sd(model, spread);
  const Eigen::VectorXd z  = standardised(model, spread, place);
  double sum = log_spread_prior(model, spread, true) - 0.5 * (mode.x.squaredNorm() + place.own_squares) -
               0.5 * (model.rules() * place.y.head(model.parameter_count())).squaredNorm() -
               0.5 * (model.centring() * place.effects).squaredNorm();
  for (Eigen::Index i = 0; i < model.size(); ++i) sum += log_noise(model, i, z[i], sd[i]);
  return sum - 0.5 * (place.own_log_det + log_det(mode.jacobian.transpose() * mode.jacobian));
}

// what the configuration states, or the scale of its prior where a search could not begin from that
Spread first_spread(const CampaignModel& model) {
  Spread spread = stated_spread(model);
  for (double Spread::*member : spreads_in(model)) {
    if (!(spread.*member > VarianceComponents::smallest_sd)) spread.*member = spread_scale(member);
  }
  return spread;
}

// changes of the logs of those that are sought
Eigen::VectorXd step_of_spread(const CampaignModel& model, const Spread& from, const Spread& to) {
  const auto      members = spreads_in(model);
  Eigen::VectorXd out(static_cast<Eigen::Index>(members.size()));
  for (std::size_t k = 0; k < members.size(); ++k)
    out[static_cast<Eigen::Index>(k)] = std::log(to.*members[k] / from.*members[k]);
  return out;
}

// a share of the way from one to the other, in logs
Spread between(const CampaignModel& model, const Spread& from, const Spread& to, double share) {
  Spread out = to;
  for (double Spread::*member : spreads_in(model))
    out.*member = from.*member * std::pow(to.*member / from.*member, share);
  return out;
}

}  // namespace

namespace {

/// How near to the optimum a search ends: of what is left to go in standard deviations (their logs), and of the least squares.
struct Nearness {
  double spread, tolerance;
};

// the point that a search has reached, with nothing said of whether it may end there
FitPoint reached(const CampaignModel& model, FitPoint point, const LeastSquaresResult& mode,
                 const ReducedResiduals::Place& place) {
  point.usable        = true;
  point.u             = mode.x.head(model.parameter_count());
  point.held          = held_parameters(model, mode);
  point.effects       = place.effects;
  point.log_posterior = laplace(model, point.spread, mode, place);
  return point;
}

/// Where standard deviations and parameters go round the optimum for ever, since a step of the former jumps there from one of two optima of the
/// linearised model to the other: the best point that was met, once rounds no longer gain.
class GoingRound {
 public:
  /// Whether so many rounds have gained next to nothing.
  bool has_ended(FitPoint point) {
    constexpr double next_to_nothing = 0.01;  // of log posterior density: odds of 1 %
    constexpr int    rounds          = 15;
    if (!best_.usable || point.log_posterior > best_.log_posterior + next_to_nothing) since_ = 0;
    if (!best_.usable || point.log_posterior > best_.log_posterior) best_ = std::move(point);
    return ++since_ > rounds;
  }
  [[nodiscard]] const FitPoint& best() const { return best_; }

 private:
  FitPoint best_;
  int      since_ = 0;
};

// from these scaled parameters and effects
FitPoint search_from(const CampaignModel& model, const Eigen::VectorXd& u, const Eigen::VectorXd& effects,
                     const Spread& spread, const Nearness& near) {
  constexpr int most_rounds = 100, free_rounds = 6, patient_rounds = 20;
  const auto    P = model.parameter_count();
  FitPoint      point;
  point.spread = spread;
  ReducedResiduals residuals(model, spread);
  Eigen::VectorXd  y         = residuals.begin(u, effects);
  double           tolerance = 1e-3;
  double           share     = 1.0;  // of the way to the next standard deviations that is taken
  Eigen::VectorXd  last_step = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(spreads_in(model).size()));
  int              stalls    = 0;
  GoingRound       going_round;
  for (int round = 0; round < most_rounds; ++round) {
    const LeastSquaresResult mode = mode_of(model, residuals, y, tolerance, round > 0);
    point.evaluations += mode.evaluations;
    if (mode.status == LeastSquaresStatus::bad_start) {
      point.failure = model.apex(y.head(P), false).failure;
      return point;
    }
    if (mode.status == LeastSquaresStatus::stalled && tolerance > near.tolerance) {
      // where the model bends so much that no step is as long as was asked for, shorter ones lead on
      tolerance = near.tolerance;
      y         = mode.x;
      continue;
    }
    if (mode.status == LeastSquaresStatus::stalled) {
      if (++stalls == 4) {
        point.failure =
            "the search ended where histories fail beyond, or at a jump of the model, again and again";
        return point;
      }
      // histories fail beyond (no burr is raised, say): go on from nearer to the priors' medians
      y = residuals.begin(0.5 * y.head(P), Eigen::VectorXd::Zero(model.effect_count()));
      continue;
    }
    const ReducedResiduals::Place* const place = residuals.at(mode.x);
    if (place == nullptr) throw std::logic_error("a mode of effects where histories fail");
    const auto            held   = held_parameters(model, mode);
    const Spread          next   = update_spread(model, residuals, point.spread, *place, held);
    const Eigen::VectorXd step   = step_of_spread(model, point.spread, next);
    const double          change = step.cwiseAbs().maxCoeff();
    const double          moved  = (mode.x.head(P) - y.head(P)).cwiseAbs().maxCoeff();
    if (mode.usable() && change < near.spread && tolerance <= near.tolerance)
      return reached(model, std::move(point), mode, *place);
    if (round > patient_rounds && mode.usable() && going_round.has_ended(reached(model, point, mode, *place)))
      return going_round.best();
    // where both go round in a circle, shorter steps lead to its middle; once they get on, longer ones again
    if (round > free_rounds) share = step.dot(last_step) < 0.0 ? 0.5 * share : std::min(1.0, 1.5 * share);
    last_step                          = step;
    const Eigen::VectorXd effects_here = place->effects;
    point.spread                       = between(model, point.spread, next, share);
    // effects keep their size when their standard deviation changes
    residuals.set_spread(point.spread);
    y = residuals.begin(mode.x.head(P), effects_here);
    if ((change < 0.1 && moved < 0.1) || round == patient_rounds) tolerance = near.tolerance;
  }
  point.failure =
      "parameters and standard deviations did not settle in 100 rounds: readings, priors and the law may contradict each other, or too little was read for so many effects";
  return point;
}

}  // namespace

FitPoint fit_from(const CampaignModel& model, const Eigen::VectorXd& start, const Spread* spread) {
  return search_from(model, start, Eigen::VectorXd::Zero(model.effect_count()),
                     spread != nullptr ? *spread : first_spread(model), {1e-4, 1e-6});
}

FitPoint refit(const CampaignModel& model, const CampaignModel& other, const FitPoint& there) {
  Eigen::VectorXd effects = Eigen::VectorXd::Zero(model.effect_count());
  for (Eigen::Index j = 0; j < model.effect_count(); ++j) {
    const Effect& effect = model.effects()[static_cast<std::size_t>(j)];
    const auto    at     = std::find_if(other.effects().begin(), other.effects().end(), [&](const Effect& e) {
      return e.kind == effect.kind && e.name == effect.name;
    });
    if (at != other.effects().end()) effects[j] = there.effects[at - other.effects().begin()];
  }
  return search_from(model, there.u, effects, there.spread, {1e-2, 1e-4});
}

namespace {

// the model linearised where `information` was had
Linearised linearised_at(const CampaignModel& model, const FitPoint& point, const Information& information) {
  const auto     P = model.parameter_count();
  ObservedSlopes slopes{
      information.sd.asDiagonal() * information.whitened.leftCols(P),
      (information.sd.asDiagonal() * information.whitened.rightCols(effect_kinds)).transpose()};
  for (int kind = 0; kind < effect_kinds; ++kind) {
    const double sd = point.spread.of(static_cast<EffectKind>(kind));
    if (sd > 0.0) slopes.by_kind.row(kind) /= sd;
  }
  return linearised(model, EffectLayout(model), point.spread, information.residuals, slopes, point.u,
                    point.effects, point.held);
}

void add_knowledge_of_spread(const CampaignModel& model, const FitPoint& point, Information& out) {
  const Linearised line = linearised_at(model, point, out);
  out.spread_data       = log_sd_information(line.mixed, line.sds);
  // no less than the curvature of the prior at its scale, whatever it is elsewhere
  Eigen::VectorXd before(out.spread_data.rows());
  for (Eigen::Index i = 0; i < before.size(); ++i)
    before[i] = spread_prior_information(model, line.members[static_cast<std::size_t>(i)]);
  out.spread_covariance = inverse_symmetric(out.spread_data + Eigen::MatrixXd(before.asDiagonal()));
}

std::vector<EffectTest> effect_tests(const CampaignModel& model, const FitPoint& point,
                                     const Information& information) {
  std::vector<EffectTest> out;
  const Linearised        line = linearised_at(model, point, information);
  std::vector<int>        several;  // groups of more than one
  for (std::size_t s = 1; s < line.members.size(); ++s) {
    EffectTest test;
    test.kind = static_cast<EffectKind>(
        std::find(effect_spreads.begin(), effect_spreads.end(), line.members[s]) - effect_spreads.begin());
    test.members       = model.members(test.kind);
    const auto i       = static_cast<Eigen::Index>(s);
    test.from_readings = share_of_readings(model, line.members[s], information.spread_data(i, i));
    if (test.members > 1) several.push_back(static_cast<int>(s) - 1);
    out.push_back(test);
  }
  const std::vector<double> deviances = deviances_of_groups(line.mixed, line.sds, several);
  for (std::size_t k = 0; k < several.size(); ++k) {
    const double deviance = deviances[k];
    out[static_cast<std::size_t>(several[k])].p =
        deviance > 1e-6 ? 0.5 * std::erfc(std::sqrt(0.5 * deviance)) : 1.0;
  }
  return out;
}

}  // namespace

namespace {

// of the data about u and shared effects, the luck of edges integrated out; shared effects with their priors
Eigen::MatrixXd reduced_information(const CampaignModel& model, const FitPoint& point,
                                    const Information& at) {
  const auto         P = model.parameter_count();
  const EffectLayout layout(model);
  Bordered           gram =
      gram_of(model, layout, {at.whitened.leftCols(P), at.whitened.rightCols(effect_kinds).transpose()});
  const auto            S = std::ssize(layout.shared);
  const Eigen::MatrixXd centring =
      (model.centring() * effect_sd(model, point.spread).asDiagonal())(Eigen::all, layout.shared);
  for (Eigen::Matrix2d& own : gram.own) own += Eigen::Matrix2d::Identity();
  gram.rest.bottomRightCorner(S, S) += Eigen::MatrixXd::Identity(S, S) + centring.transpose() * centring;
  return BorderedFactor(gram).reduced;
}

}  // namespace

Eigen::MatrixXd shared_covariance(const CampaignModel& model, const FitPoint& point, const Information& at) {
  const auto      P = model.parameter_count();
  Eigen::MatrixXd k = reduced_information(model, point, at);
  k.topLeftCorner(P, P) += model.prior_precision();
  for (const Eigen::Index i : point.held) {
    k.row(i).setZero();
    k.col(i).setZero();
    k(i, i) = 1.0;
  }
  return inverse_symmetric(k);
}

Information information_at(const CampaignModel& model, const FitPoint& point) {
  const auto                  P = model.parameter_count(), n = model.size();
  Information                 out;
  Eigen::MatrixXd             by_parameter;
  CampaignModel::SlopesByKind by_kind;
  const auto                  apex = model.apex(point.u, true);
  if (!apex.usable) return out;
  model.observe(apex, point.effects, out.predicted, by_kind);
  model.observe(apex, point.effects, out.predicted, &by_parameter, nullptr);
  out.sd        = noise_sd(model, point.spread);
  out.residuals = (out.predicted - model.measured()).cwiseQuotient(out.sd);
  out.whitened.resize(n, P + effect_kinds);
  out.whitened.leftCols(P) = out.sd.cwiseInverse().asDiagonal() * by_parameter;
  for (int kind = 0; kind < effect_kinds; ++kind)
    out.whitened.col(P + kind) = by_kind.slopes.row(kind).transpose().cwiseQuotient(out.sd) *
                                 point.spread.of(static_cast<EffectKind>(kind));
  // what lies below what can be seen tells the less, the farther below it is foretold
  for (Eigen::Index i = 0; i < n; ++i) {
    if (is_below(model, i)) out.whitened.row(i) *= robust(model, i, out.residuals[i]).slope;
  }
  const Eigen::MatrixXd reduced = reduced_information(model, point, out);
  const auto            S       = reduced.rows() - P;
  out.data                      = reduced.topLeftCorner(P, P);
  if (S > 0)
    out.data -=
        reduced.topRightCorner(P, S) *
        Cholesky(reduced.bottomRightCorner(S, S)).solve(Eigen::MatrixXd(reduced.bottomLeftCorner(S, P)));
  const Eigen::MatrixXd prior = model.prior_precision();
  out.covariance              = Cholesky(out.data + prior).inverse();
  if (!point.held.empty()) {
    const Eigen::VectorXd alone = out.covariance.diagonal();
    Eigen::MatrixXd       apart = out.data + prior;
    for (const Eigen::Index i : point.held) {
      apart.row(i).setZero();
      apart.col(i).setZero();
      apart(i, i) = 1.0 / alone[i];
    }
    out.covariance = Cholesky(apart).inverse();
  }
  out.dof = degrees_of_freedom(model, point, out, Eigen::MatrixXd::Identity(P, P));
  add_knowledge_of_spread(model, point, out);
  return out;
}

Eigen::VectorXd degrees_of_freedom(const CampaignModel& model, const FitPoint& point,
                                   const Information& information, const Eigen::MatrixXd& directions) {
  const auto       P            = model.parameter_count();
  const Linearised line         = linearised_at(model, point, information);
  Eigen::MatrixXd  combinations = Eigen::MatrixXd::Zero(line.mixed.design.cols(), directions.cols());
  combinations.topRows(P)       = directions;
  for (const Eigen::Index i : point.held) combinations.row(i).setZero();
  std::vector<double> prior_dof;
  for (double Spread::*const member : line.members)
    prior_dof.push_back(0.5 * spread_prior_information(model, member));
  return degrees_of_freedom(line.mixed, line.sds, combinations, prior_dof);
}

double reach_90(double dof) {
  constexpr double upper = 0.95;
  return std::isfinite(dof) ? t_quantile(upper, std::max(dof, 1.0)) : normal_quantile(upper);
}

void set_bounds(const CampaignModel& model, LeastSquaresOptions& options) {
  set_bounds(model, model.parameter_count() + model.effect_count(), options);
}

void set_bounds(const CampaignModel& model, Eigen::Index all, LeastSquaresOptions& options) {
  options.lower = Eigen::VectorXd::Constant(all, -infinity);
  options.upper = Eigen::VectorXd::Constant(all, infinity);
  for (Eigen::Index i = 0; i < model.parameter_count(); ++i) {
    options.lower[i] = model.parameters()[static_cast<std::size_t>(i)].lowest();
    options.upper[i] = model.parameters()[static_cast<std::size_t>(i)].highest();
  }
}

namespace {

// readings that are all the same measured nothing: neither a difference nor a scatter
void refuse_equal_readings(const CampaignModel& model) {
  constexpr int         fewest   = 3;
  int                   readings = 0;
  double                value    = 0.0;
  std::set<std::size_t> moments;
  for (const Observation& o : model.observations()) {
    if (o.kind != Observation::Kind::reading || o.is_below) return;
    if (readings++ > 0 && o.log_value != value) return;
    value = o.log_value;
    moments.insert(model.flat_moment(o));
  }
  if (readings < fewest || moments.size() < 2) return;
  throw Error(
      Exit::data,
      {.code = "equal-readings",
       .what = model.scenario().model.specimen.in_use
                   ? fmt::format("all {} readings are {} µm, at {} moments", readings,
                                 plain(model.in_unit(value)), moments.size())
                   : fmt::format("all {} readings are {} gf, at {} moments", readings,
                                 plain(laws::in_gram_force(std::exp(value))), moments.size()),
       .cause =
           "Readings of different edges and moments always differ a little, so these were not measured; nothing can be learned from them.",
       .next = "Check the readings file: a column may have been filled down."});
}

}  // namespace

FitResult fit_untested(const CampaignModel& model, int threads,
                       const std::function<void(std::size_t, std::size_t)>& progress) {
  refuse_equal_readings(model);
  const auto                                 P     = model.parameter_count();
  const auto                                 count = static_cast<std::size_t>(model.settings().starts);
  std::vector<Eigen::VectorXd>               starts(count, Eigen::VectorXd::Zero(P));
  std::vector<Spread>                        spreads(count, first_spread(model));
  boost::random::mt19937_64                  engine(static_cast<unsigned long long>(model.settings().seed));
  boost::random::normal_distribution<double> normal;
  for (std::size_t i = 1; i < count; ++i) {
    for (Eigen::Index j = 0; j < P; ++j) starts[i][j] = std::clamp(normal(engine), -2.0, 2.0);
    for (double Spread::*member : spreads_in(model))
      spreads[i].*member *= std::exp(std::clamp(normal(engine), -2.0, 2.0));
  }
  FitResult   result;
  std::mutex  speaking;
  std::size_t done = 0;
  result.starts.resize(count);
  for_each_index(count, threads, [&](std::size_t i) {
    result.starts[i] = fit_from(model, starts[i], &spreads[i]);
    if (progress) {
      const std::scoped_lock lock(speaking);
      progress(++done, count);
    }
  });
  for (const FitPoint& p : result.starts) {
    if (p.usable && (!result.best.usable || p.log_posterior > result.best.log_posterior)) result.best = p;
  }
  if (!result.best.usable) {
    result.best = result.starts.front();
    return result;
  }
  // of many measurements what integration leaves open adds up
  const double alike = 0.01 * std::max(1.0, static_cast<double>(model.size()) / 200.0);
  for (const FitPoint& p : result.starts) {
    if (p.usable && std::abs(p.log_posterior - result.best.log_posterior) < alike &&
        (p.u - result.best.u).cwiseAbs().maxCoeff() < 0.05)
      ++result.agreeing;
  }
  result.information = information_at(model, result.best);
  result.converged   = result.information.data.size() > 0;
  return result;
}

FitResult fit(const CampaignModel& model, int threads,
              const std::function<void(std::size_t, std::size_t)>& progress) {
  FitResult result = fit_untested(model, threads, progress);
  if (result.converged) result.effect_tests = effect_tests(model, result.best, result.information);
  return result;
}

}  // namespace arris
