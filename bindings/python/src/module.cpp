// SPDX-License-Identifier: MIT
#include "common.hpp"

/// The extension module `arris._core`: what the Python files of the package are made of. Users see those.

PYBIND11_MODULE(_core, m) {
  m.doc()               = "What the arris package is made of, in C++. Use the functions of arris itself.";
  m.attr("__version__") = ARRIS_VERSION;
  arris::python::add_errors(m);
  arris::python::add_tables(m);
  arris::python::add_campaign(m);
  arris::python::add_studies(m);
  arris::python::add_density(m);
  arris::python::add_results(m);
}
