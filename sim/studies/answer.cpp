// SPDX-License-Identifier: MIT
#include "sim/studies/answer.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

namespace arris {
namespace {

template <class Named>
const Named& named(const std::vector<Named>& list, const std::string& name) {
  const auto found = std::find_if(list.begin(), list.end(), [&](const Named& n) { return n.name == name; });
  if (found == list.end()) throw std::out_of_range("nothing is called " + name);
  return *found;
}

}  // namespace

void AnswerTable::number(std::string column, std::string unit, std::string head, std::string meaning,
                         std::vector<double> values, int significant) {
  AnswerColumn c;
  c.name        = std::move(column);
  c.units       = std::move(unit);
  c.head        = std::move(head);
  c.says        = std::move(meaning);
  c.numbers     = std::move(values);
  c.significant = significant;
  columns.push_back(std::move(c));
}

void AnswerTable::text(std::string column, std::string head, std::string meaning,
                       std::vector<std::string> values) {
  AnswerColumn c;
  c.name  = std::move(column);
  c.head  = std::move(head);
  c.says  = std::move(meaning);
  c.texts = std::move(values);
  columns.push_back(std::move(c));
}

const char* name_of(About about) {
  switch (about) {
    case About::certainty:
      return "certainty";
    case About::next:
      return "next";
    case About::more:
      break;
  }
  return "more";
}

void Answer::remark(About of, std::string text) {
  about.resize(remarks.size(), About::more);
  remarks.push_back(std::move(text));
  about.push_back(of);
}

const AnswerTable& Answer::table(const std::string& name) const { return named(tables, name); }

const AnswerColumn& column(const AnswerTable& table, const std::string& name) {
  return named(table.columns, name);
}

const std::string& usual_caution() {
  static const std::string text =
      "Sharp edges cut, wood and MDF dust harms the lungs, plate and glass edges are ragged, and compounds and solvents have safety sheets: follow the makers' instructions, local codes and the advice of qualified people.";
  return text;
}

double rounded_passes(double passes) {
  if (!(passes > 0.0) || std::isinf(passes)) return passes;
  const double unit = std::pow(10.0, std::floor(std::log10(passes)) - 1.0);
  return std::round(passes / unit) * unit;
}

std::string passes_text(double passes, double horizon) {
  if (std::isinf(passes)) return fmt::format("more than {:.0f}", horizon);
  return fmt::format("{:.0f}", passes);
}

}  // namespace arris
