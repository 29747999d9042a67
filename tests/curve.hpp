// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <Eigen/QR>
#include <ceres/jet.h>

#include "sim/statistics/least_squares.hpp"

/// Curves of a few parameters with exact derivatives, and the tables of observations they are fitted to.
namespace arris::bench {

/// A number with derivatives by up to nine parameters.
using Number = ceres::Jet<double, 9>;
/// f(parameters, predictors)
using Curve = Number (*)(const Number* b, const double* x);

/// Observations: y, and up to three predictors.
struct Observations {
  std::vector<double>                y;
  std::vector<std::array<double, 3>> x;
};

/// Residuals f(b, x) − y.
[[nodiscard]] inline Residuals residuals_of(Curve curve, Observations data) {
  return [curve, data = std::move(data)](const Eigen::VectorXd& b, Eigen::VectorXd& r,
                                         Eigen::MatrixXd* jacobian) {
    const auto            m = static_cast<Eigen::Index>(data.y.size());
    const auto            n = b.size();
    std::array<Number, 9> jets;
    for (Eigen::Index j = 0; j < n; ++j)
      jets[static_cast<std::size_t>(j)] = Number(b[j], static_cast<int>(j));
    r.resize(m);
    if (jacobian != nullptr) jacobian->resize(m, n);
    for (Eigen::Index i = 0; i < m; ++i) {
      const auto   k = static_cast<std::size_t>(i);
      const Number f = curve(jets.data(), data.x[k].data());
      r[i]           = f.a - data.y[k];
      if (jacobian != nullptr) jacobian->row(i) = f.v.head(n).transpose();
    }
    return true;
  };
}

/// Decimal digits in which two numbers agree, counted as far as the eleven of a certified value.
[[nodiscard]] inline double matching_digits(double value, double certified) {
  if (!std::isfinite(value)) return 0.0;
  return -std::log10(std::max(std::abs(value - certified) / std::abs(certified), 1e-11));
}

/// s²·(JᵀJ)⁻¹ by QR of J with columns brought to length 1, where s² = ‖r‖²/dof.
[[nodiscard]] inline Eigen::MatrixXd covariance(const LeastSquaresResult& fit) {
  const auto            n      = fit.x.size();
  const double          s2     = 2.0 * fit.cost / static_cast<double>(fit.residuals.size() - n);
  const Eigen::VectorXd length = fit.jacobian.colwise().norm().transpose();
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(fit.jacobian * length.cwiseInverse().asDiagonal());
  const Eigen::MatrixXd root = qr.matrixQR().topRows(n).template triangularView<Eigen::Upper>();
  const Eigen::MatrixXd inverse =
      length.cwiseInverse().asDiagonal() *
      root.template triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(n, n));
  return s2 * inverse * inverse.transpose();
}

/// Standard deviations of the parameters.
[[nodiscard]] inline Eigen::VectorXd standard_deviations(const LeastSquaresResult& fit) {
  return covariance(fit).diagonal().cwiseSqrt();
}

[[nodiscard]] inline std::ifstream open_data(const std::string& name) {
  std::ifstream file(ARRIS_SOURCE_DIR "/tests/data/" + name);
  if (!file) throw std::runtime_error("cannot open tests/data/" + name);
  return file;
}

/// Rows of a CSV file, cells by the names of the first line.
[[nodiscard]] inline std::vector<std::map<std::string, std::string>> read_rows(const std::string& name) {
  const auto split = [](const std::string& line) {
    std::vector<std::string> cells;
    std::istringstream       in(line);
    for (std::string cell; std::getline(in, cell, ',');) cells.push_back(cell);
    return cells;
  };
  std::ifstream file = open_data(name);
  std::string   line;
  std::getline(file, line);
  const std::vector<std::string>                  heads = split(line);
  std::vector<std::map<std::string, std::string>> rows;
  while (std::getline(file, line)) {
    const std::vector<std::string> cells = split(line);
    if (cells.size() < heads.size()) throw std::runtime_error("short row in tests/data/" + name);
    auto& row = rows.emplace_back();
    for (std::size_t i = 0; i < heads.size(); ++i) row[heads[i]] = cells[i];
  }
  return rows;
}

}  // namespace arris::bench
