// SPDX-License-Identifier: MIT
#include "sim/input/sweep_design.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "sim/input/catalogue.hpp"
#include "sim/input/names.hpp"
#include "sim/read_number.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

const char* const design_example =
    "Write PATH=LOW:HIGH, with :log behind it for equal ratios, or PATH=ONE|OTHER|…, such as \"step.5.laps=0:60\" or \"step.7.cut=white oak|teak\".";

[[noreturn]] void no_design_input(const std::string& what) {
  throw Error(Exit::usage, {.code = "bad-sweep", .what = what, .next = design_example});
}

bool is_of_materials(const std::string& path) { return !materials_in({path + "=any"}).empty(); }

// whether an input can only be 0 or 1: a step left out, or a choice of yes or no
bool is_yes_or_no(const SweepAxis& axis, const EdgePlan& plan) {
  if (axis.kind == SweepInput::skip) return true;
  if (axis.kind != SweepInput::step_number) return false;
  bool yes_or_no = false;
  std::visit(
      [&]<class S>(const S& s) {
        S::fields(
            [&]<class M>(const Field& field, const M&) {
              if (field.key == axis.key) yes_or_no = std::is_same_v<M, bool>;
            },
            s);
      },
      plan.steps[static_cast<std::size_t>(axis.step)]);
  return yes_or_no;
}

std::string in_list(const std::string& name) {
  std::string quoted;
  for (const char c : name) quoted += c == '"' ? "\"\"" : std::string(1, c);
  return "\"" + quoted + "\"";
}

}  // namespace

DesignInput design_input(const std::string& input, const Loaded& loaded, const EdgePlan& plan) {
  const auto        equals = input.find('=');
  const std::string path   = equals == std::string::npos ? "" : trimmed(input.substr(0, equals));
  const std::string values = equals == std::string::npos ? "" : input.substr(equals + 1);
  const auto        parts  = parts_of_list(values, ':');
  if (path.empty() || parts.size() < 2 || is_of_materials(path))
    return {sweep_axis(input, loaded, plan), std::nullopt};
  if (parts.size() > 3 || (parts.size() == 3 && parts[2] != "log"))
    no_design_input(fmt::format("\"{}\" of {} is no range of a design", printable(values), printable(path)));
  DesignInput out{sweep_axis(path + "=" + parts[0], loaded, plan), DesignRange{}};
  out.range->low  = out.axis.values.front();
  out.range->high = sweep_axis(path + "=" + parts[1], loaded, plan).values.front();
  out.range->log  = parts.size() == 3;
  if (!(out.range->low < out.range->high))
    no_design_input(
        fmt::format("the range of {} ends at {:g}, not above {:g}", path, out.range->high, out.range->low));
  if (out.range->log && !(out.range->low > 0.0))
    no_design_input(fmt::format("equal ratios of {} cannot begin at {:g}", path, out.range->low));
  if (is_yes_or_no(out.axis, plan))
    no_design_input(fmt::format("{} is 0 or 1, and nothing between: {}=0|1", path, path));
  return out;
}

SweepAxis with_rows(const DesignInput& input, const std::vector<double>& unit) {
  SweepAxis out = input.axis;
  out.values.clear();
  out.labels.clear();
  out.choices.clear();
  const auto choices = input.axis.size();
  for (const double u : unit) {
    if (input.range) {
      out.values.push_back(input.range->at(u));
      continue;
    }
    const auto i = std::min(choices - 1, static_cast<std::size_t>(u * static_cast<double>(choices)));
    out.values.push_back(input.axis.is_text() ? static_cast<double>(out.values.size())
                                              : input.axis.values[i]);
    if (!input.axis.is_text()) continue;
    out.labels.push_back(input.axis.labels[i]);
    out.choices.push_back(input.axis.choices[i]);
  }
  return out;
}

std::vector<SweepAxis> at_points(const std::vector<DesignInput>& inputs, const std::vector<double>& points) {
  std::vector<SweepAxis> out;
  std::vector<double>    unit(points.size() / inputs.size());
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    for (std::size_t row = 0; row < unit.size(); ++row) unit[row] = points[row * inputs.size() + i];
    out.push_back(with_rows(inputs[i], unit));
  }
  return out;
}

DesignTable::DesignTable(std::string file, std::string_view text)
    : file_(std::move(file)), table_(parse_csv(file_, text)) {
  if (table_.rows.empty())
    refuse(table_.header, nullptr, "bad-rows", "the table has no rows",
           "heads that are inputs, and a row for each try");
  for (const CsvRow& row : table_.rows) {
    if (row.cells.size() != table_.header.cells.size())
      refuse(row, nullptr, "bad-rows",
             fmt::format("this row has {}, and the header {}", counted(std::ssize(row.cells), "cell"),
                         table_.header.cells.size()),
             "a value for each input");
  }
}

std::vector<std::string> DesignTable::inputs() const {
  std::vector<std::string> out;
  for (std::size_t c = 0; c < table_.header.cells.size(); ++c) {
    std::string input = path(c) + "=";
    if (is_of_materials(path(c))) {
      std::vector<std::string> names;
      for (const CsvRow& row : table_.rows) {
        const std::string& name  = row.cells[c].text;
        const auto         alike = [&](const std::string& n) { return folded(n) == folded(name); };
        if (std::none_of(names.begin(), names.end(), alike)) names.push_back(name);
      }
      for (std::string& name : names) name = in_list(name);
      input += fmt::format("{}", fmt::join(names, "|"));
    } else {
      const auto values        = *numbers(c);
      const auto [least, most] = std::minmax_element(values.begin(), values.end());
      input += *least == *most ? fmt::format("{}", *least) : fmt::format("{}|{}", *least, *most);
    }
    out.push_back(std::move(input));
  }
  return out;
}

std::vector<SweepAxis> DesignTable::axes(const Loaded& loaded, const EdgePlan& plan) const {
  std::vector<SweepAxis> out;
  const auto             texts = inputs();
  for (std::size_t c = 0; c < texts.size(); ++c) {
    const SweepAxis of   = sweep_axis(texts[c], loaded, plan);
    SweepAxis       axis = of;
    if (!of.is_text()) {
      axis.values = *numbers(c);
      for (std::size_t row = 0; row < rows() && is_yes_or_no(axis, plan); ++row) {
        if (axis.values[row] != 0.0 && axis.values[row] != 1.0)
          refuse(table_.rows[row], &table_.rows[row].cells[c], "bad-rows",
                 fmt::format("{} cannot be {:g}", axis.path, axis.values[row]), "0 or 1");
      }
      out.push_back(std::move(axis));
      continue;
    }
    axis.values.clear();
    axis.labels.clear();
    axis.choices.clear();
    for (const CsvRow& row : table_.rows) {
      const auto alike = [&](const std::string& n) { return folded(n) == folded(row.cells[c].text); };
      const auto i     = static_cast<std::size_t>(std::find_if(of.labels.begin(), of.labels.end(), alike) -
                                              of.labels.begin());
      axis.values.push_back(static_cast<double>(axis.values.size()));
      axis.labels.push_back(of.labels.at(i));
      axis.choices.push_back(of.choices.at(i));
    }
    out.push_back(std::move(axis));
  }
  return out;
}

std::optional<std::vector<double>> DesignTable::numbers(std::size_t column) const {
  if (is_of_materials(path(column))) return std::nullopt;
  std::vector<double> values;
  for (const CsvRow& row : table_.rows) {
    const CsvCell&    cell  = row.cells[column];
    const char* const last  = cell.text.data() + cell.text.size();
    double            value = 0.0;
    const auto [end, error] = read_number(cell.text.data(), last, value);
    if (error != std::errc{} || end != last || !std::isfinite(value))
      refuse(row, &cell, "not-a-number", fmt::format("\"{}\" is no number", printable(cell.text)),
             "a number for " + printable(path(column)));
    values.push_back(value);
  }
  return values;
}

void DesignTable::refuse(const CsvRow& row, const CsvCell* cell, const char* code, std::string what,
                         std::string allowed) const {
  Diagnostic fault{.code    = code,
                   .what    = std::move(what),
                   .allowed = std::move(allowed),
                   .next    = "Heads are inputs as a sweep has them, such as step.5.laps; a column for each.",
                   .file    = file_,
                   .line    = row.line,
                   .column  = cell != nullptr ? cell->column : 1};
  if (cell != nullptr) fault.width = std::max(1, characters(cell->text));
  fault.show_line(printable(row.text));
  throw Error(Exit::data, fault);
}

}  // namespace arris
