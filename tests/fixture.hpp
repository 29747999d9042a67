// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <random>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include <boost/numeric/odeint.hpp>

#include "sim/history/model.hpp"
#include "sim/history/stages.hpp"
#include "sim/history/steps.hpp"
#include "sim/integrate/run.hpp"
#include "sim/integrate/stepper.hpp"

/// A small workshop built in code, for tests that need a model but no files, and the tools to run it.
///
/// Material values are like those shipped in configs/materials, where the status of each stands. No test asks for one
/// of them to be right: what a test expects is worked out from the model, so that values may change.
namespace arris::bench {

namespace steel {
enum : int { o1, a2, d2 };
}
namespace medium {
enum : int { coarse, middle, fine, plate, film };
}
namespace backing {
enum : int { thin_hide, soft_hide, board };
}
namespace compound {
enum : int { bare, oxide };
}
namespace wood {
enum : int { pine, maple, oak, teak };
}
namespace tool {
enum : int { iron, chisel, back_bevelled, knife };
}

inline void add_materials(Model<double>& m) {
  const auto add_steel = [&](const char* name, double GPa, double carbide_um, double wear_ratio) {
    Steel<double> s;
    s.name         = name;
    s.hardness_GPa = GPa;
    s.carbide_um   = carbide_um;
    s.wear_ratio   = wear_ratio;
    m.steels.push_back(s);
  };
  add_steel("O1", 7.1, 0.8, 1.0);
  add_steel("A2", 7.1, 2.5, 0.8);
  add_steel("D2", 6.9, 8.0, 0.5);

  const auto add_medium = [&](const char* name, double size_um, double rate, double protrusion,
                              double divisor, double glaze_floor, double glaze_strokes) {
    Medium<double> d;
    d.name               = name;
    d.size_um            = size_um;
    d.cutting_rate       = rate;
    d.protrusion         = protrusion;
    d.loose_grit_divisor = divisor;
    d.glaze_floor        = glaze_floor;
    d.glaze_strokes      = glaze_strokes;
    m.media.push_back(d);
  };
  add_medium("waterstone 30 um", 30.0, 1.0, 1.0, 1.5, 0.7, 300.0);
  add_medium("waterstone 11.5 um", 11.5, 1.0, 1.0, 1.5, 0.7, 300.0);
  add_medium("waterstone 3 um", 3.0, 0.8, 1.0, 1.0, 0.5, 150.0);
  add_medium("plated diamond 25 um", 25.0, 1.3, 1.8, 1.0, 0.8, 2000.0);
  add_medium("film 1 um", 1.0, 1.0, 1.0, 1.0, 0.3, 60.0);

  const auto add_backing = [&](const char* name, double MPa, double mm, double unevenness_um) {
    Backing<double> b;
    b.name          = name;
    b.modulus_MPa   = MPa;
    b.thickness_mm  = mm;
    b.unevenness_um = unevenness_um;
    m.backings.push_back(b);
  };
  add_backing("thin hide", 34.6, 1.0, 3.0);
  add_backing("soft hide", 3.16, 4.5, 8.0);
  add_backing("board", 122.0, 12.0, 4.0);

  const auto add_compound = [&](const char* name, double size_um, double removal_nm) {
    Compound<double> c;
    c.name       = name;
    c.size_um    = size_um;
    c.removal_nm = removal_nm;
    m.compounds.push_back(c);
  };
  add_compound("none", 0.1, 0.3);
  add_compound("chromium oxide", 0.5, 3.0);

  const auto add_wood = [&](const char* name, double side_hardness_N, double silica_pct, double extractives) {
    Wood<double> w;
    w.name              = name;
    w.side_hardness_N   = side_hardness_N;
    w.silica_pct        = silica_pct;
    w.extractive_factor = extractives;
    m.woods.push_back(w);
  };
  add_wood("radiata pine", laws::reference_side_hardness_N, 0.0, 1.0);  // the reference wood: severity 1
  add_wood("sugar maple", 6450.0, 0.03, 1.0);
  add_wood("white oak", 6050.0, 0.03, 2.0);
  add_wood("teak", 4448.0, 0.7, 1.0);
}

inline void add_tools(Model<double>& m) {
  const auto add_tool = [&](const char* name, int of_steel, double width_mm, double thickness_mm,
                            double primary_deg, double micro_deg) -> Tool<double>& {
    Tool<double> t;
    t.name              = name;
    t.steel             = m.steels[static_cast<std::size_t>(of_steel)].name;
    t.width_mm          = width_mm;
    t.thickness_mm      = thickness_mm;
    t.primary_bevel_deg = primary_deg;
    t.micro_bevel_deg   = micro_deg;
    t.apex_radius_um    = 6.0;
    t.scratch_um = 0.1;  // blunted by wood: round against its scratches, so that there is a burr to be raised
    m.tools.push_back(t);
    m.steel_of_tool.push_back(of_steel);
    return m.tools.back();
  };
  add_tool("iron", steel::o1, 50.0, 3.0, 25.0, 30.0);
  add_tool("chisel", steel::a2, 25.0, 4.0, 25.0, 25.0);
  add_tool("iron with back bevel", steel::a2, 50.0, 3.0, 25.0, 30.0).back_bevel_deg = 5.0;
  add_tool("knife", steel::d2, 80.0, 2.0, 25.0, 32.0).honed_sides                   = 2;
}

[[nodiscard]] inline Model<double> workshop() {
  Model<double> m;
  add_materials(m);
  add_tools(m);

  // coefficients of its own, so that no test of the laws turns on how the defaults are calibrated
  auto& c                 = m.coefficients;
  c.abrasion              = 0.15;
  c.size_exponent         = 0.8;
  c.radius_per_scratch    = 6.0;
  c.carbide_share         = 0.08 / std::pow(0.8, 1.0 / 3.0);  // 0.08 µm of O1
  c.burr_growth           = 0.3;
  c.burr_loss_one_sided   = 0.05;
  c.burr_loss_back        = 0.3;
  c.burr_loss_strop       = 0.1;
  c.burr_break_off_m      = 3.0;
  c.burr_limit_um         = 5.0;
  c.collapse_load_N_per_m = 60.0;
  c.collapse_length_m     = 10.0;
  m.wear.take("shared-load");
  std::vector<double> wear{1.75e-3, 6e-5};
  m.wear.for_each_number([at = wear.begin()](const Field&, double& number) mutable { number = *at++; });

  m.tester.cut_resistance_N    = 0.5;
  m.tester.slope_N_per_um      = 4.0;
  m.tester.saturation_N        = 8.0;
  m.tester.contact_distance_um = 0.5;
  return m;
}

[[nodiscard]] inline const Tool<double>& tool_of(const Model<double>& m, int tool) {
  return m.tools[static_cast<std::size_t>(tool)];
}

template <class T>
[[nodiscard]] Blade<T> blade_of(const Model<T>& m, int tool) {
  const auto  i = static_cast<std::size_t>(tool);
  const auto& s = m.steels[static_cast<std::size_t>(m.steel_of_tool[i])];
  return assemble_blade(m.tools[i], s.hardness_GPa, s.carbide_um, m.coefficients.carbide_share, s.wear_ratio);
}

// steps

[[nodiscard]] inline HoneStep hone(int medium, double strokes, bool after_burr = false) {
  HoneStep s;
  s.hone       = "medium " + std::to_string(medium);
  s.medium     = medium;
  s.strokes    = strokes;
  s.after_burr = after_burr;
  return s;
}
[[nodiscard]] inline BackStep back(int medium, double strokes) {
  BackStep s;
  s.back    = "medium " + std::to_string(medium);
  s.medium  = medium;
  s.strokes = strokes;
  return s;
}
[[nodiscard]] inline StropStep strop(int backing, int compound, double laps) {
  StropStep s;
  s.strop          = "backing " + std::to_string(backing);
  s.backing        = backing;
  s.compound_index = compound;
  s.laps           = laps;
  return s;
}
[[nodiscard]] inline CutStep cut(int wood, double passes) {
  CutStep s;
  s.cut    = "wood " + std::to_string(wood);
  s.wood   = wood;
  s.passes = passes;
  return s;
}
[[nodiscard]] inline ReadStep read(const char* name) {
  ReadStep s;
  s.read = name;
  return s;
}
[[nodiscard]] inline DressStep dress(int medium) {
  DressStep s;
  s.dress  = "medium " + std::to_string(medium);
  s.medium = medium;
  return s;
}
[[nodiscard]] inline EdgePlan plan(int tool, std::vector<Step> steps) {
  EdgePlan p;
  p.name  = "edge";
  p.tool  = tool;
  p.steps = std::move(steps);
  return p;
}

// runs

/// Keeps what each step came to, and the states at the points asked for.
template <class T>
struct Witness : HistoryObserver<T> {
  struct Sight {
    std::size_t  step;
    double       count;
    EdgeState<T> state;
    Ledger<T>    ledger;
  };
  std::vector<double>         wanted;  ///< points of every step
  std::vector<Sight>          seen;
  std::vector<StepOutcome<T>> outcomes;
  std::vector<EdgeState<T>>   after_step;

  [[nodiscard]] std::span<const double> points(std::size_t, const Step&) const override { return wanted; }
  void at(std::size_t i, double count, const EdgeState<T>& e, const Ledger<T>& ledger) override {
    seen.push_back({i, count, e, ledger});
  }
  void after(std::size_t, const StepOutcome<T>& outcome, const EdgeState<T>& e, const Ledger<T>&) override {
    outcomes.push_back(outcome);
    after_step.push_back(e);
  }
};

template <class T>
struct Run {
  RunStatus    status;
  EdgeState<T> state;
  Ledger<T>    ledger;
  Witness<T>   witness;
};

[[nodiscard]] inline Tolerances at_tolerance(double relative) {
  Tolerances t;
  t.relative    = relative;
  t.absolute_um = std::min(t.absolute_um, 1e-3 * relative);
  return t;
}

template <class T>
[[nodiscard]] Run<T> run(const Model<T>& model, const EdgePlan& plan, const Tolerances& tolerances = {},
                         const std::vector<double>& points = {}) {
  Run<T> r;
  r.witness.wanted = points;
  r.status         = run_history(model, plan, tolerances, r.state, r.ledger, r.witness);
  return r;
}

[[nodiscard]] inline double reading_N(const Model<double>& m, int tool, const EdgeState<double>& e) {
  return tester_law(m.tester).reading_N(e.met_radius_um(), e.burr_um, blade_of(m, tool).half_angle);
}

/// A stage made of a function f(y, n) that returns dy/dn.
template <std::size_t N, class F>
struct PlainStage {
  using Vector = std::array<double, N>;
  F f;

  void rates(const Vector& y, Vector& dy, double n) const { dy = f(y, n); }
};
template <std::size_t N, class F>
[[nodiscard]] PlainStage<N, F> plain_stage(F f) {
  return {f};
}

struct NoVisit {
  template <class... A>
  void operator()(const A&...) const {}
};

/// The end of a stage, without points or event.
template <std::size_t N, class Stage>
[[nodiscard]] StageEnd<double, N> end_of(const Stage& stage, const std::array<double, N>& y, double n,
                                         const Tolerances& tolerances) {
  return integrate_stage<double>(stage, y, n, {}, NoVisit{}, Events<>{}, tolerances);
}

/// How far the end of a stage may be from the exact end, where neighbouring solutions do not part (∂rate/∂y ≤ 0): each
/// step errs by no more than the tolerance allows for the `largest` value on the way, and errors only add up.
template <std::size_t N>
[[nodiscard]] double error_bound(const StageEnd<double, N>& end, const Tolerances& t, double largest) {
  return end.steps * (t.relative * largest + t.absolute_um);
}

/// The same equations by a plain call of Boost.Odeint with a tight tolerance, far below that of the tests.
template <std::size_t N, class F>
[[nodiscard]] std::array<double, N> brute_force(F f, std::array<double, N> y, double n,
                                                double relative = 1e-12) {
  namespace odeint = boost::numeric::odeint;
  using Vector     = std::array<double, N>;
  if (!(n > 0.0)) return y;
  const auto system = [&](const Vector& at, Vector& dy, double time) { dy = f(at, time); };
  odeint::integrate_adaptive(
      odeint::make_controlled(1e-3 * relative, relative, odeint::runge_kutta_dopri5<Vector>()), system, y,
      0.0, n, 1e-4 * n);
  return y;
}

/// |a − b| over |b|.
[[nodiscard]] inline double off(double a, double b) { return std::abs(a - b) / std::abs(b); }

/// Random numbers that are the same with every standard library.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}

  /// 0 ≤ u < 1, from the upper 53 bits.
  [[nodiscard]] double uniform() { return static_cast<double>(engine_() >> 11) * 0x1.0p-53; }
  [[nodiscard]] double between(double low, double high) { return low + (high - low) * uniform(); }
  [[nodiscard]] double log_between(double low, double high) { return low * std::pow(high / low, uniform()); }
  [[nodiscard]] int    below(int n) { return static_cast<int>(uniform() * n); }
  [[nodiscard]] double normal() {
    const double u = uniform(), v = uniform();
    return std::sqrt(-2.0 * std::log(1.0 - u)) * std::cos(2.0 * laws::pi * v);
  }

 private:
  std::mt19937_64 engine_;
};

/// Draws every number that has a prior from it (log-normal, cut off at its range).
inline void draw_from_priors(Model<double>& model, Dice& dice) {
  for_each_number(model, [&](const std::string&, const Field& f, double& value) {
    if (!(f.prior_factor > 1.0) || std::isnan(value)) return;
    value = std::clamp(value * std::pow(f.prior_factor, dice.normal()), f.low, f.high);
  });
}

}  // namespace arris::bench
