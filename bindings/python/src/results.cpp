// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include "campaign.hpp"
#include "sim/figures/svg.hpp"
#include "sim/input/catalogue.hpp"
#include "sim/laws/field.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/output/seal.hpp"
#include "sim/output/shares.hpp"
#include "sim/output/sweep_definition.hpp"
#include "sim/report/page.hpp"
#include "sim/wording.hpp"

/// Results that Python holds: where they come from, their pages and pictures, shares put together, seals; and the materials.
namespace arris::python {

// of studies.cpp
py::dict answer_dict(const Answer& answer, const std::string& title, const PyGroup& root);

namespace {

using Values = py::array_t<double, py::array::c_style | py::array::forcecast>;

std::vector<double> numbers_of(const py::handle& values) {
  const auto array = py::cast<Values>(values);
  return {array.data(), array.data() + array.size()};
}

// name, units, meaning, values
AnswerColumn column_of(const py::handle& from) {
  const auto   parts = py::cast<py::tuple>(from);
  AnswerColumn column;
  column.name = column.head = py::cast<std::string>(parts[0]);
  column.says               = py::cast<std::string>(parts[2]);
  if (py::isinstance<py::list>(parts[3])) {
    column.texts = py::cast<std::vector<std::string>>(parts[3]);
  } else {
    column.units   = py::cast<std::string>(parts[1]);
    column.numbers = numbers_of(parts[3]);
    if (column.units.empty()) column.units = "1";
  }
  return column;
}

StoredResult stored_of(const py::handle& from) {
  const auto               result = py::cast<py::dict>(from);
  std::vector<StoredGroup> groups;
  for (const py::handle& item : py::cast<py::list>(result["groups"])) {
    const auto  g = py::cast<py::dict>(item);
    StoredGroup group;
    group.path    = py::cast<std::string>(g["path"]);
    group.says    = py::cast<std::string>(g["says"]);
    group.columns = py::cast<std::string>(g["columns"]);
    group.heads   = py::cast<std::string>(g["heads"]);
    for (const py::handle& c : py::cast<py::list>(g["along_one"])) group.along_one.push_back(column_of(c));
    for (const py::handle& c : py::cast<py::list>(g["along_two"])) group.along_two.push_back(column_of(c));
    groups.push_back(std::move(group));
  }
  return stored_result(py::cast<std::string>(result["file"]),
                       py::cast<std::map<std::string, std::string>>(result["texts"]),
                       py::cast<std::map<std::string, double>>(result["numbers"]), std::move(groups));
}

std::string report_html(const py::list& results) {
  report::Page page;
  for (const py::handle& result : results) {
    const StoredResult stored = stored_of(result);
    if (page.title.empty()) page.title = stored.title;
    page.sections.push_back(report::section_of(stored));
  }
  if (page.title.empty()) page.title = "Result";
  report::say_misses_once(page);
  return report::html_of(page);
}

std::vector<std::pair<std::string, std::string>> figures_of(const py::dict& result) {
  std::vector<std::pair<std::string, std::string>> out;
  for (const report::Figure& f : report::section_of(stored_of(result)).figures)
    out.emplace_back(f.name, f.title);
  return out;
}

std::string figure_svg(const py::dict& result, const std::string& name, double width) {
  const std::vector<report::Section> sections{report::section_of(stored_of(result))};
  return figures::standalone(report::figure_named(sections, name).draw(width, "figure"));
}

py::dict origin_of(const PyCampaign* self, const std::string& kind, const std::string& call,
                   const std::string& seed) {
  const PyGroup    root;
  const Provenance origin =
      self != nullptr ? provenance(self->campaign, call, seed) : command_provenance(call);
  put_root_attributes(root, kind, self != nullptr ? self->campaign.loaded.scenario.title : "", origin);
  return root.node()["attributes"];
}

[[noreturn]] void refuse_shares(const std::string& what) {
  throw Error(Exit::data, Diagnostic{.code = "not-a-sweep", .what = what, .next = "Run the shares anew."});
}

// what stands in shares: values, or names
void take_values(SweepAxis& axis, const py::handle& given) {
  const std::size_t size = axis.size();
  if (axis.is_text()) {
    axis.labels = py::cast<std::vector<std::string>>(given);
    for (std::size_t i = 0; i < axis.values.size(); ++i) axis.values[i] = static_cast<double>(i);
  } else {
    axis.values = numbers_of(given);
  }
  if ((axis.is_text() ? axis.labels.size() : axis.values.size()) != size)
    refuse_shares(fmt::format("the values of {} do not fit the definition", printable(axis.path)));
}

SweepDefinition definition_with(const std::string& text, const py::list& axes, const py::list& inputs) {
  SweepDefinition d;
  try {
    d = definition_in(text);
  } catch (const std::exception& fault) {  // of the JSON, or of a number in it
    refuse_shares(std::string("the definition of the sweep cannot be read: ") + printable(fault.what()));
  }
  for (std::size_t a = 0; a < d.axes.size(); ++a) take_values(d.axes[a], axes[a]);
  for (std::size_t i = 0; i < d.inputs.size(); ++i) take_values(d.inputs[i], inputs[i]);
  if (definition_text(d) != text) refuse_shares("the values of the inputs do not fit the definition");
  return d;
}

// the answer of a sweep whose results are at hand; `outputs` in the order of the definition, row by row
py::dict merged_answer(const std::string& text, const py::list& axes, const py::list& inputs,
                       const py::list& outputs, const Values& status, const py::dict& failed,
                       const std::string& title) {
  const SweepDefinition            d = definition_with(text, axes, inputs);
  const SweepGrid                  grid(d);
  std::vector<std::vector<double>> values;
  for (const py::handle& output : outputs) values.push_back(numbers_of(output));
  const std::vector<double> states = numbers_of(status);
  if (values.size() != d.outputs.size() || states.size() != grid.members())
    refuse_shares("the results do not fit the definition of the sweep");
  SweepFailures failures;
  failures.members      = grid.members();
  failures.count        = py::cast<std::size_t>(failed["failed"]);
  failures.first_row    = py::cast<std::size_t>(failed["first_failure_row"]);
  failures.first_column = py::cast<std::size_t>(failed["first_failure_column"]);
  failures.cause        = py::cast<std::string>(failed["first_failure_cause"]);
  const auto part       = [&](const std::vector<double>& of, std::size_t chunk) {
    const auto first = static_cast<std::ptrdiff_t>(grid.first_row(chunk) * grid.columns);
    return std::vector<double>(
        of.begin() + first,
        of.begin() + first + static_cast<std::ptrdiff_t>(grid.rows_in(chunk) * grid.columns));
  };
  const auto get = [&](std::size_t chunk) {
    SweepBlock block;
    for (const auto& of : values) block.values.push_back(part(of, chunk));
    block.status = part(states, chunk);
    return block;
  };
  const PyGroup root;
  put_sweep_attributes(root, d, text, {});
  put_failures(root, failures);
  py::dict out   = answer_dict(sweep_answer(d, {}, failures, get), title, root);
  out["failed"]  = failures.count;
  out["members"] = failures.members;
  return out;
}

// a row for each value that the shipped materials state: kind, name, key, value, unit, status, source
py::list shipped_values() {
  py::list         out;
  const Catalogue& catalogue = shipped_catalogue();
  for (const std::string& kind : Catalogue::kinds()) {
    for (const Entry& entry : catalogue.entries(kind)) {
      for (const auto& [document, table] : entry.layers) {
        for (const auto& [key, node] : *table) {
          const std::string  name(key.str());
          const toml::table* stated = node.as_table();
          const toml::node*  value  = stated != nullptr ? stated->get("value") : &node;
          const auto         text   = [&](const char* of) {
            return stated != nullptr ? (*stated)[of].value_or(std::string{}) : std::string{};
          };
          if (value == nullptr) continue;
          py::object shown;
          if (const auto number = value->value<double>()) {
            shown = py::float_(*number);
          } else if (const auto words = value->value<std::string>()) {
            shown = py::str(*words);
          } else {
            continue;  // lists of other names
          }
          const Unit* unit = unit_of(name);
          out.append(py::make_tuple(kind, entry.name, name, shown,
                                    unit != nullptr ? unit_for_files(unit->symbol) : std::string{},
                                    text("status"), text("source")));
        }
      }
    }
  }
  return out;
}

}  // namespace

void add_results(py::module_& m) {
  m.def("report_html", &report_html, py::arg("results"));
  m.def("figures", &figures_of, py::arg("result"));
  m.def("figure_svg", &figure_svg, py::arg("result"), py::arg("name"), py::arg("width"));
  m.def("origin", &origin_of, py::arg("campaign").none(true), py::arg("kind"), py::arg("call"),
        py::arg("seed"));
  m.def("merged_answer", &merged_answer, py::arg("definition"), py::arg("axes"), py::arg("inputs"),
        py::arg("outputs"), py::arg("status"), py::arg("failed"), py::arg("title"));
  m.def("materials", &shipped_values);
  m.attr("schema_version") = schema_version;
  m.def(
      "check_seal", [](const std::string& path) { (void)check_seal(path); }, py::arg("path"),
      "Raises DataError where a result is not what was written.");
  m.def(
      "check_shares", [](const std::string& path, const std::string& note) { check_shares(path, note); },
      py::arg("path"), py::arg("note"), "Raises DataError where a share of a linked file is not as it was.");
  m.def(
      "seal", [](const std::string& path) { seal_anew(path); }, py::arg("path"));
}

}  // namespace arris::python
