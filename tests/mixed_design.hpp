// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <stdexcept>
#include <string>
#include <vector>

#include "sim/input/csv.hpp"
#include "sim/input/files.hpp"
#include "sim/statistics/variance_components.hpp"

/// Tables of textbooks in tests/data/mixed as mixed models.
namespace arris::bench {

inline CsvTable table_of(const std::string& name) {
  const std::string path = ARRIS_SOURCE_DIR "/tests/data/mixed/" + name;
  return parse_csv(path, read_text(path, Exit::data));
}

inline std::size_t column(const CsvTable& table, const std::string& name) {
  for (std::size_t i = 0; i < table.header.cells.size(); ++i) {
    if (table.header.cells[i].text == name) return i;
  }
  throw std::logic_error("no column " + name);
}

/// Builds the design of a mixed model: an intercept or more fixed columns, then indicators of each group.
class Builder {
 public:
  explicit Builder(const CsvTable& table) : table_(table), n_(static_cast<Eigen::Index>(table.rows.size())) {}

  void response(const std::string& name) {
    model.response.resize(n_);
    for (Eigen::Index i = 0; i < n_; ++i) model.response[i] = std::stod(cell(i, name));
  }
  void intercept() { add(Eigen::VectorXd::Ones(n_), MixedModel::flat); }
  void fixed_level(const std::string& name, const std::string& level) {
    Eigen::VectorXd x(n_);
    for (Eigen::Index i = 0; i < n_; ++i) x[i] = cell(i, name) == level ? 1.0 : 0.0;
    add(x, MixedModel::flat);
  }
  void random(const std::vector<std::string>& names) {
    std::map<std::string, Eigen::VectorXd> levels;
    for (Eigen::Index i = 0; i < n_; ++i) {
      std::string level;
      for (const auto& name : names) level += cell(i, name) + "/";
      levels.try_emplace(level, Eigen::VectorXd::Zero(n_)).first->second[i] = 1.0;
    }
    for (const auto& [level, x] : levels) add(x, model.groups);
    ++model.groups;
  }
  const MixedModel& finish() {
    model.weights  = Eigen::VectorXd::Ones(n_);
    model.known_sd = Eigen::VectorXd::Zero(n_);
    return model;
  }
  MixedModel model;

 private:
  [[nodiscard]] const std::string& cell(Eigen::Index i, const std::string& name) const {
    return table_.rows[static_cast<std::size_t>(i)].cells[column(table_, name)].text;
  }
  void add(const Eigen::VectorXd& x, int group) {
    model.design.conservativeResize(n_, model.design.cols() + 1);
    model.design.col(model.design.cols() - 1) = x;
    model.group.push_back(group);
  }
  const CsvTable& table_;
  Eigen::Index    n_;
};

}  // namespace arris::bench
