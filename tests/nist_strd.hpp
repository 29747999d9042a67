// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <string>
#include <vector>

#include "tests/curve.hpp"

/// The 27 problems of the NIST Statistical Reference Datasets, nonlinear regression: curves, starts, certified values.
namespace arris::bench::nist {

// The 27 problems of the NIST Statistical Reference Datasets, nonlinear regression; source and traps in
// tests/data/nist_strd/README.md.

inline Number gauss(const Number* b, const double* x) {
  const Number u = (x[0] - b[3]) / b[4], v = (x[0] - b[6]) / b[7];
  return b[0] * exp(-b[1] * x[0]) + b[2] * exp(-u * u) + b[5] * exp(-v * v);
}
inline Number chwirut(const Number* b, const double* x) { return exp(-b[0] * x[0]) / (b[1] + b[2] * x[0]); }
inline Number cubics(const Number* b, const double* x) {
  const double t = x[0];
  return (b[0] + t * (b[1] + t * (b[2] + t * b[3]))) / (1.0 + t * (b[4] + t * (b[5] + t * b[6])));
}
inline Number lanczos(const Number* b, const double* x) {
  return b[0] * exp(-b[1] * x[0]) + b[2] * exp(-b[3] * x[0]) + b[4] * exp(-b[5] * x[0]);
}
inline Number enso(const Number* b, const double* x) {
  const double turn = 2.0 * std::numbers::pi * x[0];
  return b[0] + b[1] * std::cos(turn / 12.0) + b[2] * std::sin(turn / 12.0) + b[4] * cos(turn / b[3]) +
         b[5] * sin(turn / b[3]) + b[7] * cos(turn / b[6]) + b[8] * sin(turn / b[6]);
}
inline Number approach(const Number* b, const double* x) { return b[0] * (1.0 - exp(-b[1] * x[0])); }

inline const std::map<std::string, Curve>& nist_curves() {
  static const std::map<std::string, Curve> curves = {
      {"Bennett5", [](const Number* b, const double* x) { return b[0] * pow(b[1] + x[0], -1.0 / b[2]); }},
      {"BoxBOD", approach},
      {"Chwirut1", chwirut},
      {"Chwirut2", chwirut},
      {"DanWood", [](const Number* b, const double* x) { return b[0] * pow(x[0], b[1]); }},
      {"ENSO", enso},
      {"Eckerle4",
       [](const Number* b, const double* x) {
         const Number u = (x[0] - b[2]) / b[1];
         return b[0] / b[1] * exp(-0.5 * u * u);
       }},
      {"Gauss1", gauss},
      {"Gauss2", gauss},
      {"Gauss3", gauss},
      {"Hahn1", cubics},
      {"Kirby2",
       [](const Number* b, const double* x) {
         const double t = x[0];
         return (b[0] + t * (b[1] + t * b[2])) / (1.0 + t * (b[3] + t * b[4]));
       }},
      {"Lanczos1", lanczos},
      {"Lanczos2", lanczos},
      {"Lanczos3", lanczos},
      {"MGH09",
       [](const Number* b, const double* x) {
         const double t = x[0];
         return b[0] * (t * t + t * b[1]) / (t * t + t * b[2] + b[3]);
       }},
      {"MGH10", [](const Number* b, const double* x) { return b[0] * exp(b[1] / (x[0] + b[2])); }},
      {"MGH17", [](const Number* b,
                   const double* x) { return b[0] + b[1] * exp(-x[0] * b[3]) + b[2] * exp(-x[0] * b[4]); }},
      {"Misra1a", approach},
      {"Misra1b",
       [](const Number* b, const double* x) {
         const Number u = 1.0 + b[1] * x[0] / 2.0;
         return b[0] * (1.0 - 1.0 / (u * u));
       }},
      {"Misra1c",
       [](const Number* b, const double* x) { return b[0] * (1.0 - 1.0 / sqrt(1.0 + 2.0 * b[1] * x[0])); }},
      {"Misra1d", [](const Number* b, const double* x) { return b[0] * b[1] * x[0] / (1.0 + b[1] * x[0]); }},
      {"Nelson", [](const Number* b, const double* x) { return b[0] - b[1] * x[0] * exp(-b[2] * x[1]); }},
      {"Rat42", [](const Number* b, const double* x) { return b[0] / (1.0 + exp(b[1] - b[2] * x[0])); }},
      {"Rat43", [](const Number* b,
                   const double* x) { return b[0] / pow(1.0 + exp(b[1] - b[2] * x[0]), 1.0 / b[3]); }},
      {"Roszman1",
       [](const Number* b, const double* x) {
         return b[0] - b[1] * x[0] - atan2(b[2], x[0] - b[3]) / std::numbers::pi;
       }},
      {"Thurber", cubics},
  };
  return curves;
}

struct Certified {
  std::vector<double> start[2], value, sd;
  double              rss = 0.0;
  std::size_t         n   = 0;
};

inline std::map<std::string, Certified> certified_problems() {
  std::map<std::string, Certified> problems;
  for (const auto& row : bench::read_rows("nist_strd/nist_strd_certified.csv")) {
    Certified& p = problems[row.at("problem")];
    p.start[0].push_back(std::stod(row.at("start1")));
    p.start[1].push_back(std::stod(row.at("start2")));
    p.value.push_back(std::stod(row.at("certified_value")));
    p.sd.push_back(std::stod(row.at("certified_sd")));
    p.rss = std::stod(row.at("certified_rss"));
    p.n   = static_cast<std::size_t>(std::stoi(row.at("n")));
  }
  return problems;
}

// The lines after "Data:  y  x"; the header above has a "Data" of its own.
inline Observations read_dat(const std::string& problem) {
  std::ifstream file = bench::open_data("nist_strd/" + problem + ".dat");
  Observations  out;
  bool          begun = false;
  for (std::string line; std::getline(file, line);) {
    std::istringstream    in(line);
    double                y = 0.0;
    std::array<double, 3> x{};
    if (begun && in >> y >> x[0]) {
      in >> x[1];
      out.y.push_back(problem == "Nelson" ? std::log(y) : y);
      out.x.push_back(x);
    }
    // the data begin after the last line that starts so
    if (line.rfind("Data:", 0) == 0) {
      begun = true;
      out   = {};
    }
  }
  return out;
}

inline Eigen::VectorXd vector_of(const std::vector<double>& v) {
  return Eigen::Map<const Eigen::VectorXd>(v.data(), static_cast<Eigen::Index>(v.size()));
}

inline double fewest_digits(const Eigen::VectorXd& x, const std::vector<double>& certified) {
  double digits = 11.0;
  for (std::size_t i = 0; i < certified.size(); ++i) {
    digits = std::min(digits, matching_digits(x[static_cast<Eigen::Index>(i)], certified[i]));
  }
  return digits;
}

}  // namespace arris::bench::nist
