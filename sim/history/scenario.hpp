// SPDX-License-Identifier: MIT
#pragma once

#include <map>
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

/// What readings showed beside the model, once a fit was made to them: readings of a simulation at its values allow for it
/// (beside_model.hpp). Nothing where it is empty.
struct BesideModel {
  std::map<std::string, double> ways;  ///< log of the factor on the apex, by way of sharpening (way_at)
  std::map<std::string, double> wear_after,
      wear_in;  ///< logs of the factors on what it grows in wood: by way, and by wood (wood_at)
  std::vector<double>      passes;  ///< since an edge was sharpened, ascending, and
  std::vector<double>      along;   ///< there, log of the factor on the reading
  std::vector<std::string> misses;  ///< what the fit misses all the same, sentences
  [[nodiscard]] bool       is_empty() const {
          return ways.empty() && wear_after.empty() && wear_in.empty() && passes.empty();
  }
};

struct Scenario {
  std::string               title;
  Model<double>             model;
  std::vector<EdgePlan>     edges;
  Numerics                  numerics;
  Output                    output;
  std::vector<NamedFormula> formulas;  ///< further wear laws that a fit may take
  BesideModel               beside;
};

}  // namespace arris
