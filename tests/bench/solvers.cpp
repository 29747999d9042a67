// SPDX-License-Identifier: MIT
// Many histories on one core: this project's lanes and its scalar path, a plain loop of Boost.Odeint, GSL's rk8pd, SUNDIALS CVODE by
// Adams and by BDF, and scipy's solve_ivp, over the same equations (plain_history.hpp) at the same measured accuracy. Prints times
// per history and ratios to the plain loop.
//
// Each solver gets the loosest tolerance, in eighths of a decade, at which the worst radius of 512 histories is off by 1e-6 at
// most, at the end or after every step; its time and its error are then taken on 512 others. Reference: the plain loop at 1e-13.
// solve_ivp's slower methods get a sixteenth of them: the worst of fewer asks less of them. Then values with 12 derivatives, at the
// tolerances of the values, and the batch on two cores. Arguments: how many histories, and the seed of the others.
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include <cvode/cvode.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include "sim/integrate/jet.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/parallel.hpp"
#include "tests/bench/histories.hpp"
#include "tests/bench/plain_history.hpp"
#include "tests/bench/plain_numbers.hpp"
#include "tests/bench/solve_ivp.hpp"
#include "tests/fixture.hpp"

namespace {

using namespace arris;
using namespace arris::bench;

constexpr std::size_t steps = steps_of_a_history;
using Radii                 = std::array<double, steps>;

struct RadiusWatch final : HistoryObserver<double> {
  Radii radii{};
  void  after(std::size_t i, const StepOutcome<double>&, const EdgeState<double>& state,
              const Ledger<double>&) override {
    radii[i] = state.apex_radius_um;
  }
};

/// All histories of a set at a tolerance.
using Solver = std::function<void(const std::vector<History>&, double tolerance, std::vector<Radii>&)>;

Tolerances tolerances(double relative) {
  Tolerances t;
  t.relative    = relative;
  t.absolute_um = 0.01 * relative;
  return t;
}

void odeint_plain(const std::vector<History>& set, double t, std::vector<Radii>& out) {
  for (std::size_t i = 0; i < set.size(); ++i) {
    std::size_t k = 0;
    run_plain_odeint(set[i].model, set[i].plan, 0.01 * t, t,
                     [&](const PlainState& y) { out[i][k++] = y[0]; });
  }
}

void gsl_rk8pd(const std::vector<History>& set, double t, std::vector<Radii>& out) {
  for (std::size_t i = 0; i < set.size(); ++i) {
    std::size_t k = 0;
    run_plain(
        set[i].model, set[i].plan,
        [&](const auto& rates, PlainState& y, double count) {
          using Rates = std::remove_reference_t<decltype(rates)>;
          gsl_odeiv2_system  system{[](double n, const double* x, double* dx, void* of) {
                                     (*static_cast<Rates*>(of))(x, dx, n);
                                     return static_cast<int>(GSL_SUCCESS);
                                   },
                                   nullptr, 4, const_cast<void*>(static_cast<const void*>(&rates))};
          gsl_odeiv2_driver* driver = gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd,
                                                                    std::min(1.0, count), 0.01 * t, t);
          double             n      = 0.0;
          if (gsl_odeiv2_driver_apply(driver, &n, count, y.data()) != GSL_SUCCESS) y[0] = not_given;
          gsl_odeiv2_driver_free(driver);
        },
        [&](const PlainState& y) { out[i][k++] = y[0]; });
  }
}

/// CVODE set up once and started anew for every step.
class Cvode {
 public:
  explicit Cvode(int method) {
    SUNContext_Create(nullptr, &context_);
    y_     = N_VNew_Serial(4, context_);
    cvode_ = CVodeCreate(method, context_);
    CVodeInit(
        cvode_,
        [](double n, N_Vector y, N_Vector dy, void* of) {
          const auto& call = *static_cast<const std::function<void(const double*, double*, double)>*>(of);
          call(N_VGetArrayPointer(y), N_VGetArrayPointer(dy), n);
          return 0;
        },
        0.0, y_);
    CVodeSStolerances(cvode_, 1e-6, 1e-8);
    CVodeSetMaxNumSteps(cvode_, 1000000);
    CVodeSetErrFile(cvode_, nullptr);
    if (method == CV_BDF) {
      matrix_ = SUNDenseMatrix(4, 4, context_);
      linear_ = SUNLinSol_Dense(y_, matrix_, context_);
      CVodeSetLinearSolver(cvode_, linear_, matrix_);
    } else {
      fixed_ = SUNNonlinSol_FixedPoint(y_, 0, context_);
      CVodeSetNonlinearSolver(cvode_, fixed_);
    }
  }
  Cvode(const Cvode&)            = delete;
  Cvode& operator=(const Cvode&) = delete;
  ~Cvode() {
    CVodeFree(&cvode_);
    if (linear_ != nullptr) SUNLinSolFree(linear_);
    if (matrix_ != nullptr) SUNMatDestroy(matrix_);
    if (fixed_ != nullptr) SUNNonlinSolFree(fixed_);
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  void run(const std::vector<History>& set, double t, std::vector<Radii>& out) {
    for (std::size_t i = 0; i < set.size(); ++i) {
      std::size_t k = 0;
      run_plain(
          set[i].model, set[i].plan,
          [&](const auto& rates, PlainState& y, double count) {
            const std::function<void(const double*, double*, double)> call =
                [&rates](const double* x, double* dx, double at) { rates(x, dx, at); };
            double* const data = N_VGetArrayPointer(y_);
            std::copy(y.begin(), y.end(), data);
            CVodeReInit(cvode_, 0.0, y_);
            CVodeSStolerances(cvode_, t, 0.01 * t);
            CVodeSetUserData(cvode_, const_cast<void*>(static_cast<const void*>(&call)));
            CVodeSetStopTime(cvode_, count);
            double n = 0.0;
            if (CVode(cvode_, count, y_, &n, CV_NORMAL) < 0) data[0] = not_given;
            std::copy_n(data, 4, y.begin());
          },
          [&](const PlainState& y) { out[i][k++] = y[0]; });
    }
  }

 private:
  SUNContext         context_ = nullptr;
  N_Vector           y_       = nullptr;
  void*              cvode_   = nullptr;
  SUNMatrix          matrix_  = nullptr;
  SUNLinearSolver    linear_  = nullptr;
  SUNNonlinearSolver fixed_   = nullptr;
};

/// By scipy, over right-hand sides in Python (plain_history.py) or over the compiled ones.
Solver scipy_by(const std::shared_ptr<SolveIvp>& scipy, const std::string& method, bool compiled) {
  return [scipy, method, compiled](const std::vector<History>& set, double t, std::vector<Radii>& out) {
    for (std::size_t i = 0; i < set.size(); ++i) {
      std::size_t k = 0;
      run_plain(
          set[i].model, set[i].plan,
          [&](const auto& rates, PlainState& y, double count) {
            std::vector<double> now(y.begin(), y.end());
            const auto          compiled_rates = [&rates](const double* x, double* dx, double at) {
              rates(x, dx, at);
            };
            if (compiled) {
              scipy->run(method, compiled_rates, now, count, t, 0.01 * t);
            } else {
              scipy->run(method, name_of(rates), numbers_of(rates), now, count, t, 0.01 * t);
            }
            std::copy(now.begin(), now.end(), y.begin());
          },
          [&](const PlainState& y) { out[i][k++] = y[0]; });
    }
  };
}

class Records final : public HistoryBatch {
 public:
  explicit Records(std::span<const History> set) : set_(set), watches_(set.size()) {}
  [[nodiscard]] std::size_t size() const override { return set_.size(); }
  const Model<double>&      model(std::size_t i) override { return set_[i].model; }
  const EdgePlan&           plan(std::size_t i) override { return set_[i].plan; }
  HistoryObserver<double>&  observer(std::size_t i) override { return watches_[i]; }
  void                      give(std::vector<Radii>& out) const {
                         for (std::size_t i = 0; i < out.size(); ++i) out[i] = watches_[i].radii;
  }

 private:
  std::span<const History> set_;
  std::vector<RadiusWatch> watches_;
};

Solver arris_with(InstructionSet set) {
  return [set, results = std::make_shared<std::vector<LaneResult>>()](const std::vector<History>& all,
                                                                      double t, std::vector<Radii>& out) {
    Records records(all);
    run_batch(records, tolerances(t), *results, set);
    records.give(out);
  };
}

double seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// Relative errors of the radius, the worst of each history, ascending.
std::vector<double> errors(const std::vector<Radii>& got, const std::vector<Radii>& exact, bool every_step) {
  std::vector<double> out;
  for (std::size_t i = 0; i < got.size(); ++i) {
    double worst = 0.0;
    for (std::size_t k = every_step ? 0 : steps - 1; k < steps; ++k) {
      const double e = std::abs(got[i][k] / exact[i][k] - 1.0);
      worst          = e <= worst ? worst : e;  // NaN counts as worst
    }
    out.push_back(std::isnan(worst) ? 1.0 : worst);
  }
  std::sort(out.begin(), out.end());
  return out;
}

/// The model with derivatives `first` … `first + slots − 1` of twelve, with respect to relative changes as a fit takes them.
template <class Jet>
Model<Jet> with_derivatives(const Model<double>& from, int first) {
  Model<Jet> model = convert<Jet>(from);
  const auto free  = twelve_parameters(model);
  for (int i = 0; i < Jet::DIMENSION; ++i) {
    Jet& number = *free[static_cast<std::size_t>(first) + static_cast<std::size_t>(i)];
    number.v[i] = number.a;
  }
  return model;
}

/// Derivatives of the last radius, 12 a history.
using Slopes = std::vector<std::array<double, 12>>;

template <class Jet>
class Derivatives final : public HistoryBatchOf<Jet> {
 public:
  Derivatives(const std::vector<History>& set, int first) : set_(set), first_(first) {
    for (const History& h : set) models_.push_back(with_derivatives<Jet>(h.model, first));
  }
  [[nodiscard]] std::size_t size() const override { return set_.size(); }
  const Model<Jet>&         model(std::size_t i) override { return models_[i]; }
  const EdgePlan&           plan(std::size_t i) override { return set_[i].plan; }
  HistoryObserver<Jet>&     observer(std::size_t) override { return nobody_; }
  void                      run(double t, Slopes& out) {
                         run_batch(*this, tolerances(t), results_);
                         for (std::size_t i = 0; i < results_.size(); ++i) {
                           for (int j = 0; j < Jet::DIMENSION; ++j)
        out[i][static_cast<std::size_t>(first_) + static_cast<std::size_t>(j)] =
            results_[i].state.apex_radius_um.v[j];
    }
  }

 private:
  const std::vector<History>&    set_;
  int                            first_;
  std::vector<Model<Jet>>        models_;
  std::vector<LaneResultOf<Jet>> results_;
  HistoryObserver<Jet>           nobody_;
};

/// Values with 12 derivatives: the plain loop over jets against lanes, in runs of eight and of four.
void compare_derivatives(const std::vector<History>& set, double t_plain, double t_lanes) {
  using Jet = ceres::Jet<double, 12>;
  std::vector<Model<Jet>> models;
  for (const History& h : set) models.push_back(with_derivatives<Jet>(h.model, 0));
  const auto plain = [&](double t, Slopes& out) {
    for (std::size_t i = 0; i < set.size(); ++i)
      run_plain_odeint_jets(models[i], set[i].plan, 0.01 * t, t, [&](const PlainStateOf<Jet>& y) {
        for (int j = 0; j < 12; ++j) out[i][static_cast<std::size_t>(j)] = y[0].v[j];
      });
  };
  Derivatives<ceres::Jet<double, 8>> eight(set, 0);
  Derivatives<ceres::Jet<double, 4>> four(set, 8);
  const auto                         lanes = [&](double t, Slopes& out) {
    eight.run(t, out);
    four.run(t, out);
  };
  Slopes exact(set.size()), got(set.size());
  plain(1e-12, exact);
  std::printf("%zu histories with 12 derivatives\n", set.size());
  double     of_plain = 0.0;
  const auto tell     = [&](const char* name, const auto& solver, double t) {
    double best = 1e9;
    for (int i = 0; i < 5; ++i) {
      const double from = seconds();
      solver(t, got);
      best = std::min(best, 1e6 * (seconds() - from) / static_cast<double>(set.size()));
    }
    double worst = 0.0;  // over the largest of a history's derivatives
    for (std::size_t i = 0; i < set.size(); ++i) {
      double largest = 0.0, off = 0.0;
      for (std::size_t j = 0; j < 12; ++j) {
        largest = std::max(largest, std::abs(exact[i][j]));
        off     = std::max(off, std::abs(got[i][j] - exact[i][j]));
      }
      worst = std::max(worst, off / largest);
    }
    if (of_plain == 0.0) of_plain = best;
    std::printf("  %-22s %9.1e %10.1e %10s %11.2f %8.3f\n", name, t, worst, "", best, best / of_plain);
  };
  tell("odeint over jets", plain, t_plain);
  tell("arris in lanes", lanes, t_lanes);
}

/// The batch over and over on one thread and on two, by the time on the clock: another process on either core shows in it.
void compare_cores(const std::vector<History>& set, double t) {
  constexpr std::size_t piece = 64, rounds = 32;
  const std::size_t     pieces = std::max<std::size_t>(set.size() / piece, 1);
  const auto            best   = [&](int threads) {
    double out = 1e9;
    for (int i = 0; i < 9; ++i) {
      const auto from = std::chrono::steady_clock::now();
      for_each_index(rounds * pieces, threads, [&](std::size_t k) {
        thread_local std::vector<LaneResult> results;
        const std::size_t                    first = k % pieces * piece;
        Records records(std::span<const History>(set).subspan(first, std::min(piece, set.size() - first)));
        run_batch(records, tolerances(t), results);
      });
      out = std::min(out, std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count());
    }
    return 1e6 * out / static_cast<double>(rounds * set.size());
  };
  const double one = best(1), two = best(2);
  std::printf("two threads, by the clock: %.2f us/history, one %.2f: %.2f times as fast\n", two, one,
              one / two);
}

std::vector<History> first_of(const std::vector<History>& set, std::size_t share) {
  const std::size_t few = std::max<std::size_t>(set.size() / share, 1);
  return {set.begin(), set.begin() + static_cast<std::ptrdiff_t>(few)};
}

}  // namespace

int main(int argc, char** argv) {
  const std::size_t   count = argc > 1 ? static_cast<std::size_t>(std::atoi(argv[1])) : 512;
  const std::uint64_t seed =
      argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 2;  // of those that nothing is tuned on
  gsl_set_error_handler_off();
  const auto         tuning = histories(count, 1), others = histories(count, seed);
  std::vector<Radii> exact(count), exact_others(count);
  odeint_plain(tuning, 1e-13, exact);
  odeint_plain(others, 1e-13, exact_others);

  struct Rival {
    std::string name;
    Solver      solver;
    std::size_t share  = 1;  // one history of so many
    int         passes = 7;
  };
  auto               adams = std::make_shared<Cvode>(CV_ADAMS), bdf = std::make_shared<Cvode>(CV_BDF);
  std::vector<Rival> rivals{
      {"odeint dopri5, plain", odeint_plain},
      {"GSL rk8pd", gsl_rk8pd},
      {"CVODE Adams", [adams](const auto& set, double t, auto& out) { adams->run(set, t, out); }},
      {"CVODE BDF", [bdf](const auto& set, double t, auto& out) { bdf->run(set, t, out); }}};
  const auto        scipy   = std::make_shared<SolveIvp>();
  const std::string fastest = "LSODA";  // of scipy; the others, too slow for all, show it
  for (const auto& method : SolveIvp::methods())
    rivals.push_back(
        {"solve_ivp " + method, scipy_by(scipy, method, false), method == fastest ? 1U : 16U, 2});
  // the same where the arithmetic is not Python's
  rivals.push_back({"solve_ivp " + fastest + ", C++", scipy_by(scipy, fastest, true), 1, 2});
  for (const InstructionSet set : instruction_sets()) {
    const std::string name =
        set == InstructionSet::none ? "arris, scalar" : "arris, " + std::string(name_of(set));
    rivals.push_back({name, arris_with(set)});
  }
  for (const bool every_step : {false, true}) {
    std::printf("%zu histories, radius %s\n", count, every_step ? "after every step" : "at the end");
    std::printf("  %-22s %9s %10s %10s %11s %8s\n", "", "tolerance", "worst", "99 % below", "us/history",
                "ratio");
    double plain = 0.0, t_plain = 0.0, t_last = 0.0;
    for (const auto& [name, solver, share, passes] : rivals) {
      const std::vector<History> unseen = first_of(others, share);
      std::vector<Radii>         got(unseen.size());

      double t = 1e-3;
      // what fails for the first of them fails for all
      for (const std::size_t part : {std::max<std::size_t>(share, 16), share}) {
        const std::vector<History> tuned = first_of(tuning, part);
        std::vector<Radii>         radii(tuned.size());
        for (; t > 1e-12; t /= std::pow(10.0, 1.0 / 8.0)) {
          solver(tuned, t, radii);
          if (errors(radii, exact, every_step).back() <= 1e-6) break;
        }
      }
      double       best  = 1e9;
      const double begun = seconds();
      for (int i = 0; i < passes || seconds() - begun < 0.5; ++i) {
        const double from = seconds();
        solver(unseen, t, got);
        best = std::min(best, 1e6 * (seconds() - from) / static_cast<double>(unseen.size()));
      }
      const auto e = errors(got, exact_others, every_step);
      if (plain == 0.0) plain = best;
      std::printf("  %-22s %9.1e %10.1e %10.1e %11.2f %8.3g\n", name.c_str(), t, e.back(),
                  e[e.size() * 99 / 100], best, best / plain);
      std::fflush(stdout);
      if (t_plain == 0.0) t_plain = t;
      t_last = t;
    }
    if (every_step) continue;
    compare_derivatives(others, t_plain, t_last);
    compare_cores(others, t_last);
  }
}
