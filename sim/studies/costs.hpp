// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/studies/workshop.hpp"

/// What the steps of a history take: time and money.
///
///     minutes = taking up + soaking + cleaning + n/pace + n/flatten_every·flatten_min + n/life·change_min
///     money   = n·price/life + n/flatten_every·flatten_price + wage·minutes
///
/// n counts strokes, laps or passes. A strop wears its backing and uses up its compound. Flattening, dressing and charging
/// are spread over the strokes between two of them; a dress step costs one of them by itself. What is in the hand already is
/// not taken up, soaked or cleaned again.
/// Source: bookkeeping; paces and lives are the workshop's own.
namespace arris {

/// Minutes and money, part by part; the money is without wage.
struct CostParts {
  double working_min  = 0.0;  ///< strokes and laps
  double handling_min = 0.0;  ///< taking up, soaking, cleaning, changing what is used up
  double flatten_min  = 0.0;  ///< flattening, dressing, charging
  double media        = 0.0;  ///< stones, plates and sheets of film used up
  double strops       = 0.0;  ///< backings and compounds used up
  double flatten      = 0.0;  ///< what flattening uses up

  [[nodiscard]] double minutes() const { return working_min + handling_min + flatten_min; }
  [[nodiscard]] double money() const { return media + strops + flatten; }

  /// Adds `times` of another.
  void add(const CostParts& other, double times = 1.0);
};

/// Cost of one step.
struct StepCost {
  CostParts once, per_count;

  [[nodiscard]] CostParts parts_for(double count) const;
  [[nodiscard]] double    minutes_for(double count) const {
       return once.minutes() + per_count.minutes() * count;
  }
  [[nodiscard]] double money_for(double count) const { return once.money() + per_count.money() * count; }
};

/// A medium, backing or compound that a step uses.
struct StepMaterial {
  std::string name;
  std::string family;            ///< of a medium; else empty
  bool        of_strop = false;  ///< a backing or a compound
};

class CostTable {
 public:
  /// Keeps references to both.
  CostTable(const Model<double>& model, const Workshop& workshop) : model_(model), workshop_(workshop) {}

  /// `taken_up`: the medium or strop was not in hand already.
  [[nodiscard]] StepCost of(const Step& step, bool taken_up);

  /// What a step wears; nothing for work in wood and for readings.
  [[nodiscard]] std::vector<StepMaterial> materials_of(const Step& step) const;

  /// Materials seen so far that have no price.
  [[nodiscard]] const std::vector<std::string>& unpriced() const { return unpriced_; }
  /// Whether anything seen so far costs money: a wage, or a price with a life, or what flattening uses up.
  [[nodiscard]] bool   costs_money() const { return costs_money_ || workshop_.pace.wage_per_hour > 0.0; }
  [[nodiscard]] double wage_per_minute() const { return workshop_.pace.wage_per_hour / 60.0; }

 private:
  void add_material(StepCost& cost, const StepMaterial& material, bool taken_up);

  const Model<double>&     model_;
  const Workshop&          workshop_;
  std::vector<std::string> unpriced_;
  bool                     costs_money_ = false;
};

}  // namespace arris
