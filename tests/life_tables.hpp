// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "sim/input/csv.hpp"
#include "sim/input/files.hpp"
#include "sim/statistics/weibull.hpp"
#include "tests/curve.hpp"

/// Life tests of textbooks, from tests/data/lives.
namespace arris::bench {

struct LifeTable {
  std::vector<ObservedLife> lives;
  Eigen::MatrixXd           covariates;  ///< n × 1, or none

  void add(double at, bool ended, int count = 1) {
    lives.push_back({at, ended ? at : std::numeric_limits<double>::infinity(), count});
  }
  /// Times one by one, and whether each is an end.
  void one_by_one(std::vector<double>& at, std::vector<bool>& ended) const {
    for (const ObservedLife& life : lives) {
      at.insert(at.end(), static_cast<std::size_t>(life.count), life.low);
      ended.insert(ended.end(), static_cast<std::size_t>(life.count), std::isfinite(life.high));
    }
  }
};

/// 20 units, 10 of which failed within 500 h.
inline LifeTable nist_lives() {
  const std::string path  = ARRIS_SOURCE_DIR "/tests/data/lives/nist_weibull_censored.csv";
  const CsvTable    table = parse_csv(path, read_text(path, Exit::data));
  LifeTable         out;
  for (const auto& row : table.rows)
    out.add(std::stod(row.cells[0].text), row.cells[1].text == "1", std::stoi(row.cells[2].text));
  return out;
}

/// Motors by temperature, °C.
inline LifeTable motors() {
  LifeTable  out;
  const auto rows = read_rows("lives/motors.csv");
  out.covariates.resize(static_cast<Eigen::Index>(rows.size()), 1);
  for (const auto& row : rows) {
    out.covariates(static_cast<Eigen::Index>(out.lives.size()), 0) = std::stod(row.at("temp"));
    out.add(std::stod(row.at("time")), row.at("cens") == "1");
  }
  return out;
}

/// Patients, with the treatment kept up (0) or not (1).
inline LifeTable aml() {
  LifeTable  out;
  const auto rows = read_rows("lives/aml.csv");
  out.covariates.resize(static_cast<Eigen::Index>(rows.size()), 1);
  for (const auto& row : rows) {
    out.covariates(static_cast<Eigen::Index>(out.lives.size()), 0) =
        row.at("x") == "Nonmaintained" ? 1.0 : 0.0;
    out.add(std::stod(row.at("time")), row.at("status") == "1");
  }
  return out;
}

}  // namespace arris::bench
