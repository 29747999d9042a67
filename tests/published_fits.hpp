// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <functional>
#include <map>
#include <numbers>
#include <stdexcept>
#include <string>
#include <vector>

#include "tests/curve.hpp"

/// Fits of textbooks of nonlinear regression: curves, and the data in tests/data/published.
namespace arris::bench::published {

using Row = std::map<std::string, std::string>;

inline Eigen::VectorXd vector_of(const std::vector<double>& v) {
  return Eigen::Map<const Eigen::VectorXd>(v.data(), static_cast<Eigen::Index>(v.size()));
}

inline double number(const Row& row, const char* name) { return std::stod(row.at(name)); }

// y and predictors of all rows that are wanted
inline Observations read(
    const std::string& name, const std::function<double(const Row&)>& y,
    const std::function<std::array<double, 3>(const Row&)>& x,
    const std::function<bool(const Row&)>&                  wanted = [](const Row&) { return true; }) {
  Observations out;
  for (const Row& row : bench::read_rows("published/" + name + ".csv")) {
    if (!wanted(row)) continue;
    out.y.push_back(y(row));
    out.x.push_back(x(row));
  }
  return out;
}
inline Observations read(const std::string& name, const char* y, const char* x) {
  return read(
      name, [&](const Row& row) { return number(row, y); },
      [&](const Row& row) -> std::array<double, 3> { return {number(row, x)}; });
}

inline Number michaelis(const Number* b, const double* x) { return b[0] * x[0] / (b[1] + x[0]); }
inline Number approach(const Number* b, const double* x) { return b[0] * (1.0 - exp(-b[1] * x[0])); }
inline Number plane(const Number* b, const double* x) {
  return b[0] + b[1] * x[0] + b[2] * x[1] + b[3] * x[2];
}

inline Observations puromycin(const char* state) {
  return read(
      "puromycin", [](const Row& row) { return number(row, "rate"); },
      [](const Row& row) -> std::array<double, 3> { return {number(row, "conc")}; },
      [&](const Row& row) { return row.at("state") == state; });
}

/// A fit of a textbook: curve, data, where the search starts.
struct Problem {
  Curve               curve;
  Observations        data;
  std::vector<double> start;
};

/// By the name under which validation/data/published_fits.toml has what they should give.
inline Problem problem(const std::string& name) {
  if (name == "puromycin_treated") return {michaelis, puromycin("treated"), {200.0, 0.05}};
  if (name == "puromycin_untreated") return {michaelis, puromycin("untreated"), {150.0, 0.05}};
  if (name == "bod") return {approach, read("bod", "demand", "Time"), {20.0, 0.5}};
  if (name == "dnase_run1")
    return {
        [](const Number* b, const double* x) { return b[0] / (1.0 + exp((b[1] - std::log(x[0])) / b[2])); },
        read("dnase_run1", "density", "conc"),
        {2.0, 1.0, 1.0}};
  if (name == "orange_tree3")
    return {[](const Number* b, const double* x) { return b[0] / (1.0 + exp((b[1] - x[0]) / b[2])); },
            read("orange_tree3", "circumference", "age"),
            {150.0, 700.0, 350.0}};
  if (name == "loblolly_seed301")
    return {[](const Number* b, const double* x) { return b[0] + (b[1] - b[0]) * exp(-exp(b[2]) * x[0]); },
            read("loblolly_seed301", "height", "age"),
            {90.0, -5.0, -3.0}};
  if (name == "wtloss")
    return {
        [](const Number* b, const double* x) { return b[0] + b[1] * exp(-std::numbers::ln2 * x[0] / b[2]); },
        read("wtloss", "Weight", "Days"),
        {90.0, 95.0, 120.0}};
  if (name == "indometh_subject1")
    return {[](const Number* b, const double* x) {
              return b[0] * exp(-exp(b[1]) * x[0]) + b[2] * exp(-exp(b[3]) * x[0]);
            },
            read("indometh_subject1", "conc", "time"),
            {2.0, 0.5, 0.2, -1.5}};
  if (name == "theoph_subject4")
    return {[](const Number* b, const double* x) {
              const Number loss = exp(b[0]), intake = exp(b[1]);
              return x[1] * exp(b[0] + b[1] - b[2]) * (exp(-loss * x[0]) - exp(-intake * x[0])) /
                     (intake - loss);
            },
            read(
                "theoph_subject4", [](const Row& row) { return number(row, "conc"); },
                [](const Row& row) -> std::array<double, 3> {
                  return {number(row, "Time"), number(row, "Dose")};
                }),
            {-2.5, 0.5, -3.0}};
  if (name == "steam")
    return {[](const Number* b, const double* x) { return b[0] * exp(b[1] * x[0] / (b[2] + x[0])); },
            read("steam", "Press", "Temp"),
            {4.0, 20.0, 300.0}};
  if (name == "rubber_abrasion")
    return {[](const Number* b, const double* x) { return b[0] + b[1] * x[0] + b[2] * x[1]; },
            read(
                "rubber", [](const Row& row) { return number(row, "loss"); },
                [](const Row& row) -> std::array<double, 3> {
                  return {number(row, "hard"), number(row, "tens")};
                }),
            {0.0, 0.0, 0.0}};
  if (name == "fatigue_path1")
    return {[](const Number* b, const double* x) { return b[0] - b[1] * x[0]; },
            read(
                "fatigue", [](const Row& row) { return std::pow(number(row, "relLength"), -0.732); },
                [](const Row& row) -> std::array<double, 3> { return {number(row, "cycles")}; },
                [](const Row& row) { return row.at("Path") == "1"; }),
            {0.0, 0.0}};
  const auto log_cycles = [](const Row& row) { return std::log(number(row, "cycles")); };
  if (name == "wool_loglog")
    return {plane,
            read("wool", log_cycles,
                 [](const Row& row) -> std::array<double, 3> {
                   return {std::log(number(row, "len")), std::log(number(row, "amp")),
                           std::log(number(row, "load"))};
                 }),
            {0.0, 0.0, 0.0, 0.0}};
  if (name == "wool_loglinear_coded")
    return {plane,
            read("wool", log_cycles,
                 [](const Row& row) -> std::array<double, 3> {
                   return {(number(row, "len") - 300.0) / 50.0, number(row, "amp") - 9.0,
                           (number(row, "load") - 45.0) / 5.0};
                 }),
            {0.0, 0.0, 0.0, 0.0}};
  throw std::runtime_error("there is no published fit " + name);
}

}  // namespace arris::bench::published
