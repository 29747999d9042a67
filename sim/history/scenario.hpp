// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/history/model.hpp"
#include "sim/history/steps.hpp"

/// Everything a simulation needs, resolved: numbers, and edges with their steps.
namespace arris {

struct Scenario {
  std::string           title;
  Model<double>         model;
  std::vector<EdgePlan> edges;
  Numerics              numerics;
  Output                output;
};

}  // namespace arris
