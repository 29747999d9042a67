// SPDX-License-Identifier: MIT
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <variant>

#include <boost/math/tools/toms748_solve.hpp>
#include <boost/numeric/odeint.hpp>
#include <catch2/catch.hpp>

#include "tests/fixture.hpp"

using namespace arris;
using bench::off;

namespace {

constexpr double pi     = 3.14159265358979323846;
constexpr double degree = pi / 180.0;

std::vector<double> evenly(double to, int intervals) {
  std::vector<double> at;
  for (int i = 0; i <= intervals; ++i) at.push_back(to * i / intervals);
  return at;
}

bool all_nan(const EdgeState<double>& e) {
  bool all = true;
  EdgeState<double>::components([&](const char*, double x) { all = all && std::isnan(x); }, e);
  return all;
}

bool same_bits(double a, double b) {
  return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
}

bool same_bits(const EdgeState<double>& a, const EdgeState<double>& b) {
  bool same = true;
  EdgeState<double>::components([&](const char*, double x, double y) { same = same && same_bits(x, y); }, a,
                                b);
  return same;
}

bool same_bits(const Ledger<double>& a, const Ledger<double>& b) {
  if (a.strokes_on_medium.size() != b.strokes_on_medium.size()) return false;
  for (std::size_t i = 0; i < a.strokes_on_medium.size(); ++i) {
    if (!same_bits(a.strokes_on_medium[i], b.strokes_on_medium[i])) return false;
  }
  return same_bits(a.strokes, b.strokes) && same_bits(a.passes, b.passes) && same_bits(a.path_m, b.path_m) &&
         same_bits(a.path_since_abrasive_m, b.path_since_abrasive_m) &&
         same_bits(a.steel_removed_um_mm, b.steel_removed_um_mm);
}

// The same physics a second time: every equation written out from its statement, all five components of an edge as one
// system, nothing in closed form, and a plain integrator with a tight tolerance.
class Reference {
 public:
  using Vector = std::array<
      double,
      9>;  // r, s, b, h of the bevel, h of a back bevel, dub, its depth, chips, strokes left with a burr

  RunStatus::Code     code = RunStatus::Code::done;
  Vector              y{};
  Vector              largest{};     // of each component after any step
  std::vector<double> used;          // strokes on each medium since it was dressed
  double              path_m = 0.0;  // since the last abrasive

  Reference(const Model<double>& model, const EdgePlan& plan)
      : used(model.media.size(), 0.0),
        m(model),
        c(model.coefficients),
        tool(model.tools[static_cast<std::size_t>(plan.tool)]),
        steel(
            model
                .steels[static_cast<std::size_t>(model.steel_of_tool[static_cast<std::size_t>(plan.tool)])]) {
    const bool   two_sides = tool.honed_sides == 2;
    const double side      = two_sides ? 0.5 : 1.0;
    width_m                = 1e-3 * tool.width_mm;
    H                      = 1e9 * steel.hardness_GPa;
    beta                   = (tool.micro_bevel_deg + tool.back_bevel_deg) * degree;
    sin_a                  = std::sin(beta / 2);
    primary                = side * tool.primary_bevel_deg * degree;
    micro                  = side * tool.micro_bevel_deg * degree;
    back_bevel             = tool.back_bevel_deg * degree;
    whole_land_mm          = side * tool.thickness_mm / std::sin(primary);
    if (!(micro > primary)) whole_land_mm = std::min(whole_land_mm, tool.bevel_contact_mm);
    if (micro > primary) bevel_land = std::sin(primary) / (std::sin(micro) * std::sin(micro - primary));
    if (back_bevel > 0) back_land = std::sin(micro) / (std::sin(micro + back_bevel) * std::sin(back_bevel));
    y = {tool.apex_radius_um,
         tool.scratch_um,
         tool.burr_um,
         bevel_land > 0 ? 1e3 * tool.land_mm / bevel_land : 0.0,
         0.0,
         0.0,
         0.0,
         tool.chip_um,
         0.0};
    for (const Step& step : plan.steps) {
      std::visit([this](const auto& s) { take(s); }, step);
      if (code != RunStatus::Code::done) return;
      for (std::size_t k = 0; k < y.size(); ++k) largest[k] = std::max(largest[k], y[k]);
    }
  }

 private:
  const Model<double>&        m;
  const Coefficients<double>& c;
  const Tool<double>&         tool;
  const Steel<double>&        steel;
  double                      width_m, H, beta, sin_a, primary, micro, back_bevel, whole_land_mm;
  double                      bevel_land = 0.0, back_land = 0.0;  // land per depth

  static constexpr double tolerance = 1e-10;

  [[nodiscard]] double floor_um(double s) const {
    return std::sqrt(std::pow(c.radius_per_scratch * s, 2) + std::pow(c.carbide_share * steel.carbide_um, 2) +
                     std::pow(c.floor_radius_um, 2));
  }
  static double positive(double x, double w) {
    if (x <= -w) return 0;
    if (x >= w) return x;
    const double t = (x + w) / (2 * w);
    return 2 * w * (t * t * t - 0.5 * t * t * t * t);
  }
  // its slope: 0 to 1
  static double share(double x, double w) {
    if (!(w > 0)) return x >= 0 ? 1 : 0;
    const double t = std::clamp((x + w) / (2 * w), 0.0, 1.0);
    return t * t * (3 - 2 * t);
  }
  [[nodiscard]] double force_N(double given, double per_mm) const {
    return std::isnan(given) ? per_mm * tool.width_mm : given;
  }
  // what faces that are steeper by `angle` add to the radius at the tester's distance
  [[nodiscard]] double wider(double angle) const {
    const double a = beta / 2, at = m.tester.contact_distance_um;
    return at * (std::tan(a + angle) / std::tan(a) - 1) / (1 / sin_a - 1);
  }
  template <class Compound>
  [[nodiscard]] double scratch_um(const Compound& grit, double p) const {
    const double active = grit.active_grit_fraction * std::pow(p / 0.8e6, c.active_grit_load_exponent);
    return std::tan(grit.grit_angle_deg * degree) * grit.size_um * std::sqrt(2 * p / (pi * H * active)) *
           grit.protrusion;
  }
  [[nodiscard]] double at_least_apex(double h, double land_per_depth) const {
    return std::max(h, y[0] / std::tan(beta / 2) / land_per_depth);
  }

  // integrates to n, or to where `event` falls to zero; returns the count done
  template <class F, class E>
  std::optional<double> integrate(F f, double n, E event) {
    namespace odeint  = boost::numeric::odeint;
    const auto system = [&](const Vector& at, Vector& dy, double time) { f(at, dy, time); };
    if (event(y) <= 0) return 0.0;
    if (!(n > 0)) return std::nullopt;
    auto stepper = odeint::make_dense_output(1e-13, tolerance, odeint::runge_kutta_dopri5<Vector>());
    stepper.initialize(y, 0.0, 1e-4 * n);
    while (true) {
      const auto [from, to] = stepper.do_step(system);
      Vector     at;
      const auto state = [&](double time) {
        stepper.calc_state(time, at);
        return at;
      };
      const double last = std::min(to, n);
      if (event(state(last)) <= 0) {
        std::uintmax_t iterations = 100;
        const auto     root =
            boost::math::tools::toms748_solve([&](double time) { return event(state(time)); }, from, last,
                                              boost::math::tools::eps_tolerance<double>(48), iterations);
        y = state(root.second);
        return root.second;
      }
      if (to >= n) {
        y = state(n);
        return std::nullopt;
      }
    }
  }
  template <class F>
  void integrate(F f, double n) {
    (void)integrate(f, n, [](const Vector&) { return 1.0; });
  }

  // a face on a medium: what of a dub is in the way, and what the hand makes
  struct Face {
    double      excess, hand_depth, hand_dub, start;
    std::size_t depth;
  };
  template <class S>
  Face face_of(const S& step, bool bevel) {
    const double      land_per_depth = bevel ? bevel_land : back_land;
    const std::size_t depth          = bevel ? 3 : 4;
    if (land_per_depth > 0) y[depth] = at_least_apex(y[depth], land_per_depth);
    double scatter = 0;
    if constexpr (requires { step.angle_scatter_deg; }) scatter = step.angle_scatter_deg * degree;
    const double land_um =
        land_per_depth > 0 ? land_per_depth * y[depth] : 1e3 * (bevel ? whole_land_mm : tool.back_contact_mm);
    Face f{0, scatter * land_um / 4, wider(1.5 * scatter), y[depth], depth};
    f.excess = positive(y[6] - f.hand_depth, 0.1 * f.hand_depth);
    return f;
  }
  void leave(const Face& f) {
    const double off = y[f.depth] - f.start, made = f.hand_depth > 0 ? 1 - std::exp(-off / f.hand_depth) : 1;
    const double met = share(off - f.excess, 0.5 * f.excess);
    if (f.depth == 3 && y[7] > 0) y[7] = positive(y[7] - off / std::sin(micro), 0.1 * y[7]);
    const double by_hand = y[6] - f.excess;
    if (off > 0) y[5] += (f.hand_dub - y[5]) * met * made;
    y[6] = positive(f.excess - off, 0.5 * f.excess) +
           (f.hand_depth > 0 ? by_hand + (f.hand_depth - by_hand) * made : 0.0);
  }
  // strokes on a medium, of which the equations are the same for bevel and back
  template <class S>
  auto abrade(const S& step, bool bevel, const Face& f) {
    const auto&  d              = m.media[static_cast<std::size_t>(step.medium)];
    const double chi            = std::pow(d.size_um / c.critical_size_um, c.size_exponent);
    const double K              = c.abrasion * d.cutting_rate / d.loose_grit_divisor * chi / (1 + chi);
    const double land_per_depth = bevel ? bevel_land : back_land;
    const double wide_mm        = bevel ? whole_land_mm : tool.back_contact_mm;
    const double before         = used[static_cast<std::size_t>(step.medium)];
    const double F              = force_N(step.force_N, bevel ? 0.4 : 0.3);
    const double limit = c.burr_limit_um * std::pow(scratch_um(d, 0.8e6) / 0.1, c.burr_limit_exponent) *
                         (tool.honed_sides == 2 ? c.burr_limit_alternating : 1.0);
    const double too_long = bevel ? share(y[2] - 1.25 * limit, 0.25 * limit) : 0.0;
    const double faces    = bevel && tool.honed_sides == 2 ? 2 : 1;  // in turn: each gets every second stroke
    return [=, this, &d](const Vector& at, Vector& dy, double n) {
      const double r = at[0], s = at[1], b = at[2];
      const double land_mm = land_per_depth > 0 ? 1e-3 * land_per_depth * at[f.depth] : wide_mm;
      const double p       = F / (width_m * 1e-3 * land_mm);
      const double cut     = d.glaze_floor + (1 - d.glaze_floor) * std::exp(-(before + n) / d.glaze_strokes);
      const double a       = 1e6 * K * cut * p * 1e-3 * step.stroke_mm / H;
      const double met     = a * share(at[f.depth] - f.start - f.excess, 0.5 * f.excess);
      const double r_inf   = floor_um(s);
      const double own     = scratch_um(d, p);
      dy                   = {};
      dy[0]                = -0.5 * met / (1 - sin_a) * (1 - std::pow(r_inf / r, c.floor_exponent));
      dy[1]                = bevel ? -a / faces * (s - own) / (s + own) : 0.0;
      dy[2]                = bevel ? c.burr_growth * met / std::sin(beta) *
                              std::exp(-positive(r - r_inf, 0.1 * r_inf) / r_inf) * (1 - b / limit) -
                          too_long * c.burr_loss_one_sided * (b - limit)
                                   : -c.burr_loss_back * b;
      dy[f.depth]          = a / faces;
    };
  }
  void count(int medium, double n) {
    used[static_cast<std::size_t>(medium)] += n;
    path_m = 0;
  }

  void take(const HoneStep& step) {
    const Face f     = face_of(step, true);
    const auto rates = abrade(step, true, f);
    if (!step.after_burr) {
      integrate(rates, step.strokes);
      leave(f);
      return count(step.medium, step.strokes);
    }
    // counted while the radius falls through a band about (1 + ln 2) of the floor that the medium's own scratches leave,
    // at the pressure the step begins with, and as far as the tip is met
    const double land_mm = bevel_land > 0 ? 1e-3 * bevel_land * y[3] : whole_land_mm;
    const double own     = scratch_um(m.media[static_cast<std::size_t>(step.medium)],
                                      force_N(step.force_N, 0.4) / (width_m * 1e-3 * land_mm));
    const double reached = (1 + std::log(2.0)) * floor_um(own);
    const auto   met = [&](const Vector& at) { return share(at[3] - f.start - f.excess, 0.5 * f.excess); };
    const auto   counted = [&](const Vector& at, Vector& dy, double n) {
      rates(at, dy, n);
      const double t = std::clamp((reached - at[0]) / floor_um(own) + 0.5, 0.0, 1.0);
      dy[8]          = -t * t * (3 - 2 * t) * met(at);
    };
    const double latest = step.max_strokes + 2 * step.strokes;
    const Vector start  = y;
    const auto   raised = integrate(
          counted, latest, [&](const Vector& at) { return met(at) < 0.5 ? 0.5 - met(at) : at[0] - reached; });
    y               = start;
    y[8]            = step.strokes;
    const auto done = integrate(counted, latest, [&](const Vector& at) { return at[8]; });
    if (!done || raised.value_or(*done) > step.max_strokes) {
      code = RunStatus::Code::no_burr;
      return;
    }
    leave(f);
    count(step.medium, *done);
  }
  void take(const BackStep& step) {
    const Face   f    = face_of(step, false);
    const double flat = y[4];
    integrate(abrade(step, false, f), step.strokes);
    leave(f);
    if (!(back_land > 0)) y[4] = flat;
    count(step.medium, step.strokes);
  }
  void take(const StropStep& step) {
    const auto&  pad      = m.backings[static_cast<std::size_t>(step.backing)];
    const auto&  compound = m.compounds[static_cast<std::size_t>(step.compound_index)];
    const double land =
        1e-6 * (bevel_land > 0 ? bevel_land * at_least_apex(y[3], bevel_land) : 1e3 * whole_land_mm);
    const double F = force_N(step.force_N, 0.2), E = pad.modulus_MPa, t = 1e-3 * pad.thickness_mm;
    const double load       = F / (width_m * 1e6 * E);
    const double step_angle = micro - primary;
    const auto   contact    = [&](double sink) {
      return step_angle > 0 ? std::min(1e-3 * whole_land_mm, land + sink / std::tan(step_angle)) : land;
    };
    std::uintmax_t iterations = 200;
    const auto     root       = boost::math::tools::toms748_solve(
        [&](double sink) { return sink * contact(sink) * (1 / t + 0.5 / contact(sink)) - load; }, 0.0,
        2.1 * load, boost::math::tools::eps_tolerance<double>(48), iterations);
    const double touched = contact(root.first), p = F / (width_m * touched);
    // pressure at the end of the land, and what the hand makes of it
    const laws::OutlineConstants fit;
    const double tilt   = fit.hand * E * 1e6 * touched * width_m / F * (pi / 4 + touched / (2 * t));
    const double held   = positive(1 + step.angle_offset_deg * degree * tilt, 1);
    const double wobble = std::hypot(step.angle_scatter_deg * degree, 1e-6 * pad.unevenness_um / land) * tilt;
    const double A = std::max(std::hypot(held, wobble), 1e-3), length = 1e6 * std::sqrt(land * touched);
    const double K =
        A * (F / width_m) / (pi * std::sqrt(length)) / std::pow(1 + std::pow(length / (1.63e6 * t), 2), 0.25);
    const double L = std::pow(K / E, 2), P = 1e-6 * p / E * std::sqrt(2 * A * A / (1 + A * A));
    const double kappa = 1e-3 * compound.removal_nm / 0.04 * step.stroke_mm / 200 * 7.1e9 / H;
    const double down = kappa * 1e-6 * p, y_um = m.tester.contact_distance_um;
    const auto   depth = [&](double w) {
      return c.dub_depth_share * fit.depth * w *
             std::sqrt(L / ((1 + w / length) * (w + fit.depth_onset * L)));
    };
    const auto angle = [&](double part, double strain, double w) {
      const double over = w / (1 + fit.land_share * w / length);
      return fit.angle * std::hypot(std::sqrt(part / w), fit.mean_share * strain) *
             std::log1p(fit.reach * over / (y_um + fit.even_share * part)) / (1 + fit.onset * part / w);
    };
    const auto dub = [&](double w) {
      if (!(w > 0)) return 0.0;
      const double u = std::pow(wobble / A, 2);
      const double free =
          std::hypot(angle((1 - u) * L, P, w), angle(u * L, 0, 1 / (1 / w + 1 / (kappa * E))));
      return c.dub_share * wider(free / std::hypot(1.0, free / (fit.steepest * (pi - beta) / 2)));
    };
    // worn in as far as its depth says, and no further than 0.95 of the deepest; the rest must be worn down first
    const double deepest = c.dub_depth_share * fit.depth * std::sqrt(L * length);
    const auto   worn_in = [&](double known) {
      if (!(known > 0)) return 0.0;
      std::uintmax_t most  = 300;
      const auto     found = boost::math::tools::toms748_solve(
          [&](double log_w) { return depth(std::exp(log_w)) - known; }, std::log(1e-9), std::log(1e9),
          boost::math::tools::eps_tolerance<double>(50), most);
      return std::exp(0.5 * (found.first + found.second));
    };
    double excess = positive(y[6] - 0.95 * deepest, 0.04 * deepest);
    // and down to where this pad's own shape reaches a tip that another dubbed more
    const double known = y[6] - excess, beyond = std::max(0.0, y[5] - dub(worn_in(known)));
    const double back = (1 - sin_a) * beyond * beyond / (beyond + 0.1 * y_um);
    if (back > 0) excess += back * known / (back + known);
    const double w0          = worn_in(y[6] - excess);
    const auto   laps_at_tip = [&](double n) {
      return excess > 0 ? positive(down * n - excess, 0.5 * excess) / down : n;
    };
    const double own = scratch_um(compound, p), burr = y[2];
    integrate(
        [&](const Vector& at, Vector& dy, double n) {
          const double w = w0 + kappa * E * laps_at_tip(n), Q = L / (fit.worn_in_share * w + at[0]) + P * P;
          const double off = kappa * E * std::sqrt(Q / (1 + Q)) * share(down * n - excess, 0.5 * excess);
          dy               = {};
          dy[0]            = -off / (1 - sin_a) * (1 - std::pow(floor_um(at[1]) / at[0], c.floor_exponent));
          dy[1]            = -off * (at[1] - own) / (at[1] + own);
        },
        step.laps);
    y[2]           = burr * std::exp(-c.burr_loss_strop * step.laps);
    const double w = w0 + kappa * E * laps_at_tip(step.laps);
    y[5]           = dub(w) + (y[5] - dub(w0)) * std::exp(-(w - w0) / y_um);
    y[6]           = depth(w) + positive(excess - down * step.laps, 0.5 * excess);
    path_m         = 0;
  }
  void take(const CutStep& step) {
    const auto&  wood   = m.woods[static_cast<std::size_t>(step.wood)];
    const auto   g      = [](double angle) { return 1 / std::tan(angle / 2) - (pi - angle) / 2; };
    const double faster = std::pow(wood.side_hardness_N / 3150, c.wood_hardness_exponent) *
                          wood.extractive_factor * (1 + c.silica_per_pct * wood.silica_pct) *
                          steel.wear_ratio * 7.1e9 / H * g(30 * degree) / g(beta);
    const double r_c = 1e6 * 1.5 * c.collapse_load_N_per_m / (H / 3) * (1 + 1 / sin_a);
    const double borne =
        laws::of_outline::borne * sin_a * y[5] * std::pow(m.tester.contact_distance_um, -0.85);
    integrate(
        [&](const Vector& at, Vector& dy, double n) {
          const double r = at[0] + borne, x = path_m + step.pass_m * n;
          dy = {};
          struct Wear {
            double r, x;
            double operator()(const laws::SharedLoad<double>& w) const {
              return w.parting_um2_per_m / (2 * r) + w.crushing_um_per_m;
            }
            double operator()(const laws::ConstantRate<double>& w) const { return w.rate_um_per_m; }
            double operator()(const laws::SquareRoot<double>& w) const {
              return w.section_um2_per_m / (2 * r);
            }
            double operator()(const laws::Power<double>& w) const {
              return w.rate_um_per_m / std::pow(r, w.exponent);
            }
            double operator()(const laws::Formula<double>& w) const { return w.rate(r, x); }
            double operator()(const laws::Settling<double>& w) const {
              return w.line_um_per_m + w.settle_um / w.settle_m * std::exp(-x / w.settle_m);
            }
          };
          dy[0] = step.pass_m * (faster * std::visit(Wear{r, x}, m.wear->law) +
                                 positive(r_c - r, 0.1 * r_c) / c.collapse_length_m);
          dy[2] = -step.pass_m * at[2] / c.burr_break_off_m;
        },
        step.passes);
    const double strength = H / 3 * std::pow(steel.carbide_um, -0.25);
    const double deepest  = 1.5e6 * c.chip_load_N_per_m * wood.side_hardness_N / 6450 / strength /
                           std::pow(std::tan(beta / 2), 2);
    const double most  = positive(deepest - c.chip_least_um, 0.1 * c.chip_least_um);
    const double nicks = 1e-3 * c.nicks_um_per_km * wood.side_hardness_N / 6450;
    integrate(
        [&](const Vector& at, Vector& dy, double) {
          dy    = {};
          dy[7] = step.pass_m * (std::max(0.0, most - at[7]) / c.chip_length_m + nicks);
        },
        step.passes);
    path_m += step.pass_m * step.passes;
  }
  void take(const ReadStep&) {}
  void take(const DressStep& step) { used[static_cast<std::size_t>(step.medium)] = 0; }
};

// A history such as a bench sees, at random.
EdgePlan any_plan(const Model<double>& model, bench::Dice& dice) {
  const auto one_of = [&](const auto& entries) { return dice.below(static_cast<int>(entries.size())); };
  EdgePlan   p      = bench::plan(one_of(model.tools), {});
  const int  length = 2 + dice.below(6);
  for (int i = 0; i < length; ++i) {
    switch (dice.below(8)) {
      case 0:
      case 1:
      case 2: {
        auto step      = bench::hone(one_of(model.media), dice.log_between(1, 80), dice.below(3) == 0);
        step.force_N   = dice.log_between(5, 60);
        step.stroke_mm = dice.log_between(30, 200);
        if (dice.below(3) == 0) step.angle_scatter_deg = dice.between(0, 1.5);
        p.steps.emplace_back(step);
        break;
      }
      case 3: {
        auto step      = bench::back(one_of(model.media), dice.log_between(1, 20));
        step.force_N   = dice.log_between(5, 40);
        step.stroke_mm = dice.log_between(20, 100);
        p.steps.emplace_back(step);
        break;
      }
      case 4: {
        auto step    = bench::strop(one_of(model.backings), one_of(model.compounds), dice.log_between(1, 60));
        step.force_N = dice.log_between(2, 40);
        step.angle_offset_deg  = dice.below(2) == 0 ? 0.0 : dice.between(-1, 1);
        step.angle_scatter_deg = dice.between(0, 1);
        p.steps.emplace_back(step);
        break;
      }
      case 5:
      case 6: {
        auto step   = bench::cut(one_of(model.woods), dice.log_between(1, 1000));
        step.pass_m = dice.log_between(0.1, 3);
        p.steps.emplace_back(step);
        break;
      }
      default:
        if (dice.below(2) == 0) {
          p.steps.emplace_back(bench::dress(one_of(model.media)));
        } else {
          p.steps.emplace_back(bench::read("between"));
        }
    }
  }
  return p;
}

// A model with all its priors drawn, one of the wear laws, and tools in some state of use.
Model<double> any_model(bench::Dice& dice) {
  auto model = bench::workshop();
  switch (dice.below(5)) {
    case 0:
      model.wear->law = laws::SharedLoad<double>{};
      break;
    case 1:
      model.wear->law = laws::ConstantRate<double>{};
      break;
    case 2:
      model.wear->law = laws::SquareRoot<double>{};
      break;
    case 3:
      model.wear->law = laws::Power<double>{};
      break;
    default:
      model.wear->law = laws::Settling<double>{};
  }
  bench::draw_from_priors(model, dice);
  model.coefficients.active_grit_load_exponent = dice.below(2) == 0 ? 1.0 : dice.uniform();
  for (auto& tool : model.tools) {
    tool.apex_radius_um = dice.log_between(0.1, 10);
    tool.scratch_um     = dice.log_between(0.02, 1);
    tool.burr_um        = dice.below(2) == 0 ? 0.0 : dice.between(0.1, 3);
    tool.land_mm        = dice.log_between(0.05, 2);
    tool.chip_um        = dice.below(2) == 0 ? 0.0 : dice.log_between(0.1, 20);
  }
  return model;
}

}  // namespace

// whole histories against plain integration

TEST_CASE("Two hundred random histories end where a plain integration of the same equations does") {
  bench::Dice dice(51);
  int         usable = 0, burrs = 0;
  for (int i = 0; i < 200; ++i) {
    const auto      model = any_model(dice);
    const auto      plan  = any_plan(model, dice);
    const Reference reference(model, plan);
    for (double tolerance : {1e-6, 1e-9}) {
      const auto r = bench::run(model, plan, bench::at_tolerance(tolerance));
      CAPTURE(i, tolerance, r.status.integration_steps);
      REQUIRE(r.status.code == reference.code);
      if (!r.status.usable()) continue;
      ++usable;
      for (const auto& outcome : r.witness.outcomes) burrs += outcome.strokes_to_burr > 0.0;
      std::size_t k = 0;
      EdgeState<double>::components(
          [&](const char* name, double value) {
            CAPTURE(name, value, reference.y[k]);
            // Steps are held to the tolerance by the estimate of the embedded formula, and the equations damp what errors
            // are left: mostly the end is as good as the tolerance. The estimate falls short where the radius starts far
            // below its floor (dr/dn ∝ r^−m): integrating that power alone, at tolerances from 1e-3 to 1e-9, leaves up
            // to 20 tolerances. So many are allowed, and the absolute tolerance at every step, for burrs that are all
            // but gone. The reference errs likewise: by 20 times its 1e-10. What honing leaves of a burr or a dub carries the
            // error of what was there before.
            const std::string component = name;
            const bool        is_rest   = component.starts_with("burr") || component.starts_with("dub");
            const double      allowed =
                (20 * tolerance + 2e-9) * (is_rest ? reference.largest[k] : reference.y[k]) +
                1e-9 * r.status.integration_steps;
            CHECK(std::abs(value - reference.y[k]) <= allowed);
            ++k;
          },
          r.state);
      CHECK(off(r.ledger.path_since_abrasive_m + 1.0, reference.path_m + 1.0) < 1e-12);
      for (std::size_t medium = 0; medium < model.media.size(); ++medium) {
        // the strokes to a burr are as good as the radius over its fall per stroke: a hundred times the allowance above
        CHECK(std::abs(r.ledger.strokes_on_medium[medium] - reference.used[medium]) <=
              (2000 * tolerance + 1e-6) * reference.used[medium] + 1e-9);
      }
    }
  }
  CHECK(usable > 240);  // of 400 runs, so that the comparison is not of failures
  CHECK(burrs > 40);
}

// events

TEST_CASE("Strokes after the burr are counted as it is raised along the edge") {
  const auto model  = bench::workshop();
  const auto run_of = [&](std::vector<Step> steps) {
    return bench::run(model, bench::plan(bench::tool::iron, std::move(steps)), bench::at_tolerance(1e-11));
  };
  const auto after = run_of({bench::hone(bench::medium::middle, 12, true)});
  REQUIRE(after.status.usable());
  const double at = after.witness.outcomes[0].strokes_to_burr;
  CHECK(at > 1.0);
  const double count = after.witness.outcomes[0].count;
  CHECK(off(after.ledger.strokes, count) < 1e-15);
  CHECK(off(after.ledger.strokes_on_medium[bench::medium::middle], count) < 1e-15);

  // the same number of strokes without asking for the burr ends in the same state, and notes the burr at the same place
  const auto plain = run_of({bench::hone(bench::medium::middle, count)});
  CHECK(off(plain.witness.outcomes[0].strokes_to_burr, at) <
        1e-9);  // some dozen steps of 1e-11 over the fall of r
  CHECK(plain.witness.outcomes[0].count == count);
  EdgeState<double>::components([&](const char*, double a, double b) { CHECK(std::abs(a - b) <= 1e-9 * b); },
                                after.state, plain.state);

  // where the burr is noted the radius is the stated multiple of the medium's own floor
  const auto     noted = run_of({bench::hone(bench::medium::middle, at)});
  const auto     blade = bench::blade_of(model, bench::tool::iron);
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const auto   stage = assemble(bench::hone(bench::medium::middle, 0), model, blade,
                                initial_state(model.tools[bench::tool::iron], blade), ledger);
  const double own   = stage.floor.radius_um(stage.own_scratch(stage.start_depth_um));
  CHECK(off(noted.state.apex_radius_um, laws::apex_reached_ratio * own) < 1e-9);

  // more strokes after the burr are so many more, once all of the edge has one
  const auto many = run_of({bench::hone(bench::medium::middle, 60, true)});
  const auto more = run_of({bench::hone(bench::medium::middle, 68, true)});
  CHECK(off(more.witness.outcomes[0].count, many.witness.outcomes[0].count + 8) < 1e-9);
  // and the share of the edge that has one, added up stroke by stroke, is what was asked for
  std::vector<double> points;
  for (double n = 0.0; n < 400.0; n += 0.01) points.push_back(n);
  const auto fine =
      bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, count)}),
                 bench::at_tolerance(1e-9), points);
  double sum = 0.0;  // rectangles of 0.01 over a smooth function: good to a share of 0.01
  for (const auto& p : fine.witness.seen)
    sum += 0.01 * std::clamp(0.5 + (laws::apex_reached_ratio * own - p.state.apex_radius_um) / own, 0.0, 1.0);
  CHECK(std::abs(sum - 12.0) < 0.3);  // straight ramp for the smooth one: the same area to that
}

TEST_CASE("The strokes until the burr have no kink where it is there from the first") {
  // the slope of the end against the radius of the start, over starts blunt and keen, from jets and from differences
  auto       model = bench::workshop();
  const auto plan  = bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 12, true)});
  const auto count = [&](double radius_um) {
    model.tools[bench::tool::iron].apex_radius_um = radius_um;
    return bench::run(model, plan, bench::at_tolerance(1e-11)).ledger.strokes;
  };
  double last = count(0.3), change = 0.0, steepest = 0.0;
  for (double r = 0.31; r < 3.0; r += 0.01) {
    const double next = count(r), slope = (next - last) / 0.01;
    // no two neighbouring slopes differ by more than a tenth of the steepest: a kink would jump by all of it
    if (r > 0.315) CHECK(std::abs(slope - change) < 0.1 * std::max(steepest, 10.0));
    steepest = std::max(steepest, std::abs(slope));
    change   = slope;
    last     = next;
  }
  CHECK(steepest > 1.0);
}

TEST_CASE("Where the apex is reached already the burr takes no strokes") {
  const auto model = bench::workshop();
  const auto r =
      bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 200, true),
                                                        bench::hone(bench::medium::middle, 5, true)}));
  REQUIRE(r.status.usable());
  CHECK(r.witness.outcomes[0].strokes_to_burr > 0.0);
  CHECK(r.witness.outcomes[1].strokes_to_burr == 0.0);
  CHECK(off(r.witness.outcomes[1].count, 5.0) < 1e-9);  // bisected to 1e-13 of the 2010 strokes it may take
}

TEST_CASE(
    "A medium too fine for the apex raises no burr, and the run ends with numbers that cannot be taken for a result") {
  const auto model     = bench::workshop();
  auto       hopeless  = bench::hone(bench::medium::film, 10, true);
  hopeless.max_strokes = 30;
  const auto r         = bench::run(
              model, bench::plan(bench::tool::chisel, {bench::read("start"), hopeless, bench::read("end")}));
  CHECK_FALSE(r.status.usable());
  CHECK(r.status.code == RunStatus::Code::no_burr);
  CHECK(r.status.step == 1);
  CHECK(r.status.count == 30.0);
  CHECK(all_nan(r.state));
  CHECK(r.witness.outcomes.size() == 1);  // only the step before it counts as done
}

TEST_CASE("Too many steps and rates that are not numbers are failures with their step and NaN everywhere") {
  auto       model = bench::workshop();
  const auto plan  = bench::plan(bench::tool::iron,
                                 {bench::cut(bench::wood::pine, 10), bench::hone(bench::medium::coarse, 100)});
  Tolerances tight = bench::at_tolerance(1e-10);
  tight.max_steps  = 12;
  const auto slow  = bench::run(model, plan, tight);
  CHECK(slow.status.code == RunStatus::Code::too_many_steps);
  CHECK(slow.status.step == 1);
  CHECK(slow.status.count > 0.0);
  CHECK(slow.status.count < 100.0);
  CHECK(all_nan(slow.state));

  model.media[bench::medium::coarse].cutting_rate = std::numeric_limits<double>::quiet_NaN();
  const auto broken                               = bench::run(model, plan);
  CHECK(broken.status.code == RunStatus::Code::not_finite);
  CHECK(broken.status.step == 1);
  CHECK(all_nan(broken.state));
  CHECK(broken.witness.outcomes.size() == 1);
}

// what is kept count of

TEST_CASE("Honing removes the section between the old bevels and the new") {
  const auto model = bench::workshop();
  for (const int tool : {bench::tool::iron, bench::tool::chisel, bench::tool::knife}) {
    const auto blade = bench::blade_of(model, tool);
    const auto start = initial_state(model.tools[static_cast<std::size_t>(tool)], blade);
    const auto r     = bench::run(model, bench::plan(tool, {bench::hone(bench::medium::middle, 150)}));
    REQUIRE(r.status.usable());
    const double h0 = start.bevel_depth_um, h = r.state.bevel_depth_um;
    // land c·h swept over dh, or the same land all the way, on one face or two; mm of land on µm of depth
    const double section = blade.land_per_depth > 0.0 ? 0.5e-3 * blade.land_per_depth * (h * h - h0 * h0)
                                                      : blade.full_land_mm * (h - h0);
    CAPTURE(tool);
    // closed forms both; the squares cancel by a few digits
    CHECK(off(r.ledger.steel_removed_um_mm, blade.both_sides ? 2.0 * section : section) < 1e-12);
  }
}

TEST_CASE("The ledger counts strokes, laps, passes and path, and dressing makes a medium fresh") {
  const auto model  = bench::workshop();
  auto       in_oak = bench::cut(bench::wood::oak, 40);
  in_oak.pass_m     = 0.5;
  const auto after  = [&](std::vector<Step> steps) {
    return bench::run(model, bench::plan(bench::tool::iron, std::move(steps)));
  };
  const auto r =
      after({bench::hone(bench::medium::middle, 30), bench::back(bench::medium::fine, 7), in_oak, in_oak,
             bench::strop(bench::backing::board, bench::compound::oxide, 11), in_oak, bench::read("end")});
  REQUIRE(r.status.usable());
  CHECK(r.ledger.strokes == 48.0);
  CHECK(r.ledger.passes == 120.0);
  CHECK(r.ledger.path_m == 60.0);
  CHECK(r.ledger.path_since_abrasive_m == 20.0);
  CHECK(r.ledger.strokes_on_medium[bench::medium::middle] == 30.0);
  CHECK(r.ledger.strokes_on_medium[bench::medium::fine] == 7.0);

  // a glazed medium removes less; dressed, as much as at first
  const auto removed = [&](std::vector<Step> steps) {
    return after(std::move(steps)).ledger.steel_removed_um_mm;
  };
  const auto   bout = [] { return bench::hone(bench::medium::film, 50); };
  const double one = removed({bout()}), two = removed({bout(), bout()});
  const double dressed = removed({bout(), bench::dress(bench::medium::film), bout()});
  CHECK(two < 2.0 * one);
  CHECK(off(dressed, 2.0 * one) < 1e-14);
}

TEST_CASE("Reading an edge leaves it as it is and is seen at its place") {
  const auto model = bench::workshop();
  const auto r     = bench::run(
          model, bench::plan(bench::tool::iron, {bench::cut(bench::wood::oak, 40), bench::read("a")}), {}, {0.0});
  REQUIRE(r.witness.seen.size() == 2);
  CHECK(r.witness.seen[1].step == 1);
  CHECK(same_bits(r.witness.seen[1].state, r.state));
  CHECK(same_bits(r.witness.after_step[0], r.witness.after_step[1]));
}

TEST_CASE("Points of a step run from the state before it to the state after it, with the ledger of each") {
  const auto model = bench::workshop();
  const auto r     = bench::run(
          model,
          bench::plan(bench::tool::iron,
                      {bench::hone(bench::medium::middle, 20, true), bench::back(bench::medium::fine, 20),
                       bench::strop(bench::backing::thin_hide, bench::compound::oxide, 20),
                       bench::cut(bench::wood::maple, 20)}),
          {}, evenly(20, 40));
  REQUIRE(r.status.usable());
  EdgeState<double> before =
      initial_state(model.tools[bench::tool::iron], bench::blade_of(model, bench::tool::iron));
  double      strokes = 0.0, removed = 0.0, path = 0.0;
  std::size_t seen = 0;
  for (const auto& sight : r.witness.seen) {
    if (sight.count == 0.0) {
      CAPTURE(sight.step);
      CHECK(same_bits(sight.state, before));
    }
    if (sight.step > 0 && sight.count == 20.0) {
      CHECK(same_bits(sight.state, r.witness.after_step[sight.step]));
      before = sight.state;
    }
    if (sight.step == 0) before = r.witness.after_step[0];
    CHECK(sight.ledger.strokes >= strokes);
    CHECK(sight.ledger.steel_removed_um_mm >= removed);
    CHECK(sight.ledger.path_m >= path);
    strokes = sight.ledger.strokes;
    removed = sight.ledger.steel_removed_um_mm;
    path    = sight.ledger.path_m;
    ++seen;
  }
  CHECK(seen == std::size_t{4} * 41);
  CHECK(path == r.ledger.path_m);
  CHECK(removed == r.ledger.steel_removed_um_mm);
}

TEST_CASE("Points on both sides of a burr lie on one smooth curve with the ledger counting on") {
  const auto model = bench::workshop();
  const auto find =
      bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 10, true)}));
  const double              at = find.witness.outcomes[0].strokes_to_burr;
  const std::vector<double> points{0.0, 0.5 * at, at - 1e-6, at + 1e-6, at + 5.0, at + 9.5};
  const auto                r = bench::run(
                     model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 10, true)}), {}, points);
  REQUIRE(r.witness.seen.size() == points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    CHECK(r.witness.seen[i].count == points[i]);
    CHECK(std::abs(r.witness.seen[i].ledger.strokes - points[i]) < 1e-9);  // rounding of sums of some tens
  }
  // over 2e-6 strokes the radius falls by less than 1e-6 µm
  CHECK(std::abs(r.witness.seen[2].state.apex_radius_um - r.witness.seen[3].state.apex_radius_um) < 2e-6);
  CHECK(same_bits(r.state, find.state));
}

// determinism

TEST_CASE("The same history gives the same bits, watched or not, in fresh or used work space") {
  bench::Dice       dice(52);
  EdgeState<double> state;
  Ledger<double>    ledger;
  for (int i = 0; i < 30; ++i) {
    const auto model = any_model(dice);
    const auto plan  = any_plan(model, dice);
    const auto first = bench::run(model, plan), again = bench::run(model, plan);
    const auto watched = bench::run(model, plan, {}, evenly(500, 5000));
    CHECK(same_bits(first.state, again.state));
    CHECK(same_bits(first.state, watched.state));
    CHECK(same_bits(first.ledger, watched.ledger));
    CHECK(first.status.integration_steps == watched.status.integration_steps);

    HistoryObserver<double> nobody;  // work space with what the history before has left in it
    const auto              status = run_history(model, plan, Tolerances{}, state, ledger, nobody);
    CHECK(status.code == first.status.code);
    CHECK(same_bits(first.state, state));
    if (status.usable()) CHECK(same_bits(first.ledger, ledger));
  }
}

TEST_CASE("After the first run the work space is used again, not allocated anew") {
  const auto              model = bench::workshop();
  const auto              plan  = bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 10)});
  EdgeState<double>       state;
  Ledger<double>          ledger;
  HistoryObserver<double> nobody;
  run_history(model, plan, Tolerances{}, state, ledger, nobody);
  const double* storage = ledger.strokes_on_medium.data();
  run_history(model, plan, Tolerances{}, state, ledger, nobody);
  CHECK(ledger.strokes_on_medium.data() == storage);
}

// what edges do

TEST_CASE("More passes never sharpen an edge whose burr is gone") {
  bench::Dice dice(53);
  for (int i = 0; i < 100; ++i) {
    auto      model                                     = any_model(dice);
    const int tool                                      = dice.below(static_cast<int>(model.tools.size()));
    model.tools[static_cast<std::size_t>(tool)].burr_um = 0.0;
    const int  wood                                     = dice.below(static_cast<int>(model.woods.size()));
    const auto r = bench::run(model, bench::plan(tool, {bench::cut(wood, 1000)}), bench::at_tolerance(1e-9),
                              evenly(1000, 300));
    REQUIRE(r.status.usable());
    double before = 0.0;
    for (const auto& sight : r.witness.seen) {
      const double reading = bench::reading_N(model, tool, sight.state);
      CHECK(reading >= before * (1 - 1e-8));  // points err by some tolerances
      before = reading;
    }
  }
}

TEST_CASE("An edge with a burr can read better after its first passes, and then only worse") {
  auto model                                    = bench::workshop();
  model.tools[bench::tool::iron].apex_radius_um = 0.5;
  model.tools[bench::tool::iron].burr_um        = 3.0;
  const auto r = bench::run(model, bench::plan(bench::tool::iron, {bench::cut(bench::wood::pine, 2000)}), {},
                            evenly(2000, 2000));
  std::vector<double> readings;
  for (const auto& s : r.witness.seen)
    readings.push_back(bench::reading_N(model, bench::tool::iron, s.state));
  const auto best = std::min_element(readings.begin(), readings.end());
  CHECK(best != readings.begin());
  CHECK(std::is_sorted(best, readings.end()));
  CHECK(readings.back() > *best);
}

TEST_CASE("A fine edge set on a coarse medium blunts to what that medium leaves") {
  const auto model = bench::workshop();
  const auto r     = bench::run(
          model, bench::plan(bench::tool::iron,
                             {bench::hone(bench::medium::middle, 300), bench::hone(bench::medium::fine, 1000),
                              bench::hone(bench::medium::coarse, 30), bench::hone(bench::medium::coarse, 3000)}));
  REQUIRE(r.status.usable());
  const auto& edge = r.witness.after_step;
  CHECK(edge[1].apex_radius_um < edge[0].apex_radius_um);
  CHECK(edge[2].apex_radius_um > edge[1].apex_radius_um);
  const auto     blade = bench::blade_of(model, bench::tool::iron);
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const auto   coarse = assemble(bench::hone(bench::medium::coarse, 1), model, blade, edge[3], ledger);
  const double floor  = coarse.floor.radius_um(coarse.own_scratch(edge[3].bevel_depth_um));
  // 3000 strokes are long enough for the rest of the way to fall below a ten-thousandth
  CHECK(off(edge[3].apex_radius_um, floor) < 1e-4);
}

TEST_CASE("Skipping a grit costs strokes on the last medium") {
  const auto model              = bench::workshop();
  const auto strokes_until_fine = [&](const std::vector<Step>& before) {
    auto steps = before;
    steps.emplace_back(bench::hone(bench::medium::fine, 20000));
    const auto r = bench::run(model, bench::plan(bench::tool::iron, steps), {}, evenly(20000, 20000));
    REQUIRE(r.status.usable());
    const auto&    start = r.witness.after_step[before.size() - 1];
    Ledger<double> ledger;
    ledger.reset(model.media.size());
    const auto   stage = assemble(bench::hone(bench::medium::fine, 1), model,
                                  bench::blade_of(model, bench::tool::iron), start, ledger);
    const double goal  = 1.1 * stage.floor.radius_um(stage.own_scratch(start.bevel_depth_um));
    for (const auto& sight : r.witness.seen) {
      if (sight.step == before.size() && sight.state.apex_radius_um <= goal) return sight.count;
    }
    return std::numeric_limits<double>::infinity();
  };
  const double directly = strokes_until_fine({bench::hone(bench::medium::coarse, 60, true)});
  const double between  = strokes_until_fine(
       {bench::hone(bench::medium::coarse, 60, true), bench::hone(bench::medium::middle, 60, true)});
  CAPTURE(directly, between);
  CHECK(std::isfinite(directly));
  CHECK(between > 0.0);
  CHECK(directly > 1.2 * between);
}

TEST_CASE(
    "A whole bevel at 25 degrees reads like a micro-bevel at 30 off the same stone but takes longer to a burr") {
  auto  model = bench::workshop();
  auto& tool  = model.tools[bench::tool::iron];
  struct Outcome {
    double reading_N, strokes_to_burr;
  };
  const auto honed = [&](double micro_deg) {
    tool.micro_bevel_deg = micro_deg;
    // until nothing changes any more; strokes in one go, so that the stone glazes alike
    const auto r =
        bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 30000),
                                                          bench::back(bench::medium::middle, 60)}));
    REQUIRE(r.status.usable());
    CHECK(off(r.witness.after_step[1].apex_radius_um, r.witness.after_step[0].apex_radius_um) < 1e-4);
    return Outcome{bench::reading_N(model, bench::tool::iron, r.state),
                   r.witness.outcomes[0].strokes_to_burr};
  };
  const auto whole = honed(25.0), micro = honed(30.0);
  CAPTURE(whole.reading_N, micro.reading_N, whole.strokes_to_burr, micro.strokes_to_burr);
  CHECK(off(whole.reading_N, micro.reading_N) < 0.03);
  CHECK(micro.strokes_to_burr > 1.0);
  CHECK(whole.strokes_to_burr > 1.5 * micro.strokes_to_burr);
}

TEST_CASE("Nothing in the prior box hones or strops below 0.02 micrometres") {
  bench::Dice dice(54);
  for (int i = 0; i < 200; ++i) {
    const auto model = any_model(dice);
    const int  tool  = dice.below(static_cast<int>(model.tools.size()));
    const auto r     = bench::run(
            model,
            bench::plan(tool, {bench::hone(bench::medium::fine, 2000), bench::hone(bench::medium::film, 2000),
                               bench::back(bench::medium::film, 20),
                               bench::strop(bench::backing::thin_hide, bench::compound::bare, 500)}),
            {}, evenly(2000, 50));
    REQUIRE(r.status.usable());
    CHECK(model.coefficients.floor_radius_um >= 0.02);
    // below the floor the radius can only rise: an undershoot is an error of the integration, of tolerance size
    for (const auto& sight : r.witness.seen) CHECK(sight.state.apex_radius_um >= 0.02 * (1 - 1e-5));
  }
}

TEST_CASE("No state of an edge ever turns negative or passes for a number when it is none") {
  bench::Dice dice(55);
  for (int i = 0; i < 200; ++i) {
    const auto model = any_model(dice);
    const auto r     = bench::run(model, any_plan(model, dice), {}, evenly(100, 100));
    for (const auto& sight : r.witness.seen) {
      EdgeState<double>::components(
          [&](const char* name, double value) {
            CAPTURE(i, sight.step, sight.count, name);
            // a burr that is all but gone may be off by the absolute tolerance
            CHECK(value >= -1e-9 * r.status.integration_steps);
          },
          sight.state);
      CHECK(sight.state.apex_radius_um > 0.0);
      CHECK(sight.state.scratch_um > 0.0);
    }
  }
}
