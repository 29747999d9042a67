// SPDX-License-Identifier: MIT
#include <cmath>
#include <type_traits>

#include "common.hpp"
#include "sim/history/scenario.hpp"
#include "sim/input/document.hpp"
#include "sim/input/table_reader.hpp"
#include "sim/studies/workshop.hpp"

namespace arris::python {
namespace {

/// Calls visit(class name, kind of table, one sentence, defaults) for every table that Python has an object for.
template <class Visit>
void for_each_table_type(Visit&& visit) {
  // clang-format off
  visit("Steel",        "steel",        "A steel.",                                                        Steel<double>{});
  visit("Family",       "family",       "What media of one kind have in common, whatever their grit.",     Family<double>{});
  visit("Medium",       "medium",       "An abrasive medium: a family at one grit.",                       Medium<double>{});
  visit("Backing",      "backing",      "What a strop or film lies on.",                                   Backing<double>{});
  visit("Compound",     "compound",     "What a strop is charged with.",                                   Compound<double>{});
  visit("Wood",         "wood",         "A wood.",                                                         Wood<double>{});
  visit("Filament",     "filament",     "A filament of the tester.",                                       Filament<double>{});
  visit("Tool",         "tool",         "A blade as it is before the history begins.",                     Tool<double>{});
  visit("Tester",       "tester",       "The tester: force to part a filament on an edge.",                Tester<double>{});
  visit("Scatter",      "scatter",      "How readings and edges scatter.",                                 Scatter<double>{});
  visit("Coefficients", "coefficients", "Coefficients of the laws that belong to no material.",            Coefficients<double>{});
  visit("Numerics",     "numerics",     "How finely histories are integrated.",                            Numerics{});
  visit("Output",       "output",       "What is recorded.",                                               Output{});
  visit("Fit",          "fit",          "What a fit assumes.",                                             FitSettings{});
  visit("Workshop",     "workshop",     "How fast people work, and what an hour and a grinding cost.",     Pace{});
  visit("Price",        "price",        "What a medium, backing or compound costs and takes to keep.",     Price{});
  visit("Limit",        "limit",        "The reading at which an edge is too dull for a task.",            Limit{});
  visit("hone",         "step",         "Step: hone the bevel on a rigid medium.",                         HoneStep{});
  visit("back",         "step",         "Step: hone the back, which takes the burr off.",                  BackStep{});
  visit("strop",        "step",         "Step: strop on a compliant backing.",                             StropStep{});
  visit("cut",          "step",         "Step: cut wood.",                                                 CutStep{});
  visit("read",         "step",         "Step: read the edge on the tester.",                              ReadStep{});
  visit("dress",        "step",         "Step: dress a medium, so that it cuts as when new.",              DressStep{});
  // clang-format on
}

py::list table_list() {
  py::list out;
  for_each_table_type([&]<class S>(const char* name, const char* kind, const char* says, const S& defaults) {
    py::list fields;
    S::fields(
        [&]<class M>(const Field& f, const M& member) {
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
          if constexpr (std::is_same_v<M, double>) {
            field["type"]    = "float";
            field["default"] = std::isnan(member) ? py::object(py::none()) : py::object(py::float_(member));
          } else if constexpr (std::is_same_v<M, int>) {
            field["type"]    = "int";
            field["default"] = member;
          } else if constexpr (std::is_same_v<M, bool>) {
            field["type"]    = "bool";
            field["default"] = member;
          } else {
            field["type"]    = "str";
            field["default"] = member.empty() ? py::object(py::none()) : py::object(py::str(member));
          }
          fields.append(field);
        },
        defaults);
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
    if (wanted == "Fit") extra.emplace_back("free");
    reader.read({&document, &document.root, {}, std::move(extra)}, target);
  });
  findings.throw_if_any();
}

py::list formula_input_list() {
  py::list out;
  for (const laws::FormulaInput& input : laws::formula_inputs)
    out.append(py::make_tuple(std::string(input.name), std::string(input.unit), std::string(input.says)));
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
