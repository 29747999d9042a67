// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/studies/workshop.hpp"

/// What the steps of a history take: time and money.
///
///     minutes = taking up + n/pace + n/flatten_every·flatten_min,    money = n·price/life + wage·minutes
///
/// n counts strokes, laps or passes. A strop wears its backing and uses up its compound. Flattening, dressing and charging
/// are spread over the strokes between two of them; a dress step costs one of them by itself.
/// Source: bookkeeping; paces and lives are the workshop's own.
namespace arris {

/// Cost of one step; the money is without wage.
struct StepCost {
  double minutes = 0.0, minutes_per_count = 0.0, money_per_count = 0.0;

  [[nodiscard]] double minutes_for(double count) const { return minutes + minutes_per_count * count; }
  [[nodiscard]] double money_for(double count) const { return money_per_count * count; }
};

class CostTable {
 public:
  /// Keeps references to both.
  CostTable(const Model<double>& model, const Workshop& workshop) : model_(model), workshop_(workshop) {}

  /// `taken_up`: the medium or strop was not in hand already.
  [[nodiscard]] StepCost of(const Step& step, bool taken_up);

  /// Materials seen so far that have no price.
  [[nodiscard]] const std::vector<std::string>& unpriced() const { return unpriced_; }
  /// Whether anything seen so far costs money: a wage, or a price with a life.
  [[nodiscard]] bool   costs_money() const { return costs_money_ || workshop_.pace.wage_per_hour > 0.0; }
  [[nodiscard]] double wage_per_minute() const { return workshop_.pace.wage_per_hour / 60.0; }

 private:
  void add_material(StepCost& cost, const std::string& name, const std::string& family);

  const Model<double>&     model_;
  const Workshop&          workshop_;
  std::vector<std::string> unpriced_;
  bool                     costs_money_ = false;
};

}  // namespace arris
