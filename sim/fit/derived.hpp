// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <ceres/jet.h>

#include "sim/fit/free_parameters.hpp"
#include "sim/simulate/simulate.hpp"

/// Quantities that follow from the parameters of a fit, and that people ask for rather than the parameters: what an edge
/// reads at some moment, how round it is there, how many passes it lasts. Each is that of the mean edge of its history,
/// without the luck of the one edge that was read.
namespace arris {

enum class DerivedKind { reading, apex_radius, passes_to_limit };

struct DerivedQuantity {
  DerivedKind kind = DerivedKind::reading;
  std::string name;                 ///< as it was asked for: "reading of A1 ready"
  std::string unit;                 ///< symbol: gf, µm, passes
  int         edge    = -1;         ///< index into Scenario::edges
  Moment      moment  = {};         ///< of a reading or a radius; a count that is NaN is the end of the step
  double      limit_N = not_given;  ///< of passes
  std::string way;                  ///< how the edge is sharpened then (way_at)
  bool        is_worn = false;      ///< whether it has cut wood since
  std::string wood;                 ///< which (wood_at); empty: none, or several
};

/// Reads what was asked for:
///
///     reading of EDGE WHEN        gf
///     apex radius of EDGE WHEN    µm
///     passes of EDGE to the limit     [output] reading_limit_gf, by the rule of life.hpp, looked for up to 5000 passes
///     wear of SPECIMEN WHEN       in the unit of [specimen]; of specimens that alone, and of WHEN "at NAME" and "after N metres" (or minutes)
///     WHEN:  off the stones       after the last step on a stone, plate or film before any strop or wood
///            ready                before the first pass, or at the end where there is none
///            at NAME              where a read step of that name stands
///            after N passes
///
/// Throws Error (Exit::usage): "unknown-quantity", "unknown-edge", "unknown-moment", "no-limit", "no-cut".
[[nodiscard]] DerivedQuantity derived_quantity(const Scenario& scenario, const std::string& text);

/// What is reported when nothing else is asked for: reading and radius when ready of the first edge of every route among those given. How
/// long edges last is for a forecast, which allows for what the laws miss along the passes.
[[nodiscard]] std::vector<std::string> usual_derived(const Scenario& scenario, const std::vector<int>& edges);

/// What is seen of an edge at several counts, µm.
template <class T>
struct DerivedSeen {
  std::vector<T> radius;  ///< of the apex
  std::vector<T> met;     ///< radius that a tester meets
  std::vector<T> burr;
  T              fresh_radius = T(0.0);  ///< both when the wear began, of an edge that is worn
  T              fresh_met    = T(0.0);
};

/// What an edge has by how it is sharpened and by its wood, beside the model (ways.hpp): logs of the factors on its apex and on what that grows
/// in wood.
struct ApexLuck {
  double apex = 0.0, growth = 0.0;
};

/// A quantity as a function of the scaled parameters. Not for several threads at once.
class DerivedModel {
 public:
  DerivedModel(const Scenario& scenario, const std::vector<FreeParameter>& parameters,
               const DerivedQuantity& quantity);

  /// What the edge has in all that follows.
  void set_luck(const ApexLuck& luck) {
    apex_factor_   = std::exp(luck.apex);
    growth_factor_ = std::exp(luck.growth);
  }
  /// In the unit of the quantity; NaN where the history fails, 0 or infinity for an edge that is too dull from the start or
  /// outlasts what is looked at.
  [[nodiscard]] double value(const Eigen::VectorXd& u);
  /// The same at each column of u (P × n), the histories run together in lanes (lanes.hpp): to their tolerance.
  /// `luck`: of each column, in place of that set; may be empty.
  [[nodiscard]] std::vector<double> values(const Eigen::MatrixXd& u, const std::vector<ApexLuck>& luck = {});

  /// Its logarithm and the slopes of that against u (P), by exact derivatives. False where there is no finite number.
  [[nodiscard]] bool log_value(const Eigen::VectorXd& u, double& value, Eigen::VectorXd* slopes);

 private:
  static constexpr std::size_t slots = 8;
  using Jet                          = ceres::Jet<double, slots>;
  template <class T>
  using Seen = DerivedSeen<T>;
  // what is seen of the edge during `step` at `counts` (a single NaN: at the end of the step)
  template <class T>
  bool see(const Model<T>& model, const EdgePlan& plan, std::size_t step, const std::vector<double>& counts,
           Seen<T>& seen) const;
  // a radius that was `fresh` when the wear began, with what the edge has in its growth
  template <class T>
  [[nodiscard]] T grown(const T& fresh, const T& now) const;
  template <class T>
  [[nodiscard]] T of(const Model<T>& model, const Seen<T>& seen, std::size_t k) const;
  // a reading of the tester in gram-force, or the wear of a specimen in its unit
  template <class T>
  [[nodiscard]] T    reading_shown(const Model<T>& model, const T& met, const T& burr) const;
  [[nodiscard]] bool set(const Eigen::VectorXd& u);
  // the derivatives with respect to parameters from `first` on, where there are so many
  void set_jets(const Eigen::VectorXd& u, std::size_t first);
  // of a quantity that is seen at one moment, whatever the luck of the edge; false where its history fails
  [[nodiscard]] bool   see_moment(const Eigen::VectorXd& u);
  [[nodiscard]] double passes();
  // where a life ends of an edge that was seen at the points of the grid
  [[nodiscard]] double passes_of(const std::vector<double>& grid, Seen<double>& seen) const;

  const Scenario&                   scenario_;
  const std::vector<FreeParameter>& parameters_;
  DerivedQuantity                   quantity_;
  double                            apex_factor_ = 1.0, growth_factor_ = 1.0;
  EdgePlan                          plan_;
  int                               wear_began_ = -1;  // the step with which it did; −1: never
  Model<double>                     model_;
  Model<Jet>                        jet_model_;
  std::vector<double*>              places_;
  std::vector<Jet*>                 jet_places_;
  // histories do not hang on luck: those that were run last with derivatives, eight parameters to a run, and where
  Eigen::VectorXd        seen_at_;
  std::vector<Seen<Jet>> seen_;
};

}  // namespace arris
