// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

namespace arris::bench {

/// scipy's solve_ivp in this process. One at a time may exist: it holds the interpreter.
class SolveIvp {
 public:
  /// dy of y at n, as many as y has.
  using Rates = std::function<void(const double* y, double* dy, double n)>;
  /// What a right-hand side of plain_history.py works with, by name.
  using Numbers = std::map<std::string, double>;

  /// \throws std::runtime_error if numpy or scipy is missing
  SolveIvp();
  SolveIvp(const SolveIvp&)            = delete;
  SolveIvp& operator=(const SolveIvp&) = delete;
  ~SolveIvp();

  /// The names that solve_ivp has for its methods.
  static const std::vector<std::string>& methods();

  /// Takes `y` from 0 to `count` by the right-hand side `function` of plain_history.py. Where scipy gives up, y becomes NaN.
  void run(const std::string& method, const std::string& function, const Numbers& numbers,
           std::vector<double>& y, double count, double relative, double absolute);
  /// The same by a compiled right-hand side, which scipy calls through pybind11.
  void run(const std::string& method, const Rates& rates, std::vector<double>& y, double count,
           double relative, double absolute);

 private:
  struct Python;
  std::unique_ptr<Python> python_;
};

}  // namespace arris::bench
