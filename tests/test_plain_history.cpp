// SPDX-License-Identifier: MIT
#include <cmath>
#include <fstream>
#include <functional>
#include <string>

#include <boost/numeric/odeint.hpp>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "sim/integrate/history_run.hpp"
#include "sim/integrate/jet.hpp"
#include "tests/bench/histories.hpp"
#include "tests/bench/plain_history.hpp"
#include "tests/bench/plain_numbers.hpp"
#include "tests/desk.hpp"
#include "tests/program.hpp"

using namespace arris;
using namespace arris::bench;

// Benchmarks compare times with those of plain loops, which is fair only as long as both give the same edges.
TEST_CASE("the plain loop of the benchmarks gives the library's edges after every step", "[plain]") {
  for (const History& h : histories(24, 3)) {
    const auto library = run(h.model, h.plan, at_tolerance(1e-10));
    REQUIRE(library.status.usable());
    std::size_t i = 0;
    run_plain_odeint(h.model, h.plan, 1e-12, 1e-10, [&](const PlainState& y) {
      const auto& e = library.witness.after_step.at(i++);
      INFO("step " << i);
      CHECK(y[0] == Approx(e.apex_radius_um).epsilon(1e-7));
      CHECK(y[1] == Approx(e.scratch_um).epsilon(1e-7));
      CHECK(y[2] == Approx(e.burr_um).epsilon(1e-7).margin(1e-9));
      CHECK(y[3] == Approx(e.bevel_depth_um).epsilon(1e-7));
    });
    CHECK(i == steps_of_a_history);
  }
}

TEST_CASE("a loose tolerance leaves the plain loop with numbers, though a strop meets a dubbed tip late",
          "[plain]") {
  for (const History& h : histories(64, 1)) {
    bool finite = true;
    run_plain_odeint(h.model, h.plan, 1e-6, 1e-4,
                     [&](const PlainState& y) { finite = finite && std::isfinite(y[0]); });
    CHECK(finite);
  }
}

TEST_CASE("the plain loop over jets gives the library's derivatives", "[plain]") {
  using Jet = ceres::Jet<double, 4>;
  for (const History& h : histories(8, 3)) {
    Model<Jet> model = convert<Jet>(h.model);
    const auto free  = twelve_parameters(model);
    for (int k = 0; k < 4; ++k) free[3 * static_cast<std::size_t>(k)]->v[k] = 1.0;
    const auto library = run(model, h.plan, at_tolerance(1e-9));
    REQUIRE(library.status.usable());
    Jet radius;
    run_plain_odeint_jets(model, h.plan, 1e-11, 1e-9, [&](const PlainStateOf<Jet>& y) { radius = y[0]; });
    for (int k = 0; k < 4; ++k) {
      const Jet& exact = library.state.apex_radius_um;
      CHECK(radius.v[k] == Approx(exact.v[k]).epsilon(1e-5).margin(1e-7 * exact.v.cwiseAbs().maxCoeff()));
    }
  }
}

// Its own right-hand sides, written for scipy, on the way of some histories.
TEST_CASE("Python's right-hand sides of the benchmarks are those of the plain loop", "[plain]") {
  const desk::Folder folder;
  const auto         file = folder / "places.jsonl";
  std::ofstream      out(file);
  for (const History& h : histories(6, 3)) {
    run_plain(
        h.model, h.plan,
        [&](const auto& rates, PlainState& y, double count) {
          namespace odeint    = boost::numeric::odeint;
          nlohmann::json step = {{"function", name_of(rates)}, {"numbers", numbers_of(rates)}};
          for (int i = 0; i <= 4; ++i) {
            const double n = 0.25 * i * count;
            if (i > 0)
              odeint::integrate_adaptive(
                  odeint::make_controlled<odeint::runge_kutta_dopri5<PlainState>>(1e-8, 1e-6),
                  std::cref(rates), y, n - 0.25 * count, n, 0.1);
            PlainState dy{};
            rates(y, dy, n);
            step["places"].push_back({{"n", n}, {"y", y}, {"dy", dy}});
          }
          out << step << '\n';
        },
        [](const PlainState&) {});
  }
  out.close();
  const auto outcome = desk::shell(folder, "/usr/bin/python3 -B " +
                                               desk::quoted(ARRIS_SOURCE_DIR "/tests/bench/check_plain.py") +
                                               " " + desk::quoted(file.string()));
  INFO(outcome.out << outcome.err);
  CHECK(outcome.code == 0);
}
