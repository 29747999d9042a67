// SPDX-License-Identifier: MIT
#include "sim/studies/sweep/sweep_answer_parts.hpp"

#include <numeric>

#include <fmt/format.h>

#include "sim/wording.hpp"

namespace arris::sweep_parts {

void add_axis(AnswerTable& table, const SweepAxis& axis, const std::vector<std::size_t>& at) {
  if (axis.is_text()) {
    std::vector<std::string> labels;
    for (const std::size_t i : at) labels.push_back(axis.labels[i]);
    table.text(axis.name, axis.head, axis.says, std::move(labels));
    return;
  }
  std::vector<double> values;
  for (const std::size_t i : at) values.push_back(axis.values[i]);
  table.number(axis.name, axis.units, axis.head, axis.says, std::move(values));
}

std::vector<std::size_t> everything(std::size_t count) {
  std::vector<std::size_t> at(count);
  std::iota(at.begin(), at.end(), std::size_t{0});
  return at;
}

std::string value_text(const SweepAxis& axis, std::size_t i) {
  return axis.is_text() ? axis.labels[i] : plain(axis.values[i]);
}

void add_table(Answer& answer, AnswerTable table) {
  if (table.rows() <= most_shown) {
    answer.tables.push_back(std::move(table));
    return;
  }
  AnswerTable shown = table;
  shown.name += "_shown";
  shown.says += ", some of them";
  const std::size_t rows = table.rows(), wanted = 25;
  for (AnswerColumn& c : shown.columns) {
    AnswerColumn some = c;
    some.numbers.clear();
    some.texts.clear();
    for (std::size_t i = 0; i < wanted; ++i) {
      const std::size_t row = i * (rows - 1) / (wanted - 1);
      if (c.is_text()) {
        some.texts.push_back(c.texts[row]);
      } else {
        some.numbers.push_back(c.numbers[row]);
      }
    }
    c = std::move(some);
  }
  table.on_terminal = false;
  answer.tables.push_back(std::move(table));
  answer.tables.push_back(std::move(shown));
}

std::string head_of(const SweepOutput& output) {
  if (output.name == "reading_gf") return "gf";
  std::string head = output.name;
  std::replace(head.begin(), head.end(), '_', ' ');
  const std::string um = " um";
  if (head.size() > um.size() && head.compare(head.size() - um.size(), um.size(), um) == 0)
    head.replace(head.size() - um.size(), um.size(), " µm");
  return head;
}

std::string subject(const SweepOutput& output) {
  return output.name == "reading_gf" || output.name == "reading_N" ? "reading" : output.says;
}

std::string amount(const SweepOutput& output, double value) {
  const std::string unit = output.units == "um" ? "µm" : output.units == "1" ? "" : output.units;
  return plain(value) + (unit.empty() ? "" : " ") + unit;
}

bool more_is_better(const SweepOutput& output) { return !output.value || output.name == "passes_to_limit"; }

std::string said_of(const SweepAxis& axis, std::size_t i) {
  if (axis.is_text()) return value_text(axis, i);
  const auto blank = axis.head.rfind(' ');
  if (axis.units == "1" || blank == std::string::npos) return axis.head + " " + value_text(axis, i);
  const std::string unit = axis.head.substr(blank + 1);
  return axis.head.substr(0, blank) + " " + value_text(axis, i) + (unit == "°" ? "" : " ") + unit;
}

}  // namespace arris::sweep_parts
