// SPDX-License-Identifier: MIT
// The stages of a history by this library's integrator, by SUNDIALS (CVODES) and by GSL: the same right-hand sides, other
// people's steps. Right-hand sides written anew are compared in Python and R (validation/numerics.py).
#include <cmath>
#include <functional>
#include <memory>
#include <stdexcept>
#include <variant>

#include <cvodes/cvodes.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include "sim/integrate/jet.hpp"
#include "sim/integrate/run.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "tests/fixture.hpp"
#include "validation/numbers/numbers.hpp"

namespace arris::numbers {

namespace {

constexpr double tight =
    1e-10;  ///< relative tolerance of the other integrators; absolute a hundredth. CVODES stalls on rounding below

/// The same for the slopes of CVODES.
constexpr double tight_slopes = 1e-7;

/// A right-hand side of at most three components, and up to three parameters in it.
struct Equations {
  std::size_t                                                                          size = 0;
  std::vector<double>                                                                  parameters;
  std::function<void(const double* parameters, double n, const double* y, double* dy)> rates;
};

void check(int code, const char* what) {
  if (code < 0) throw std::runtime_error(std::string(what) + " failed with " + std::to_string(code));
}

struct Solved {
  std::vector<double>              y;
  std::vector<std::vector<double>> slopes;  ///< by parameter
};

/// Adams or BDF of CVODES from `y` at 0 to `end`; with the slopes of y against the parameters unless told not to.
Solved by_cvodes(Equations equations, const std::vector<double>& start, double end, int method,
                 bool with_slopes) {
  SUNContext raw = nullptr;
  check(SUNContext_Create(nullptr, &raw), "SUNContext_Create");
  const std::unique_ptr<SUNContext, void (*)(SUNContext*)> context(new SUNContext(raw), [](SUNContext* c) {
    SUNContext_Free(c);
    delete c;
  });
  using Vector        = std::unique_ptr<std::remove_pointer_t<N_Vector>, void (*)(N_Vector)>;
  const auto   size   = static_cast<sunindextype>(start.size());
  const auto   vector = [&] { return Vector(N_VNew_Serial(size, raw), N_VDestroy); };
  const Vector y      = vector();
  for (std::size_t i = 0; i < start.size(); ++i) N_VGetArrayPointer(y.get())[i] = start[i];

  const std::unique_ptr<void, void (*)(void*)> memory(CVodeCreate(method, raw),
                                                      [](void* m) { CVodeFree(&m); });
  const auto                                   rates = +[](realtype n, N_Vector at, N_Vector dy, void* data) {
    const auto& e = *static_cast<Equations*>(data);
    e.rates(e.parameters.data(), n, N_VGetArrayPointer(at), N_VGetArrayPointer(dy));
    return 0;
  };
  check(CVodeInit(memory.get(), rates, 0.0, y.get()), "CVodeInit");
  check(CVodeSStolerances(memory.get(), tight, 1e-2 * tight), "CVodeSStolerances");
  check(CVodeSetUserData(memory.get(), &equations), "CVodeSetUserData");
  check(CVodeSetMaxNumSteps(memory.get(), 2000000), "CVodeSetMaxNumSteps");
  check(CVodeSetStopTime(memory.get(), end), "CVodeSetStopTime");
  const std::unique_ptr<std::remove_pointer_t<SUNMatrix>, void (*)(SUNMatrix)> matrix(
      SUNDenseMatrix(size, size, raw), SUNMatDestroy);
  const std::unique_ptr<std::remove_pointer_t<SUNLinearSolver>, int (*)(SUNLinearSolver)> solver(
      SUNLinSol_Dense(y.get(), matrix.get(), raw), SUNLinSolFree);
  check(CVodeSetLinearSolver(memory.get(), solver.get(), matrix.get()), "CVodeSetLinearSolver");

  const int           count  = with_slopes ? static_cast<int>(equations.parameters.size()) : 0;
  N_Vector*           slopes = nullptr;
  std::vector<double> scale  = equations.parameters;
  if (count > 0) {
    slopes = N_VCloneVectorArray(count, y.get());
    for (int k = 0; k < count; ++k) N_VConst(0.0, slopes[k]);
    check(CVodeSensInit1(memory.get(), count, CV_SIMULTANEOUS, nullptr, slopes), "CVodeSensInit1");
    check(CVodeSetSensParams(memory.get(), equations.parameters.data(), scale.data(), nullptr),
          "CVodeSetSensParams");
    // second differences of its own: good to about the cube root of rounding, squared
    check(CVodeSetSensDQMethod(memory.get(), CV_CENTERED, 0.0), "CVodeSetSensDQMethod");
    // slopes come to rest later than values do: over steps that look at values alone they go astray. Looser than those, since the
    // differences are no better
    std::vector<double> least(equations.parameters.size());
    for (std::size_t k = 0; k < least.size(); ++k)
      least[k] = 1e-2 * tight_slopes / std::abs(equations.parameters[k]);
    check(CVodeSensSStolerances(memory.get(), tight_slopes, least.data()), "CVodeSensSStolerances");
    check(CVodeSetSensErrCon(memory.get(), SUNTRUE), "CVodeSetSensErrCon");
  }
  double reached = 0.0;
  check(CVode(memory.get(), end, y.get(), &reached, CV_NORMAL), "CVode");
  Solved out;
  out.y.assign(N_VGetArrayPointer(y.get()), N_VGetArrayPointer(y.get()) + size);
  if (count > 0) {
    check(CVodeGetSens(memory.get(), &reached, slopes), "CVodeGetSens");
    for (int k = 0; k < count; ++k)
      out.slopes.emplace_back(N_VGetArrayPointer(slopes[k]), N_VGetArrayPointer(slopes[k]) + size);
    N_VDestroyVectorArray(slopes, count);
  }
  return out;
}

/// Prince and Dormand's eighth order of GSL.
std::vector<double> by_gsl(Equations equations, std::vector<double> y, double end) {
  const auto rates = +[](double n, const double* at, double* dy, void* data) {
    const auto& e = *static_cast<Equations*>(data);
    e.rates(e.parameters.data(), n, at, dy);
    return static_cast<int>(GSL_SUCCESS);
  };
  gsl_odeiv2_system system{rates, nullptr, y.size(), &equations};
  const std::unique_ptr<gsl_odeiv2_driver, void (*)(gsl_odeiv2_driver*)> driver(
      gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd, 1e-4 * end, 1e-2 * tight, tight),
      gsl_odeiv2_driver_free);
  double n = 0.0;
  if (gsl_odeiv2_driver_apply(driver.get(), &n, end, y.data()) != GSL_SUCCESS)
    throw std::runtime_error("GSL did not reach the end of a stage");
  return y;
}

/// One step of a history from the state in which a tool begins.
struct Case {
  std::string              name;
  int                      tool;
  double                   radius_um, scratch_um, burr_um;
  Step                     step;
  double                   count;
  std::vector<std::string> parameters;
};

template <class T>
std::vector<T*> places_of(Model<T>& model, const std::vector<std::string>& paths) {
  std::vector<T*> out(paths.size(), nullptr);
  for_each_number(model, [&](const std::string& path, const Field&, T& number) {
    for (std::size_t i = 0; i < paths.size(); ++i)
      if (paths[i] == path) out[i] = &number;
  });
  for (std::size_t i = 0; i < paths.size(); ++i)
    if (out[i] == nullptr) throw std::logic_error("no number " + paths[i]);
  return out;
}

/// The right-hand side of the stage that a step becomes, assembled anew for every set of parameters.
Equations equations_of(Model<double>& model, const Case& c) {
  Equations  out;
  const auto places = places_of(model, c.parameters);
  for (const double* p : places) out.parameters.push_back(*p);
  out.size  = std::holds_alternative<CutStep>(c.step) ? 1 : 3;
  out.rates = [&model, places, c](const double* parameters, double n, const double* y, double* dy) {
    for (std::size_t i = 0; i < places.size(); ++i) *places[i] = parameters[i];
    const auto blade = bench::blade_of(model, c.tool);
    const auto state =
        initial_state(model.tools[static_cast<std::size_t>(c.tool)], blade, model.tester.contact_distance_um);
    Ledger<double> ledger;
    ledger.reset(model.media.size());
    std::visit(
        [&](const auto& step) {
          using S        = std::decay_t<decltype(step)>;
          const auto run = [&](const auto& stage) {
            auto at = stage.start(state), slope = at;
            for (std::size_t i = 0; i < at.size(); ++i) at[i] = y[i];
            stage.rates(at, slope, n);
            for (std::size_t i = 0; i < at.size(); ++i) dy[i] = slope[i];
            return slope;
          };
          // the library has the burr in closed form; here its rate is integrated like the others
          if constexpr (std::is_same_v<S, CutStep>) {
            run(assemble(step, std::get<laws::SharedLoad<double>>(model.wear->law), model, blade, state,
                         ledger));
          } else if constexpr (std::is_same_v<S, HoneStep>) {
            const auto stage = assemble(step, model, blade, state, ledger);
            dy[2]            = stage.burr.rate(y[2], run(stage)[2], 1.0);
          } else if constexpr (std::is_same_v<S, StropStep>) {
            const auto stage = assemble(step, model, blade, state, ledger);
            run(stage);
            dy[2] = -stage.burr_loss * y[2];
          } else {
            throw std::logic_error("a step without a stage");
          }
        },
        c.step);
  };
  return out;
}

template <class T>
std::vector<T> shown(const EdgeState<T>& e, std::size_t size) {
  if (size == 1) return {e.apex_radius_um};
  return {e.apex_radius_um, e.scratch_um, e.burr_um};
}

}  // namespace

Json histories() {
  using Jet = ceres::Jet<double, 8>;
  std::vector<Case>              cases;
  const std::vector<std::string> honing{"coefficients.abrasion", "coefficients.radius_per_scratch",
                                        "coefficients.burr_growth"},
      stropping{"compound.chromium oxide.removal_nm", "coefficients.burr_loss_strop",
                "coefficients.radius_per_scratch"},
      cutting{"wear.parting_um2_per_m", "wear.crushing_um_per_m", "coefficients.collapse_length_m"};
  for (double strokes : {15.0, 60.0}) {
    cases.push_back({"hone, soft stone, dull iron", bench::tool::iron, 2.0, 0.6, 0.0,
                     bench::hone(bench::medium::middle, strokes), strokes, honing});
    cases.push_back({"hone, film, fine chisel", bench::tool::chisel, 0.3, 0.05, 3.0,
                     bench::hone(bench::medium::film, strokes), strokes, honing});
  }
  for (double laps : {8.0, 50.0}) {
    cases.push_back({"strop, thin hide", bench::tool::iron, 0.4, 0.04, 4.0,
                     bench::strop(bench::backing::thin_hide, bench::compound::oxide, laps), laps, stropping});
    cases.push_back({"strop, soft hide, from a finer edge", bench::tool::iron, 0.08, 0.01, 0.5,
                     bench::strop(bench::backing::soft_hide, bench::compound::oxide, laps), laps, stropping});
  }
  for (double passes : {20.0, 400.0}) {
    cases.push_back({"cut, sugar maple", bench::tool::iron, 0.12, 0.02, 0.0,
                     bench::cut(bench::wood::maple, passes), passes, cutting});
    cases.push_back({"cut, teak, D2 knife", bench::tool::knife, 0.3, 0.02, 0.0,
                     bench::cut(bench::wood::teak, passes), passes, cutting});
  }
  Json out = Json::array();
  for (const Case& c : cases) {
    Model<double> model  = bench::workshop();
    auto&         tool   = model.tools[static_cast<std::size_t>(c.tool)];
    tool.apex_radius_um  = c.radius_um;
    tool.scratch_um      = c.scratch_um;
    tool.burr_um         = c.burr_um;
    const auto      plan = bench::plan(c.tool, {c.step});
    Json            row{{"name", c.name}, {"count", c.count}, {"parameters", c.parameters}};
    const Equations equations = equations_of(model, c);
    const auto      start =
        shown(initial_state(tool, bench::blade_of(model, c.tool), model.tester.contact_distance_um),
              equations.size);

    for (double relative : {1e-6, 1e-9}) {
      const auto run = bench::run(model, plan, bench::at_tolerance(relative));
      if (!run.status.usable()) throw std::runtime_error(c.name + " failed");
      row[relative > 1e-8 ? "ours_6" : "ours_9"] = shown(run.state, equations.size);
    }
    auto       jets   = convert<Jet>(model);
    const auto places = places_of(jets, c.parameters);
    for (std::size_t i = 0; i < places.size(); ++i) places[i]->v[static_cast<Eigen::Index>(i)] = 1.0;
    const auto with_slopes = bench::run(jets, plan, bench::at_tolerance(1e-9));
    for (std::size_t i = 0; i < places.size(); ++i) {
      Json slopes = Json::array();
      for (const Jet& component : shown(with_slopes.state, equations.size))
        slopes.push_back(component.v[static_cast<Eigen::Index>(i)]);
      row["our_slopes"].push_back(slopes);
      row["values"].push_back(equations.parameters[i]);
    }
    const Solved adams   = by_cvodes(equations, start, c.count, CV_ADAMS, false);
    const Solved bdf     = by_cvodes(equations, start, c.count, CV_BDF, true);
    row["cvode_adams"]   = adams.y;
    row["cvodes_bdf"]    = bdf.y;
    row["cvodes_slopes"] = bdf.slopes;
    row["gsl"]           = by_gsl(equations, start, c.count);
    out.push_back(row);
  }
  return out;
}

}  // namespace arris::numbers
