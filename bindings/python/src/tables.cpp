// SPDX-License-Identifier: MIT
#include <cstddef>
#include <type_traits>

#include "common.hpp"
#include "sim/input/document.hpp"
#include "sim/input/table_reader.hpp"
#include "sim/input/table_types.hpp"
#include "sim/laws/wear/formula_program.hpp"

namespace arris::python {
namespace {

py::list table_list() {
  py::list out;
  for_each_table_type([&]<class S>(const char* name, const char* kind, const char* says, const S& defaults) {
    py::list fields;
    for_each_default(defaults, [&]<class M>(const Field& f, const char* type, const M& member) {
      py::dict field;
      field["key"]          = std::string(f.key);
      field["unit"]         = std::string(f.unit_symbol());
      field["low"]          = f.low;
      field["high"]         = f.high;
      field["status"]       = std::string(f.status);
      field["says"]         = std::string(f.doc);
      field["derived"]      = f.is_derived;
      field["optional"]     = f.is_optional;
      field["prior_factor"] = f.prior_factor;
      field["type"]         = type;
      if constexpr (std::is_same_v<M, std::nullptr_t>) {
        field["default"] = py::none();
      } else {
        field["default"] = member;
      }
      fields.append(field);
    });
    py::dict table;
    table["name"]   = name;
    table["kind"]   = kind;
    table["says"]   = says;
    table["fields"] = fields;
    out.append(table);
  });
  return out;
}

// reads one table by itself, with the reader of configurations: types, units, ranges, unknown keys
void check_table(const std::string& wanted, const std::string& text) {
  const Document document = parse_document(wanted, text);
  Findings       findings;
  for_each_table_type([&]<class S>(const char* name, const char*, const char*, const S& defaults) {
    if (name != wanted) return;
    Origins                  origins;
    TableReader              reader(findings, origins);
    S                        target = defaults;
    std::vector<std::string> extra;
    if (wanted == "Fit") extra = {"free", "laws", "derived", "anew"};
    reader.read({&document, &document.root, {}, std::move(extra)}, target);
  });
  findings.throw_if_any();
}

py::list formula_input_list() {
  py::list out;
  for (const laws::FormulaInput& input : laws::formula_inputs)
    out.append(py::make_tuple(std::string(input.name), unit_for_files(input.unit), std::string(input.says)));
  return out;
}

}  // namespace

void add_tables(py::module_& m) {
  m.def("tables", &table_list, "The tables of a configuration, with the fields of each.");
  m.def("check_table", &check_table, py::arg("name"), py::arg("text"),
        "Raises arris.ConfigurationError where the keys of one table are wrong.");
  m.def("formula_inputs", &formula_input_list, "What a wear law may use: name, unit, meaning.");
}

}  // namespace arris::python
