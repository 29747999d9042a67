// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

#include "sim/integrate/run.hpp"

/// Many histories at once, several to a register of the processor. There for double, and with derivatives for
/// ceres::Jet<double, 4> and <double, 8>.
///
/// The equations are those of history_run.hpp; how they are solved differs, so that results agree with it to ten times
/// the relative tolerance (a burr to thirty times: its growth has joints, where a step errs by more than its estimate), and not to
/// the last bit:
///   on a medium or a strop   power series over the depth D that is removed, of the order 10 for scratches and radius and 8 for the
///                            burr (8 and 6 with derivatives), a step size to each history from the last two coefficients; a
///                            step ends at joints of the burr's growth; what follows once radius and scratches have settled is
///                            an integral
///   in wood                  the integral of growth.hpp, with 15 nodes and an error estimate from 7 of them
/// Where an estimate is not met, or a history needs what lanes do not have, run.hpp goes on with it from that step on: a wear law
/// that depends on the path or is a formula, an exponent m other than 2, scratches that depend on the pressure, a count within a
/// step that counts from the burr on.
///
/// A history's numbers depend on nothing but that history, the tolerances and the instruction set: not on what it is worked on
/// with, nor on the order, nor on how many there are. Between instruction sets they differ by rounding, 1e-14 of
/// a radius in 600 histories out of the priors, and by no more than above where a step is taken by one and refused by another.
/// SSE2 is always there; AVX2 and AVX-512 are used where the processor has them. With derivatives SSE2 is the scalar path.
/// Derivatives are exact, of where a stage ends too, and held to four times the tolerance of a value (jet.hpp); a value is not
/// the same to the last bit with derivatives and without, since steps are shortened for either.
namespace arris {

/// Where a history begins. It goes on from what another left, as `continue_history` does, where that is given.
template <class T>
struct HistoryStartOf {
  const EdgeState<T>* state  = nullptr;  ///< null: the state in which the tool begins
  const Ledger<T>*    ledger = nullptr;  ///< null: nothing done yet
  std::size_t         step   = 0;        ///< steps before are passed over
};

/// Where the histories of a batch come from. `model`, `plan` and `observer` are asked for one history at a time; what they
/// return need only stay as it is until the next is asked for, and `plan` until the batch is done. `start` is asked for once,
/// and may not lie in the results of this batch.
template <class T>
class HistoryBatchOf {
 public:
  virtual ~HistoryBatchOf()                                         = default;
  [[nodiscard]] virtual std::size_t         size() const            = 0;
  [[nodiscard]] virtual const Model<T>&     model(std::size_t i)    = 0;
  [[nodiscard]] virtual const EdgePlan&     plan(std::size_t i)     = 0;
  [[nodiscard]] virtual HistoryObserver<T>& observer(std::size_t i) = 0;
  [[nodiscard]] virtual HistoryStartOf<T>   start(std::size_t /*i*/) { return {}; }
};

/// What became of a history of a batch.
template <class T>
struct LaneResultOf {
  RunStatus    status;
  EdgeState<T> state;  ///< NaN if the status is not usable
  Ledger<T>    ledger;
  int          adaptive_from = -1;  ///< the step from which on run.hpp had to do it; −1 if none
};

using HistoryStart = HistoryStartOf<double>;
using HistoryBatch = HistoryBatchOf<double>;
using LaneResult   = LaneResultOf<double>;

/// How lanes work.
enum class InstructionSet { best, none, sse2, avx2, avx512 };

/// Those that this processor and this build have, the best last; `none` is the scalar path.
[[nodiscard]] std::vector<InstructionSet> instruction_sets();
[[nodiscard]] std::string_view            name_of(InstructionSet);

/// Runs the batch. Observers see what those of `run_history` see, but for `strokes_to_burr`, which stays NaN. `results` is
/// work space; reuse it.
template <class T>
void run_batch(HistoryBatchOf<T>& batch, const Tolerances& tolerances, std::vector<LaneResultOf<T>>& results,
               InstructionSet set = InstructionSet::best);

extern template void run_batch(HistoryBatch&, const Tolerances&, std::vector<LaneResult>&, InstructionSet);

}  // namespace arris
