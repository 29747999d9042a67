// SPDX-License-Identifier: MIT
#include "common.hpp"

/// The extension module `arris._core`: what the Python files of the package are made of. Users see those.

PYBIND11_MODULE(_core, m) {
  m.doc()               = "What the arris package is made of, in C++. Use the functions of arris itself.";
  m.attr("__version__") = ARRIS_VERSION;
  // an earlier pybind11 takes the size of an element from another place, and gives arrays of numpy 2 the same value throughout
  m.attr("takes_numpy_2") = PYBIND11_VERSION_HEX >= 0x020C0000;
  arris::python::add_errors(m);
  arris::python::add_tables(m);
  arris::python::add_campaign(m);
  arris::python::add_studies(m);
  arris::python::add_density(m);
  arris::python::add_results(m);
}
