// SPDX-License-Identifier: MIT
#pragma once

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"

namespace arris {

/// The draws of a report as a file of it would give them.
inline FittedDraws draws_of(const CampaignModel& model, const FitReport& report) {
  FittedDraws draws;
  draws.columns = report.draw_names;
  for (Eigen::Index i = 0; i < report.draw_values.rows(); ++i) {
    for (const double value : report.draw_values.row(i)) draws.values.push_back(value);
  }
  for (std::size_t j = 0; j < model.parameters().size(); ++j) {
    draws.parameters.push_back(model.parameters()[j].path);
    draws.best.push_back(model.parameters()[j].value(report.fit.best.u[static_cast<Eigen::Index>(j)]));
  }
  draws.spread = report.fit.best.spread;
  draws.edges  = model.edges_with_readings();
  draws.given  = given_to_fit(model.scenario().model, draws.parameters);
  return draws;
}

}  // namespace arris
