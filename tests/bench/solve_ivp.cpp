// SPDX-License-Identifier: MIT
#include "tests/bench/solve_ivp.hpp"

#include <algorithm>
#include <limits>
#include <stdexcept>

#include <pybind11/embed.h>
#include <pybind11/eval.h>
#include <pybind11/numpy.h>
#include <pybind11/stl.h>

namespace arris::bench {

namespace py = pybind11;

/// Python as its program would be, wherever another python3 comes first on the path.
struct Interpreter {
  Interpreter() {
    PyConfig config;
    PyConfig_InitPythonConfig(&config);
    PyConfig_SetBytesString(&config, &config.program_name, ARRIS_PYTHON);
    py::initialize_interpreter(&config);
  }
  Interpreter(const Interpreter&)            = delete;
  Interpreter& operator=(const Interpreter&) = delete;
  ~Interpreter() { py::finalize_interpreter(); }
};

using Array = py::array_t<double, py::array::c_style>;

/// The interpreter first, so that it is the last to go.
struct SolveIvp::Python {
  Interpreter interpreter;
  py::object  solve_ivp = py::module_::import("scipy.integrate").attr("solve_ivp");
  py::dict    plain;

  Python() { py::eval_file(ARRIS_PLAIN_HISTORY, plain); }

  void run(const std::string& method, const py::object& right_hand_side, std::vector<double>& y, double count,
           double relative, double absolute) const {
    const auto       size = static_cast<py::ssize_t>(y.size());
    const Array      start(size, y.data());
    const py::object end =
        solve_ivp(right_hand_side, py::make_tuple(0.0, count), start, py::arg("method") = method,
                  py::arg("rtol") = relative, py::arg("atol") = absolute);
    if (!end.attr("success").cast<bool>()) {
      std::fill(y.begin(), y.end(), std::numeric_limits<double>::quiet_NaN());
      return;
    }
    const Array all = end.attr("y").cast<Array>();
    for (py::ssize_t i = 0; i < size; ++i) y[static_cast<std::size_t>(i)] = all.at(i, all.shape(1) - 1);
  }
};

SolveIvp::SolveIvp() {
  try {
    python_ = std::make_unique<Python>();
  } catch (const py::error_already_set& e) {
    throw std::runtime_error("scipy is needed to compare with it (./dev bench installs python3-scipy): " +
                             std::string(e.what()));
  }
}
SolveIvp::~SolveIvp() = default;

const std::vector<std::string>& SolveIvp::methods() {
  static const std::vector<std::string> names{"RK45", "RK23", "DOP853", "LSODA", "Radau", "BDF"};
  return names;
}

void SolveIvp::run(const std::string& method, const std::string& function, const Numbers& numbers,
                   std::vector<double>& y, double count, double relative, double absolute) {
  const py::object right_hand_side = python_->plain[function.c_str()](numbers);
  python_->run(method, right_hand_side, y, count, relative, absolute);
}

void SolveIvp::run(const std::string& method, const Rates& rates, std::vector<double>& y, double count,
                   double relative, double absolute) {
  const auto             size = static_cast<py::ssize_t>(y.size());
  const py::cpp_function right_hand_side([&rates, size](double n, const Array& at) {
    Array dy(size);
    rates(at.data(), dy.mutable_data(), n);
    return dy;
  });
  python_->run(method, right_hand_side, y, count, relative, absolute);
}

}  // namespace arris::bench
