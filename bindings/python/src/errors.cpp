// SPDX-License-Identifier: MIT
#include "common.hpp"
#include "sim/diagnostic.hpp"

namespace arris::python {
namespace {

py::dict diagnostic_of(const Diagnostic& d) {
  py::dict out;
  out["code"]    = d.code;
  out["what"]    = d.what;
  out["allowed"] = d.allowed;
  out["cause"]   = d.cause;
  out["next"]    = d.next;
  out["file"]    = d.file;
  out["line"]    = d.line;
  out["column"]  = d.column;
  out["key"]     = d.key;
  out["text"]    = d.text();
  return out;
}

void raise(const Error& error) {
  py::list diagnostics;
  for (const Diagnostic& d : error.diagnostics()) diagnostics.append(diagnostic_of(d));
  // arris.errors chooses the class by the exit code that the command line would have
  const py::object made = py::module_::import("arris.errors")
                              .attr("from_diagnostics")(static_cast<int>(error.exit()), diagnostics);
  PyErr_SetObject(reinterpret_cast<PyObject*>(Py_TYPE(made.ptr())), made.ptr());
}

}  // namespace

void add_errors(py::module_&) {
  // pybind11 wants it by value
  py::register_exception_translator(
      [](std::exception_ptr pointer) {  // NOLINT(performance-unnecessary-value-param)
        try {
          if (pointer) std::rethrow_exception(pointer);
        } catch (const Error& error) {
          raise(error);
        }
      });
}

Arguments arguments_of(const py::dict& options) {
  Arguments out;
  out.is_command_line = false;
  for (const auto& [key, value] : options) {
    auto name = py::cast<std::string>(key);
    for (char& c : name) {
      if (c == '_') c = '-';
    }
    if (py::isinstance<py::list>(value)) {
      out.lists[name] = py::cast<std::vector<std::string>>(value);
    } else {
      out.values[name] = py::cast<std::string>(value);
    }
  }
  return out;
}

}  // namespace arris::python
