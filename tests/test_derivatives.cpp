// SPDX-License-Identifier: MIT
#include <cmath>
#include <map>
#include <string>
#include <type_traits>
#include <variant>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/integrate/cut_run.hpp"
#include "sim/integrate/history_run.hpp"
#include "sim/integrate/jet.hpp"
#include "sim/laws/shaving.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::laws;
using bench::off;

namespace {

// Derivative of f(x) by differences of fourth order over ±h and ±2h with h = x/1000: wrong by x⁵f⁽⁵⁾/30·1e-12 from the
// terms left out and by about 1.5·ε·f/1e-3 from rounding, both over x.
template <class F>
double difference(F f, double x) {
  const double h = 1e-3 * x;
  return (8.0 * (f(x + h) - f(x - h)) - (f(x + 2 * h) - f(x - 2 * h))) / (12.0 * h);
}

// Compares the derivatives that f gives on jets with differences on plain numbers, with respect to each argument. f gets
// an array of N numbers. Laws here are powers up to the fourth and exponentials up to e^±8: x⁵f⁽⁵⁾ is at most 8⁵ f, so that
// differences are good to 1e-9 of f; ten times that is allowed.
template <std::size_t N, class F>
void check_gradient(const char* law, F f, const std::array<double, N>& x) {
  using Jet = ceres::Jet<double, static_cast<int>(N)>;
  std::array<Jet, N> jets;
  for (std::size_t i = 0; i < N; ++i) jets[i] = Jet(x[i], static_cast<int>(i));
  const Jet    exact = f(jets);
  const double value = f(x);
  CAPTURE(law, value);
  CHECK(off(exact.a, value) < 1e-14);  // the same formula on both: some units in the last place
  for (std::size_t i = 0; i < N; ++i) {
    const double numeric = difference(
        [&](double at) {
          auto moved = x;
          moved[i]   = at;
          return f(moved);
        },
        x[i]);
    CAPTURE(i, x[i], exact.v[static_cast<int>(i)], numeric);
    const double scale = std::abs(value / x[i]) + std::abs(numeric);
    CHECK(std::abs(exact.v[static_cast<int>(i)] - numeric) <= 1e-8 * scale);
  }
}

// number type of an array of arguments
template <class A>
using Argument = typename std::remove_cvref_t<A>::value_type;

}  // namespace

// laws

TEST_CASE("Geometry and kinematics have exact derivatives") {
  bench::Dice dice(61);
  for (int i = 0; i < 20; ++i) {
    const double beta = dice.between(15, 60) * degree, r = dice.log_between(0.02, 20);
    check_gradient<2>("tip setback",
                      [](const auto& x) { return Wedge<Argument<decltype(x)>>{x[0]}.tip_setback(x[1]); },
                      {beta, r});
    check_gradient<2>("tangent length",
                      [](const auto& x) { return Wedge<Argument<decltype(x)>>{x[0]}.tangent_length(x[1]); },
                      {beta, r});
    check_gradient<2>("missing section",
                      [](const auto& x) { return Wedge<Argument<decltype(x)>>{x[0]}.missing_section(x[1]); },
                      {beta, r});
    // 1/sin(β_m − β_p) varies as fast as β_m over the difference: kept to three
    check_gradient<2>("land", [](const auto& x) { return land_per_depth(x[0], x[1]); },
                      {0.3, dice.between(0.45, 0.8)});
    check_gradient<2>("whole bevel", [](const auto& x) { return full_bevel_land(x[0], x[1]); }, {3.0, beta});
    check_gradient<1>("blade loss", [](const auto& x) { return blade_loss_per_depth(x[0]); }, {beta});
    check_gradient<3>("kinematics", [](const auto& x) { return radius_rate(x[0], x[1], x[2]); },
                      {dice.uniform(), dice.uniform(), dice.between(0.1, 0.6)});
    check_gradient<1>("shaving", [](const auto& x) { return thinnest_shaving_um(x[0]); }, {r});
  }
}

TEST_CASE("Abrasion, glazing and land have exact derivatives") {
  bench::Dice dice(62);
  for (int i = 0; i < 20; ++i) {
    check_gradient<4>("wear coefficient",
                      [](const auto& x) {
                        return Abrasion<Argument<decltype(x)>>{x[0], x[1], x[2]}.coefficient(x[3]);
                      },
                      {0.1, dice.between(50, 150), dice.between(0.5, 1.5), dice.log_between(0.5, 300)});
    check_gradient<4>(
        "removal",
        [](const auto& x) { return Abrasion<Argument<decltype(x)>>::removal_um(x[0], x[1], x[2], x[3]); },
        {0.01, dice.log_between(1e4, 1e6), 0.1, 7.1e9});
    const double floor = dice.between(0.1, 0.9), strokes = dice.log_between(50, 1000);
    const double used = dice.between(1, 300), n = dice.between(1, 300);
    check_gradient<3>("glaze",
                      [](const auto& x) {
                        return Glazing<Argument<decltype(x)>>{x[0], x[1]}.share(x[2]);
                      },
                      {floor, strokes, used});
    check_gradient<4>("fresh strokes",
                      [](const auto& x) {
                        return Glazing<Argument<decltype(x)>>{x[0], x[1]}.effective(x[2], x[3]);
                      },
                      {floor, strokes, used, n});
    check_gradient<4>("depth on a micro-bevel",
                      [](const auto& x) {
                        using T = Argument<decltype(x)>;
                        return LandGrowth<T>{x[0], x[1], T(0.0)}.depth(x[2], x[3]);
                      },
                      {0.05, dice.between(3, 20), dice.log_between(1, 100), n});
    check_gradient<4>("depth on a whole bevel",
                      [](const auto& x) {
                        using T = Argument<decltype(x)>;
                        return LandGrowth<T>{x[0], T(0.0), x[1]}.depth(x[2], x[3]);
                      },
                      {0.05, dice.between(3, 20), dice.log_between(1, 100), n});
    check_gradient<3>("removal on a land",
                      [](const auto& x) {
                        using T = Argument<decltype(x)>;
                        return LandGrowth<T>{x[0], x[1], T(0.0)}.removal_um(x[2]);
                      },
                      {0.05, dice.between(3, 20), dice.log_between(1, 100)});
  }
}

TEST_CASE("Scratches, honing floor and burr have exact derivatives") {
  bench::Dice dice(63);
  for (int i = 0; i < 20; ++i) {
    check_gradient<7>(
        "scratch depth",
        [](const auto& x) {
          return ScratchDepth<Argument<decltype(x)>>{x[0], x[1], x[2], x[3]}.depth_um(x[4], x[5], x[6]);
        },
        {0.26, 0.01, dice.between(0.1, 1.0), 1.2, dice.log_between(0.3, 60), dice.log_between(1e5, 3e6),
         7e9});
    check_gradient<3>("scratch memory", [](const auto& x) { return scratch_rate(x[0], x[1], x[2]); },
                      {0.05, dice.log_between(0.01, 1), dice.log_between(0.01, 1)});
    check_gradient<4>("floor",
                      [](const auto& x) {
                        using T = Argument<decltype(x)>;
                        return HoningFloor<T>{x[0], x[1], x[2], T(2.0)}.radius_um(x[3]);
                      },
                      {3.0, 0.08, 0.02, dice.log_between(0.01, 1)});
    for (double m : {1.0, 2.0, 2.5}) {  // 2 has a shortcut on plain numbers, and must still have a derivative
      check_gradient<5>("fall to the floor",
                        [](const auto& x) {
                          using T = Argument<decltype(x)>;
                          return HoningFloor<T>{T(3.0), T(0.1), T(0.02), x[0]}.rate(x[1], x[2], x[3], x[4]);
                        },
                        {m, dice.log_between(0.2, 3), 0.4, 0.02, 0.2588});
    }
    // outside the blend of the positive part, inside it, and where the burr is wide open
    for (double ratio : {1.5, 1.02, 0.7}) {
      check_gradient<2>("opening of the burr", [](const auto& x) { return burr_opening(x[0], x[1]); },
                        {0.4 * ratio, 0.4});
    }
    for (double start : {1.0, 20.0}) {
      check_gradient<6>("burr",
                        [](const auto& x) {
                          return Burr<Argument<decltype(x)>>{x[0], x[1], x[2], x[3]}.after(x[4], x[5]);
                        },
                        {0.6, dice.log_between(3, 9), 0.05, start, dice.between(0.1, 5), 30.0});
    }
    check_gradient<3>("limit of the burr",
                      [](const auto& x) {
                        return BurrLimit<Argument<decltype(x)>>{x[0], x[1]}.length_um(x[2]);
                      },
                      {5.0, dice.uniform(), dice.log_between(0.01, 2)});
    check_gradient<3>("burr in wood", [](const auto& x) { return burr_after_path(x[0], x[1], x[2]); },
                      {2.0, dice.between(0.1, 20), 3.0});
  }
  for (double x : {-0.05, 0.02, 0.08, 0.5}) {
    check_gradient<2>("positive part", [](const auto& y) { return smooth_positive(y[0], y[1]); }, {x, 0.1});
  }
}

TEST_CASE("Stropping has exact derivatives") {
  bench::Dice dice(64);
  for (int i = 0; i < 20; ++i) {
    const std::array<double, 6> press{dice.log_between(1, 50),      0.05,
                                      dice.log_between(1e6, 1e9),   dice.log_between(1e-3, 2e-2),
                                      dice.log_between(1e-4, 5e-3), dice.between(1, 10) * degree};
    const auto contact = [](const auto& x) { return press_pad(x[0], x[1], x[2], x[3], x[4], x[5]); };
    check_gradient<6>(
        "sink", [&](const auto& x) { return contact(x).sink_m; }, press);
    check_gradient<6>(
        "contact", [&](const auto& x) { return contact(x).contact_m; }, press);
    check_gradient<6>(
        "pressure", [&](const auto& x) { return contact(x).pressure_Pa; }, press);
    check_gradient<5>("sink under a whole bevel",
                      [](const auto& x) {
                        using T = Argument<decltype(x)>;
                        return press_pad(x[0], x[1], x[2], x[3], x[4], T(0.0)).sink_m;
                      },
                      {press[0], press[1], press[2], press[3], press[4]});
    const auto edge = [](const auto& x) {
      using T = Argument<decltype(x)>;
      return press_edge(OnPad<T>{x[0], x[1], x[2], x[3], x[4], x[5]}, Hold<T>{x[6], x[7]});
    };
    const std::array<double, 8> on{200.0, dice.log_between(1, 200),  1000.0, 500.0, 540.0,
                                   0.37,  dice.between(-0.02, 0.02), 0.005};
    check_gradient<8>(
        "strength at the edge", [&](const auto& x) { return edge(x).length_um; }, on);
    check_gradient<8>(
        "strain at the edge", [&](const auto& x) { return edge(x).strain; }, on);
    check_gradient<8>(
        "pressure at the tip",
        [&](const auto& x) { return edge(x).tip_pressure_MPa(0.3 * x[3], 1e-3 * x[4]); }, on);
    const std::array<double, 7> pad{dice.log_between(1, 200),    dice.log_between(0.5, 50), 0.01, 520.0,
                                    dice.log_between(0.1, 1000), dice.log_between(0.1, 2),  0.26};
    const auto                  pad_of = [](const auto& x) {
      using T = Argument<decltype(x)>;
      return PadEdge<T>{x[0], x[1], x[2], x[3], T(0.0)};
    };
    check_gradient<7>(
        "dub", [&](const auto& x) { return dub_um(pad_of(x), x[4], Argument<decltype(x)>(0.3), x[5], x[6]); },
        pad);
    check_gradient<7>(
        "dub by a hand that wobbles",
        [&](const auto& x) {
          auto shaky     = pad_of(x);
          shaky.unsteady = 0.001 * x[3];
          return dub_um(shaky, x[4], Argument<decltype(x)>(0.03 * x[0]), x[5], x[6]);
        },
        pad);
    check_gradient<7>(
        "depth to flat", [&](const auto& x) { return depth_to_flat_um(pad_of(x), x[4]); }, pad);
    check_gradient<7>(
        "length worn in",
        [&](const auto& x) {
          return worn_in_at_um(pad_of(x), decltype(x[4] + x[4])(x[5] * 0.01 * deepest_to_flat_um(pad_of(x))));
        },
        pad);
    for (double off : {1.2, 1.8, 2.7}) {
      check_gradient<2>("depth at a dubbed tip",
                        [](const auto& x) { return TipContact<Argument<decltype(x)>>{x[0]}.at_tip_um(x[1]); },
                        {2.0, off});
      check_gradient<2>("what is left of a dub",
                        [](const auto& x) { return TipContact<Argument<decltype(x)>>{x[0]}.left_um(x[1]); },
                        {2.0, off});
    }
    check_gradient<4>("shape by hand",
                      [](const auto& x) {
                        const auto hand = hand_round(x[0], x[1], x[2], x[3]);
                        return hand.depth_um(Argument<decltype(x)>(x[2]), Argument<decltype(x)>(x[2])) +
                               hand.dub_um(Argument<decltype(x)>(x[2]), Argument<decltype(x)>(x[3]),
                                           Argument<decltype(x)>(x[2]));
                      },
                      {0.01, 500.0, 0.5, 0.26});
    // an arc within the distance at which it is met, one that nearly reaches it and one beyond it
    for (double radius : {0.1, 0.55, 1.2}) {
      check_gradient<4>("what of a dub counts beside an arc",
                        [](const auto& x) {
                          const auto beside = beside_arc(x[2], x[3]);
                          return beside.share(x[0]) + beside.made(x[0], x[1]);
                        },
                        {radius, 2.0, 0.55, 0.26});
    }
    check_gradient<3>("removal of a strop",
                      [](const auto& x) { return strop_removal_per_MPa(x[0], x[1], x[2]); },
                      {3.0, dice.between(0.05, 0.5), 7e9});
  }
}

TEST_CASE("Wear, collapse and severity have exact derivatives") {
  bench::Dice dice(65);
  const auto  each_law = [&]<std::size_t... I>(std::index_sequence<I...>) {
     const auto one = [&]<std::size_t Index>() {
      using Law = std::variant_alternative_t<Index, WearLaw<double>>;
      // radius, path, severity, then the parameters in the order of the law's list
      constexpr int         N = 3 + static_cast<int>(BuiltInWearLaws::most_parameters);
      std::array<double, N> x{dice.log_between(0.05, 5), dice.between(0.1, 40), dice.log_between(0.3, 20)};
      std::fill(x.begin() + 3, x.end(), 1.0);
      Law         law;
      std::size_t next = 3;
      Law::fields([&](const Field&, double& value) { x.at(next++) = value; }, law);
      check_gradient<N>(
          Law::law_name.data(),
          [](const auto& y) {
            using L = std::variant_alternative_t<Index, WearLaw<Argument<decltype(y)>>>;
            L           moved;
            std::size_t at = 3;
            L::fields([&](const Field&, auto& value) { value = y[at++]; }, moved);
            return moved.times(y[2]).rate(y[0], y[1]);
          },
          x);
    };
     (one.template operator()<I>(), ...);
  };
  for (int i = 0; i < 20; ++i) {
    each_law(std::make_index_sequence<std::variant_size_v<BuiltInWearLaw<double>>>());
    check_gradient<3>(
        "collapse radius",
        [](const auto& x) { return Collapse<Argument<decltype(x)>>::radius_um(x[0], x[1], x[2]); },
        {60.0, 7e9, dice.between(0.1, 0.5)});
    for (double ratio :
         {0.3, 0.95, 1.05}) {  // below the blend of the positive part and on both sides of its middle
      check_gradient<3>("collapse",
                        [](const auto& x) {
                          return Collapse<Argument<decltype(x)>>{x[0], x[1]}.rate(x[2]);
                        },
                        {0.4, 8.0, 0.4 * ratio});
    }
    check_gradient<5>(
        "severity of a wood",
        [](const auto& x) {
          return WoodSeverity<Argument<decltype(x)>>{x[0], x[1]}.wood(x[2], x[3], x[4]);
        },
        {dice.between(0.5, 3), 7.0, dice.log_between(500, 15000), 2.0, dice.log_between(0.01, 1)});
    check_gradient<2>("severity of a steel",
                      [](const auto& x) { return WoodSeverity<Argument<decltype(x)>>::steel(x[0], x[1]); },
                      {0.5, 7e9});
  }
}

TEST_CASE("The tester has exact derivatives") {
  bench::Dice dice(66);
  for (int i = 0; i < 20; ++i) {
    check_gradient<8>(
        "reading",
        [](const auto& x) {
          return TesterLaw<Argument<decltype(x)>>{x[0], x[1], x[2], x[3], x[4]}.reading_N(x[5], x[6], x[7]);
        },
        {0.5, dice.between(1, 10), 8.0, 0.3, 0.05, dice.log_between(0.05, 10), dice.log_between(0.05, 5),
         dice.between(8, 30) * degree});
    check_gradient<2>("saturation", [](const auto& x) { return filament_saturation_N(x[0], x[1]); },
                      {160.0, 0.25});
  }
}

// whole histories

namespace {

constexpr int chunk = 8;
using Jet           = ceres::Jet<double, chunk>;

// what a history comes to, as numbers
template <class T>
std::vector<T> outcome_of(const Model<T>& model, const EdgePlan& plan, const Tolerances& tolerances) {
  const auto r = bench::run(model, plan, tolerances);
  REQUIRE(r.status.usable());
  std::vector<T> all;
  EdgeState<T>::components([&](const char*, const T& x) { all.push_back(x); }, r.state);
  for (const auto& outcome : r.witness.outcomes) all.push_back(outcome.count);
  all.push_back(r.ledger.steel_removed_um_mm);
  for (const T& used : r.ledger.strokes_on_medium) all.push_back(used);
  all.push_back(
      tester_law(model.tester)
          .reading_N(r.state.apex_radius_um, r.state.burr_um, bench::blade_of(model, plan.tool).half_angle));
  return all;
}

template <class T>
std::vector<T*> numbers_of(Model<T>& model, std::vector<std::string>* paths = nullptr) {
  std::vector<T*> all;
  for_each_number(model, [&](const std::string& path, const Field&, T& number) {
    all.push_back(&number);
    if (paths != nullptr) paths->push_back(path);
  });
  return all;
}

// Compares the derivatives of a whole history with differences, for every number of the model that has a value, save those
// whose path contains `except`. Returns how much each number matters: the largest relative change of an outcome per
// relative change of the number.
std::map<std::string, double> check_history(Model<double> model, const EdgePlan& plan,
                                            const std::string& except = "") {
  std::vector<std::string>      paths;
  const auto                    numbers = numbers_of(model, &paths);
  std::map<std::string, double> matters;
  const auto                    jet_model = convert<Jet>(model);

  std::vector<std::size_t> with_value;
  for (std::size_t i = 0; i < numbers.size(); ++i) {
    // at 0 some terms begin (burr, back bevel): no difference over both sides
    const bool excepted = !except.empty() && paths[i].find(except) != std::string::npos;
    if (!std::isnan(*numbers[i]) && *numbers[i] != 0.0 && !excepted) with_value.push_back(i);
  }
  for (std::size_t first = 0; first < with_value.size(); first += chunk) {
    auto       jets  = jet_model;
    const auto seeds = numbers_of(jets);
    const auto count = std::min<std::size_t>(chunk, with_value.size() - first);
    for (std::size_t k = 0; k < count; ++k) seeds[with_value[first + k]]->v[static_cast<int>(k)] = 1.0;
    const auto exact = outcome_of(jets, plan, bench::at_tolerance(1e-10));
    for (std::size_t k = 0; k < count; ++k) {
      double&      number = *numbers[with_value[first + k]];
      const double x      = number;
      const auto   at     = [&](double value) {
        number   = value;
        auto all = outcome_of(model, plan, bench::at_tolerance(1e-12));
        number   = x;
        return all;
      };
      const double h        = 1e-3 * x;
      const auto near_above = at(x + h), near_below = at(x - h), above = at(x + 2 * h), below = at(x - 2 * h);
      const std::string& path = paths[with_value[first + k]];
      for (std::size_t j = 0; j < exact.size(); ++j) {
        const double numeric = (8.0 * (near_above[j] - near_below[j]) - (above[j] - below[j])) / (12.0 * h);
        const double derivative = exact[j].v[static_cast<int>(k)];
        CAPTURE(path, x, j, exact[j].a, derivative * x, numeric * x);
        // Terms left out by the difference: 1e-12·x⁵f⁽⁵⁾/30, far below. Each of its four runs is good to some 1e-11 (a
        // few hundred steps of 1e-12, mostly cancelling), which over h = 1e-3·x leaves 1e-8 of the outcome. The jets are
        // held to 1e-10 per step, value and derivatives alike.
        CHECK(std::abs(derivative - numeric) * x <=
              1e-5 * std::abs(derivative) * x + 3e-8 * std::abs(exact[j].a));
        if (exact[j].a != 0.0) matters[path] = std::max(matters[path], std::abs(derivative * x / exact[j].a));
      }
    }
  }
  return matters;
}

}  // namespace

TEST_CASE("Every number of a model has its exact derivative through a whole history") {
  auto model                                   = bench::workshop();
  model.coefficients.active_grit_load_exponent = 0.6;  // scratches that follow the pressure
  model.tools[bench::tool::iron].burr_um       = 0.5;
  const auto plan                              = bench::plan(
                                   bench::tool::iron,
                                   {bench::hone(bench::medium::middle, 20, true), bench::hone(bench::medium::fine, 15, true),
                                    bench::hone(bench::medium::film, 25), bench::back(bench::medium::film, 6),
                                    bench::strop(bench::backing::thin_hide, bench::compound::oxide, 20), bench::cut(bench::wood::oak, 8)});
  const auto matters = check_history(model, plan);
  for (const char* path : {"coefficients.abrasion",
                           "coefficients.critical_size_um",
                           "coefficients.size_exponent",
                           "coefficients.active_grit_load_exponent",
                           "coefficients.radius_per_scratch",
                           "coefficients.carbide_share",
                           "coefficients.floor_radius_um",
                           "coefficients.floor_exponent",
                           "coefficients.burr_growth",
                           "coefficients.burr_limit_um",
                           "coefficients.burr_loss_back",
                           "coefficients.burr_loss_strop",
                           "coefficients.burr_break_off_m",
                           "coefficients.dub_share",
                           "coefficients.wood_hardness_exponent",
                           "coefficients.silica_per_pct",
                           "wear.parting_um2_per_m",
                           "wear.crushing_um_per_m",
                           "tester.cut_resistance_N",
                           "tester.slope_N_per_um",
                           "tester.saturation_N",
                           "tester.burr_share",
                           "steel.O1.hardness_GPa",
                           "steel.O1.carbide_um",
                           "steel.O1.wear_ratio",
                           "medium.waterstone 11.5 um.size_um",
                           "medium.waterstone 3 um.size_um",
                           "medium.waterstone 3 um.cutting_rate",
                           "medium.waterstone 3 um.protrusion",
                           "medium.waterstone 3 um.active_grit_fraction",
                           "medium.waterstone 3 um.grit_angle_deg",
                           "medium.waterstone 3 um.loose_grit_divisor",
                           "medium.waterstone 3 um.glaze_floor",
                           "medium.waterstone 3 um.glaze_strokes",
                           "backing.thin hide.modulus_MPa",
                           "backing.thin hide.thickness_mm",
                           "backing.thin hide.unevenness_um",
                           "compound.chromium oxide.removal_nm",
                           "compound.chromium oxide.size_um",
                           "wood.white oak.side_hardness_N",
                           "wood.white oak.silica_pct",
                           "wood.white oak.extractive_factor",
                           "tester.contact_distance_um",
                           "tool.iron.primary_bevel_deg",
                           "tool.iron.micro_bevel_deg",
                           "tool.iron.apex_radius_um",
                           "tool.iron.land_mm"}) {
    CAPTURE(path);
    CHECK(matters.count(path) == 1);
    CHECK(matters.at(path) > 1e-6);
  }
  for (const char* path : {"steel.D2.hardness_GPa", "wood.teak.silica_pct", "tool.knife.land_mm",
                           "scatter.reading_cv", "backing.board.modulus_MPa"}) {
    CAPTURE(path);
    CHECK(matters.at(path) == 0.0);  // not part of this history
  }
}

TEST_CASE("Derivatives hold for a whole bevel, a back bevel and a knife, and under every wear law") {
  const auto laws = []<std::size_t... I>(std::index_sequence<I...>) {
    return std::vector<WearLaw<double>>{WearLaw<double>(std::in_place_index<I>)...};
  }
  (std::make_index_sequence<std::variant_size_v<BuiltInWearLaw<double>>>());
  const int tools[] = {bench::tool::chisel, bench::tool::back_bevelled, bench::tool::knife};
  for (std::size_t i = 0; i < laws.size(); ++i) {
    auto model                                                 = bench::workshop();
    model.wear->law                                            = laws[i];
    model.coefficients.active_grit_load_exponent               = 0.8;
    const int tool                                             = tools[i % 3];
    model.tools[static_cast<std::size_t>(tool)].apex_radius_um = 0.15;  // collapses at first
    // only the numbers that belong to this history
    const auto keep = [](auto& entries, std::size_t which) { entries = {entries[which]}; };
    keep(model.media, bench::medium::middle);
    keep(model.backings, bench::backing::soft_hide);
    keep(model.compounds, bench::compound::bare);
    keep(model.woods, bench::wood::teak);
    const auto blade    = model.tools[static_cast<std::size_t>(tool)];
    const int  steel    = model.steel_of_tool[static_cast<std::size_t>(tool)];
    model.steels        = {model.steels[static_cast<std::size_t>(steel)]};
    model.tools         = {blade};
    model.steel_of_tool = {0};
    CAPTURE(i, blade.name);
    const auto matters =
        check_history(model,
                      bench::plan(0, {bench::cut(0, 300), bench::cut(0, 200), bench::hone(0, 7),
                                      bench::back(0, 3), bench::strop(0, 0, 15), bench::cut(0, 5)}),
                      // one bevel of a whole bevel moved against the other makes a micro-bevel of it
                      tool == bench::tool::chisel ? "_bevel_deg" : "");
    int of_the_law = 0;
    for (const auto& [path, much] : matters) of_the_law += path.rfind("wear.", 0) == 0 && much > 1e-6;
    CHECK(of_the_law >= 1);
    CHECK(matters.at("coefficients.collapse_load_N_per_m") > 1e-6);
    CHECK(matters.at("coefficients.collapse_length_m") > 1e-6);
    if (tool == bench::tool::chisel) CHECK(matters.at("tool.chisel.bevel_contact_mm") > 1e-6);
    if (tool == bench::tool::back_bevelled)
      CHECK(matters.at("tool.iron with back bevel.back_bevel_deg") > 1e-6);
    if (tool == bench::tool::knife) CHECK(matters.at("coefficients.burr_limit_alternating") > 1e-6);
  }
}

namespace {

// honing to a floor with m = 1 from the floor itself: the radius stays, a change of it dies away as e^(−A·n/ρ)
struct AtTheFloor {
  using Vector = std::array<Jet, 1>;
  double A = 0.02, rho = 0.3;

  void rates(const Vector& y, Vector& dy, double /*n*/) const { dy[0] = -A * (1.0 - rho / y[0]); }
};

}  // namespace

TEST_CASE("Derivatives are held to the tolerance even where the value does not change at all") {
  const AtTheFloor stage;
  for (double tolerance : {1e-4, 1e-6, 1e-8, 1e-10}) {
    const auto tol = bench::at_tolerance(tolerance);
    for (double n : {1.0, 10.0, 60.0}) {
      const auto end = integrate_stage<Jet>(stage, std::array{Jet(stage.rho, 0)}, n, {}, bench::NoVisit{},
                                            Events<>{}, tol);
      CAPTURE(tolerance, n, end.steps);
      CHECK(end.y[0].a == stage.rho);
      // each step errs by no more than the tolerance of the derivative, 1 at first, and errors die away
      CHECK(std::abs(end.y[0].v[0] - std::exp(-stage.A * n / stage.rho)) <
            end.steps * (tol.relative + tol.absolute_um));
    }
  }
}

TEST_CASE("The strokes that are counted from the burr on move with the wear coefficient as they must") {
  auto model                                     = bench::workshop();
  auto step                                      = bench::hone(bench::medium::middle, 5, true);
  model.media[bench::medium::middle].glaze_floor = 1.0;  // so that the edge depends on strokes by K·n alone
  const auto     blade                           = bench::blade_of(model, bench::tool::chisel);
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  for (double force_N : {100.0, 5.0, 0.1}) {  // from some tens of strokes to some tens of thousands
    step.force_N                                        = force_N;
    step.max_strokes                                    = 1e5 / force_N;  // bisected to 1e-13 of it
    auto jets                                           = convert<Jet>(model);
    jets.coefficients.abrasion.v[0]                     = 1.0;
    jets.tools[bench::tool::chisel].apex_radius_um.v[1] = 1.0;
    const auto plan                                     = bench::plan(bench::tool::chisel, {step});
    const auto r                                        = bench::run(jets, plan, bench::at_tolerance(1e-11));
    const auto count                                    = r.witness.outcomes[0].count;
    CAPTURE(force_N, count.a);
    // With the edge a function of x = K·n, ∫ C dn = m makes n = X(K·m)/K and so K·dn/dK = −n + m/C at the end. The event is
    // bisected to 1e-13 of the 1e6 strokes, and some hundred steps of 1e-11 lead there.
    const auto stage = assemble(
        step, model, blade,
        initial_state(model.tools[bench::tool::chisel], blade, model.tester.contact_distance_um), ledger);
    const double share = laws::burr_raised(r.state.apex_radius_um.a, stage.own_floor_um);
    CHECK(share > 0.0);
    const double expected = (-count.a + step.strokes / share) / model.coefficients.abrasion;
    CHECK(off(count.v[0], expected) < 1e-6);
    // against the radius of the start: central differences, of which h² times a third derivative that jumps where the burr
    // begins to be counted leaves some 1e-6
    const auto strokes = [&](double by) {
      auto moved = model;
      moved.tools[bench::tool::chisel].apex_radius_um += by;
      return bench::run(moved, plan, bench::at_tolerance(1e-12)).ledger.strokes;
    };
    const double h = 1e-4;
    CHECK(off(count.v[1], (strokes(h) - strokes(-h)) / (2.0 * h)) < 3e-5);
  }
}

TEST_CASE("The exponent of the load has its derivative at 1 too, where the pressure drops out") {
  auto       model = bench::workshop();
  const auto plan  = bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 20)});
  REQUIRE(model.coefficients.active_grit_load_exponent == 1.0);
  auto jets                                        = convert<Jet>(model);
  jets.coefficients.active_grit_load_exponent.v[0] = 1.0;
  const auto exact = bench::run(jets, plan, bench::at_tolerance(1e-10)).state.apex_radius_um;
  const auto at    = [&](double exponent) {
    model.coefficients.active_grit_load_exponent = exponent;
    return bench::run(model, plan, bench::at_tolerance(1e-12)).state.apex_radius_um;
  };
  // differences to the one side that there is, of third order: h³/4 = 3e-10 of the fourth derivative, and 1e-11/h from the
  // runs
  const double h = 1e-3;
  const double numeric =
      (11.0 * at(1.0) - 18.0 * at(1.0 - h) + 9.0 * at(1.0 - 2 * h) - 2.0 * at(1.0 - 3 * h)) / (6.0 * h);
  CHECK(std::abs(numeric) > 1e-3);
  CHECK(off(exact.v[0], numeric) < 1e-5);
}
