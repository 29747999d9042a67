// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/history/model.hpp"
#include "sim/history/steps.hpp"

/// Everything a simulation needs, resolved: numbers, and edges with their steps.
namespace arris {

/// A wear law beside that of the model, for fits: `[formula.NAME]`.
struct NamedFormula {
  std::string               name;
  laws::HeldWearLaw<double> law;  ///< a formula
};

struct Scenario {
  std::string               title;
  Model<double>             model;
  std::vector<EdgePlan>     edges;
  Numerics                  numerics;
  Output                    output;
  std::vector<NamedFormula> formulas;  ///< further wear laws that a fit may take
};

}  // namespace arris
